"""A session without a screen: what it refuses, what it keeps, and what a decision changes."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from datetime import UTC, datetime, time, timedelta
from itertools import cycle
from pathlib import Path
from typing import Any

import pytest

from commission.answering import AskBack
from commission.crew import Hands
from commission.judging import EXPIRED
from commission.problems import InputRefused, StepRefused
from commission.report.document import draft_text
from commission.report.rejudged import entry_findings
from commission.session import Session
from commission.verdict.judge import Judgement
from commission.verdict.progress import exceptions, set_aside, verdict_of_whole
from tests.walks import (
    KEY,
    METER,
    OLD_METER,
    begin,
    first,
    good_answer,
    signoff,
    status,
    walk_until,
)

NOTHING = Judgement("recorded", "")


@pytest.fixture
def session(tmp_path: Path) -> Iterator[Session]:
    """A new job on the small sample."""
    opened = begin(tmp_path, "small-garden")
    yield opened
    opened.close()


def test_a_decided_reading_lets_the_supply_be_switched_on(session: Session) -> None:
    switch = first(session, lambda step: step.item.supply == "on")
    unbridged = first(session, lambda step: step.item.id == "unbridged-again")
    walk_until(session, switch)
    session.answer(unbridged, "400 ohm", confirmed=True)
    assert status(session, unbridged).verdict == "fail"
    reasons = session.job.reasons_against(switch)
    assert any(unbridged.title in reason for reason in reasons)
    with pytest.raises(StepRefused):
        session.answer(switch, "yes")
    session.accept_exception(unbridged, "measured twice, the owner agrees")
    remaining = session.job.reasons_against(switch)
    assert not any(unbridged.title in reason for reason in remaining)


def test_a_denied_confirmation_is_never_decided_away(session: Session) -> None:
    switch = first(session, lambda step: step.item.supply == "on")
    walk_until(session, switch)
    clear = next(
        step
        for step in session.job.plan.clearing
        if step.item.answer == "confirm" and step.id in session.job.answers
    )
    session.answer(clear, "no")
    session.accept_exception(clear, "in a hurry")
    assert any(clear.title in reason for reason in session.job.reasons_against(switch))


def test_a_reading_far_off_is_asked_back_and_kept_when_meant(session: Session) -> None:
    loop = first(session, lambda step: step.item.compare == "loop-resistance")
    walk_until(session, loop)
    with pytest.raises(AskBack, match="ten times"):
        session.answer(loop, "900 ohm")
    assert status(session, loop).state == "open"
    session.answer(loop, "900 ohm", confirmed=True)
    # On the range of that meter which holds 900 ohm, two counts are ±2 kohm: it cannot tell.
    assert status(session, loop).verdict == "marginal"
    session.answer(loop, "300 ohm", confirmed=True)
    assert status(session, loop).verdict == "fail"


@pytest.mark.parametrize("reason", ["", "   ", "\x1b[31m", "a\u202eb"])
def test_a_reason_has_words_and_no_control_characters(session: Session, reason: str) -> None:
    step = session.job.plan.steps[0]
    with pytest.raises(InputRefused):
        session.skip(step, reason)
    assert session.job.state.entries == ()


def test_an_earlier_answer_counts_again_when_the_later_is_withdrawn(session: Session) -> None:
    step = session.job.plan.steps[0]
    session.answer(step, good_answer(session, step))
    session.answer(step, "another text")
    session.withdraw(2, "mistyped")
    assert session.job.answers[step.id] == good_answer(session, step)
    with pytest.raises(InputRefused, match="cannot be withdrawn"):
        session.withdraw(2, "again")
    assert len(session.job.state.history[step.id]) == 3


def test_nobody_enters_anything_without_a_name(tmp_path: Path) -> None:
    opened = begin(tmp_path, "small-garden")
    opened.crew.take(Hands())
    with pytest.raises(InputRefused, match="who enters the readings"):
        opened.answer(opened.job.plan.steps[0], "text")
    assert opened.job.state.entries == ()
    opened.close()


def test_not_applicable_does_not_wipe_out_a_fail(session: Session) -> None:
    loop = first(session, lambda step: step.item.compare == "loop-resistance")
    walk_until(session, loop)
    session.answer(loop, "19 ohm", confirmed=True)
    session.not_applicable(loop, "nobody will look")
    (found,) = [one for one in exceptions(session.job) if one.step == loop.id]
    assert found.kind == "fail"
    assert "then marked not applicable: nobody will look" in found.words
    assert any("nobody will look" in words for words in set_aside(session.job))


def test_a_job_in_which_nothing_was_measured_is_never_accepted(session: Session) -> None:
    for status_ in list(session.job.statuses.values()):
        session.not_applicable(status_.step, "not today")
    assert [one.words for one in exceptions(session.job)] == ["Job: nothing was measured"]
    assert verdict_of_whole(exceptions(session.job)) == "handed over with exceptions"


def test_a_marginal_result_is_decided_before_anybody_signs(session: Session) -> None:
    earth = first(session, lambda step: step.item.compare == "earth-resistance")
    walk_until(session, earth)
    session.answer(earth, "10 ohm")
    assert status(session, earth).verdict == "marginal"
    with pytest.raises(StepRefused, match="not decided yet"):
        session.sign(signoff(), KEY)
    session.accept_exception(earth, "a rod will be added")
    session.sign(signoff(), KEY)
    assert session.job.signed


@pytest.mark.parametrize("what", ["name", "company", "licence", "role", "statement"])
def test_a_signature_says_who_signs(session: Session, what: str) -> None:
    blank: dict[str, Any] = {what: " "}
    with pytest.raises(InputRefused, match=what):
        session.sign(replace(signoff(), **blank), KEY)
    assert not session.job.signed


def test_a_defect_of_a_reading_with_nothing_to_compare_closes_by_a_second_look(
    session: Session,
) -> None:
    pressure = first(session, lambda step: step.item.quantity == "pressure")
    walk_until(session, pressure)
    session.raise_defect(pressure, "does not work", "", "the gauge leaks", "change it")
    session.answer(pressure, good_answer(session, pressure))
    assert [one.id for one in session.job.open_defects] == ["D1"]
    session.close_defect("D1", "a new gauge is dry")
    assert session.job.open_defects == ()


def test_taking_back_the_retest_opens_the_defect_again(session: Session) -> None:
    loop = first(session, lambda step: step.item.compare == "loop-resistance")
    walk_until(session, loop)
    session.answer(loop, "19 ohm", confirmed=True)
    session.raise_defect(loop, "does not work", "", "a bad joint", "remake it")
    session.answer(loop, good_answer(session, loop))
    assert not session.job.open_defects
    retest = session.job.state.latest[loop.id].number
    session.withdraw(retest, "read at the wrong box")
    assert status(session, loop).verdict == "fail"
    assert [one.id for one in session.job.open_defects] == ["D1"]


def test_an_expired_or_unfit_instrument_is_said_beside_the_verdict(session: Session) -> None:
    earth = first(session, lambda step: step.item.compare == "earth-resistance")
    walk_until(session, earth)
    session.crew.take(replace(session.crew.hands, instrument=OLD_METER))
    assert "past its calibration date" in (session.preview(earth, "5").judgement or NOTHING).finding
    coarse = replace(OLD_METER, calibration_due=None, accuracy=())
    session.crew.take(replace(session.crew.hands, instrument=coarse))
    preview = session.preview(earth, "10")
    assert preview.judgement is not None
    assert preview.judgement.verdict == "marginal"  # its last digit is ±1 ohm
    assert "no accuracy of old-meter is known" in preview.judgement.finding


@pytest.mark.parametrize("days", [(-2, 2), (2, -2)])
def test_one_moment_holds_for_all_that_an_answer_says(
    session: Session, monkeypatch: pytest.MonkeyPatch, days: tuple[int, int]
) -> None:
    """Of a clock that jumps over the end of a calibration at every look, one look counts."""
    earth = first(session, lambda step: step.item.compare == "earth-resistance")
    walk_until(session, earth)
    assert METER.calibration_due is not None
    due = datetime.combine(METER.calibration_due, time(12), tzinfo=UTC)
    moments = cycle(due + timedelta(days=one) for one in days)
    monkeypatch.setattr(session, "_now", lambda: next(moments))
    entry = session.answer(earth, "5", confirmed=True).state.latest[earth.id]
    assert entry.observed_at is not None
    expired = entry.observed_at > due
    assert (EXPIRED in entry.finding, EXPIRED in entry.warning) == (expired, expired)
    assert list(entry_findings(session.job, "report")) == []


def test_a_difference_from_the_drawing_is_an_entry_and_stands_in_the_report(
    session: Session,
) -> None:
    step = session.job.plan.steps[0]
    session.change_drawing(step, "B3", "120 ft from B2", "150 ft from B2", "wheel")
    entry = session.job.state.entries[-1]
    assert (entry.type, entry.subject, entry.after) == ("change", "B3", "150 ft from B2")
    assert "150 ft from B2" in draft_text(session.job)


def test_dead_stations_in_a_row_point_to_the_open_path(session: Session) -> None:
    # Common practice, no source: several dead to the end, the path is open before the first.
    drawing = session.job.sheet.drawing
    tree = drawing.trees["A"]
    end = max(tree.ends(), key=tree.distance_m)
    route = [segment.to_box for segment in tree.route(end)]
    on_route = sorted(
        (s for s in drawing.stations_on("A") if s.box in route), key=lambda s: route.index(s.box)
    )
    walk_until(session, first(session, lambda step: step.item.sign == "indicator"))
    for station in on_route:
        dead = station in on_route[-2:]
        for sign in ("indicator", "valve"):
            step = next(
                step
                for step in session.job.plan.steps
                if step.target.station == station.id and step.item.sign == sign
            )
            say = [c.say for c in step.item.choice if (c.verdict == "fail") == dead]
            session.answer(step, say[-1] if dead else say[0], photo="1")
    last = on_route[-1]
    cause = session.job.likely_cause(last.id)
    assert f"the path is open before station {on_route[-2].number}" in cause


def test_an_exception_says_its_kind_once(session: Session) -> None:
    earth = first(session, lambda step: step.item.id == "earth-resistance")
    walk_until(session, earth)
    session.answer(earth, "9.98 ohm", confirmed=True)
    told = next(one for one in exceptions(session.job) if one.step == earth.id)
    assert told.kind == "marginal"
    assert "marginal" not in told.words
    assert session.job.statuses[earth.id].finding in told.words


def test_warm_air_widens_what_the_meter_may_be_off(session: Session) -> None:
    """At 38 °C, ten kelvin above 28, a specification counts twofold (common practice)."""
    air = first(session, lambda step: step.item.compare == "air-temperature")
    loop = first(session, lambda step: step.item.compare == "loop-resistance")
    walk_until(session, loop)
    text = good_answer(session, loop)

    def half_range(typed: str) -> float:
        judged = session.preview(loop, typed).judgement
        assert judged is not None
        assert judged.low is not None
        assert judged.high is not None
        return (judged.high - judged.low) / 2

    cool = half_range(text)
    session.answer(air, "38 °C")
    warm = half_range(text)
    expectation = session.job.expectation(loop)
    assert expectation is not None
    meter_u2 = (cool / 2) ** 2 - expectation.u**2
    assert (warm / 2) ** 2 - expectation.u**2 == pytest.approx(4 * meter_u2, rel=1e-6)
    session.answer(loop, text)
    entry = session.job.state.latest[loop.id]
    assert entry.instrument_percent == pytest.approx(2 * METER.accuracy[0].percent)
    assert entry.instrument_counts == pytest.approx(2 * METER.accuracy[0].counts)
