"""Readings of a job put to what is believed: each under the conditions in which it was taken."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest

from commission.checklist.plan import Step
from commission.report.sections import works_tables
from commission.session import Session
from commission.works import as_designed, taken, will_it_work
from tests import walks


@pytest.fixture
def walked(tmp_path: Path) -> Session:
    """A whole commissioning on the small garden, everything as expected."""
    session = walks.begin(tmp_path, "small-garden")
    walks.walk_to_the_end(session)
    return session


def compared(session: Session, name: str) -> Step:
    """The first step whose reading is compared with an expectation."""
    return walks.first(session, lambda step: step.item.compare == name)


def test_mains_read_again_later_says_nothing_of_earlier_readings(walked: Session) -> None:
    """At 121 V everything fits; the mains falls to 109 V afterwards, and is read again."""
    before = will_it_work(walked.job)["1"]
    assert before.verdict == "pass"
    assert before.readings > 10
    mains, output = compared(walked, "mains-voltage"), compared(walked, "output-voltage")
    status = walked.job.statuses[output.id]
    expected = walked.job.expectation_of(status)
    readings = {one.mains_v for one in taken(walked.job, "1")}
    walked.answer(mains, "109", confirmed=True)
    after = will_it_work(walked.job)["1"]
    assert after.unexplained == ()
    assert after.readings == before.readings
    assert after.probability == pytest.approx(before.probability, abs=1e-9)
    assert {one.mains_v for one in taken(walked.job, "1")} == readings
    # What the reading was compared with stays; a new one is compared at the mains of now.
    assert walked.job.expectation_of(walked.job.statuses[output.id]) == expected
    now = walked.job.expectation(output)
    assert expected is not None
    assert now is not None
    assert now.value < expected.value
    walked.close()


def test_mains_taken_back_counts_for_nothing(walked: Session) -> None:
    mains = compared(walked, "mains-voltage")
    entry = walked.job.state.latest[mains.id]
    assert walked.job.conditions.mains_v == {"1": entry.value}
    walked.withdraw(entry.number, "read at the wrong socket")
    assert walked.job.conditions.mains_v == {}
    walked.close()


def test_as_designed_stands_whatever_was_read(tmp_path: Path) -> None:
    """Before any reading both say the same; a loop that fails moves the one that decides."""
    session = walks.begin(tmp_path, "small-garden")
    designed = as_designed(session.job)
    assert designed == will_it_work(session.job)
    loop = compared(session, "loop-resistance")
    walks.walk_until(session, loop)
    expected = session.job.expectation(loop)
    assert expected is not None
    walks.answer(session, loop, walks.typed(expected.value * 2, loop))
    assert as_designed(session.job) == designed
    assert will_it_work(session.job)["1"].verdict != designed["1"].verdict == "pass"
    (row,) = works_tables(session.job)
    assert row["verdict"] == will_it_work(session.job)["1"].verdict
    assert (row["designed_verdict"], row["designed_words"]) == ("pass", designed["1"].words)
    session.close()


def test_a_loop_without_a_circuit_is_a_fail_that_counts(tmp_path: Path) -> None:
    """An open path cannot be promised to work, nor one that is shorted, before it is explained."""
    session = walks.begin(tmp_path, "small-garden")
    step = compared(session, "loop-resistance")
    walks.walk_until(session, step)
    before, unexplained = will_it_work(session.job)["1"], (f"loop-resistance at {step.target.box}",)
    walks.answer(session, step, "OL")
    opened = will_it_work(session.job)["1"]
    assert opened.unexplained == unexplained
    assert opened.verdict == "fail"
    assert opened.lowest_v < 0.5 * before.lowest_v
    walks.answer(session, step, "<1 ohm")
    shorted = will_it_work(session.job)["1"]
    assert shorted.unexplained == unexplained
    assert shorted.verdict == "marginal"  # what a reading shows too little earns nothing
    assert shorted.lowest_v == pytest.approx(before.lowest_v, abs=1e-9)
    session.close()


def test_all_that_a_failed_loop_has_too_much_lies_before_the_worst_set(tmp_path: Path) -> None:
    """A loop read 5 ohm above what was expected counts with all of them, not from its range on."""
    session = walks.begin(tmp_path, "small-garden")
    step = compared(session, "loop-resistance")
    walks.walk_until(session, step)
    expected = session.job.expectation(step)
    assert expected is not None
    walks.answer(session, step, f"{expected.value + 5:.2f} ohm")
    (failed,) = (one for one in taken(session.job, "1") if not one.as_drawn)
    assert failed.excess == pytest.approx(5, abs=0.006)
    session.close()


@pytest.mark.parametrize("leave", [Session.skip, Session.not_applicable])
def test_a_fail_is_not_undone_by_leaving_its_step(
    leave: Callable[[Session, Step, str], object], tmp_path: Path
) -> None:
    session = walks.begin(tmp_path, "small-garden")
    step = compared(session, "loop-resistance")
    walks.walk_until(session, step)
    walks.answer(session, step, "9 ohm")
    before = will_it_work(session.job)["1"]
    leave(session, step, "no time")
    found = will_it_work(session.job)["1"]
    where = f"loop-resistance at {step.target.box}"
    assert found.unexplained == (f"{where} (failed, then was left with nothing put right)",)
    assert (found.verdict, found.probability) == (before.verdict, before.probability)
    assert found.verdict != "pass"
    session.close()


def test_the_current_of_the_worst_set_teaches_and_counts(walked: Session) -> None:
    step, before = compared(walked, "together-current"), will_it_work(walked.job)["1"]
    walks.answer(walked, step, walks.typed(2 * before.lowest_v, step))
    found = will_it_work(walked.job)["1"]
    assert found.verdict == "marginal"
    assert found.readings == before.readings - 1
    assert found.unexplained == ("together-current at terminals",)
    walked.close()
