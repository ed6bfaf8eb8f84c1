"""Readings after a repair, and fails that pass without one."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest

from commission.checklist.plan import Step
from commission.crew import Hands
from commission.host import Disk
from commission.opening import open_job
from commission.repairs import (
    put_right_since,
    repairs,
    superseded,
    to_test_again,
    unexplained_fail,
)
from commission.resources import samples
from commission.session import Session
from commission.site.changes.kinds import Length
from commission.works import taken, will_it_work
from tests import walks
from tests.tui.walking import SMALL, Walk, play


@pytest.fixture
def walked(tmp_path: Path) -> Iterator[Session]:
    """A whole commissioning on the site of two paths, everything as expected."""
    session = walks.begin(tmp_path, "two-paths")
    walks.walk_to_the_end(session)
    yield session
    session.close()


def ends(session: Session, path: str) -> list[Step]:
    """The voltages at the ends of a path, in the order of the walk; the supply is on for them."""
    return [
        status.step
        for status in session.job.statuses.values()
        if status.step.item.compare == "end-voltage" and status.step.target.path == path
    ]


def read(session: Session, step: Step, times: float) -> None:
    """Read a step at so many times its expectation."""
    expectation = session.job.expectation(step)
    assert expectation is not None
    walks.answer(session, step, walks.typed(expectation.value * times, step))


def boxes(session: Session, name: str) -> set[str]:
    """The boxes whose readings of that name count."""
    return {one.box for one in taken(session.job, "1") if one.name == name and one.as_drawn}


def test_a_fail_that_passes_with_nothing_put_right_stays_unexplained(walked: Session) -> None:
    end = ends(walked, "A")[0]
    assert will_it_work(walked.job)["1"].verdict == "pass"
    read(walked, end, 0.85)
    read(walked, end, 1.0)
    found = will_it_work(walked.job)["1"]
    assert found.verdict != "pass"
    where = f"end-voltage at {end.target.box}"
    assert found.unexplained == (f"{where} (failed, then passed with nothing put right)",)
    failed = unexplained_fail(walked.job, end)
    assert failed is not None
    walked.withdraw(failed.number, "a lead had slipped")
    assert will_it_work(walked.job)["1"].verdict == "pass"
    assert unexplained_fail(walked.job, end) is None


def test_a_repair_explains_a_fail_and_drops_what_it_may_have_changed(walked: Session) -> None:
    end, *others = ends(walked, "A")
    loops = boxes(walked, "loop-resistance")
    read(walked, end, 0.85)
    walked.raise_defect(end, "does not work", "box", "bad joint", "remake it")
    assert unexplained_fail(walked.job, end) is None  # it fails still
    read(walked, end, 1.0)
    assert [one.step.id for one in repairs(walked.job)] == [end.id]
    assert unexplained_fail(walked.job, end) is None
    assert will_it_work(walked.job)["1"].unexplained == ()
    # What is fed through the same first segment is to be read again; the other path is not.
    tree = walked.job.sheet.drawing.trees["A"]
    first = tree.route(end.target.box)[0]
    shared = [one for one in others if tree.route(one.target.box)[0] == first]
    assert shared
    gone = {one.target.box for one in (end, *shared)}
    assert boxes(walked, "loop-resistance") == loops - gone
    assert loops - gone
    counting = boxes(walked, "end-voltage")
    assert end.target.box in counting
    assert not counting & {one.target.box for one in shared}
    read(walked, shared[0], 1.0)
    assert shared[0].target.box in boxes(walked, "end-voltage")


def test_a_change_of_the_drawing_explains_a_fail(walked: Session) -> None:
    end, other = ends(walked, "A")[0], ends(walked, "B")[0]
    for one in (end, other):
        read(walked, one, 0.85)
        read(walked, one, 1.0)
    walked.change_drawing(end, "length to the first box", "120 m", "240 m", "paced")
    assert unexplained_fail(walked.job, end) is None
    assert unexplained_fail(walked.job, other) is not None


def test_a_change_of_the_site_explains_a_fail_of_what_it_touches(tmp_path: Path) -> None:
    """Another length of one cable: the loop to its end, not that to another end."""
    session = walks.begin(tmp_path, "two-paths")
    loops = [s for s in session.job.plan.steps if s.item.compare == "loop-resistance"]
    touched, other = loops[0], next(s for s in loops if s.target.path != loops[0].target.path)
    for one in (touched, other):
        walks.walk_until(session, one)
        read(session, one, 0.5)
        read(session, one, 1.0)
    assert unexplained_fail(session.job, touched) is not None
    session.change_site(other, Length(touched.target.path, touched.target.box, "400 m"), "paced")
    assert unexplained_fail(session.job, touched) is None
    assert unexplained_fail(session.job, other) is not None
    session.close()


def test_a_repair_at_a_station_leaves_the_cable_alone(walked: Session) -> None:
    statuses = list(walked.job.statuses.values())
    step = next(one.step for one in statuses if one.step.item.compare == "station-current")
    before = boxes(walked, "loop-resistance")
    read(walked, step, 2.0)
    walked.raise_defect(step, "does not work", "box", "solenoid shorted", "change it")
    read(walked, step, 1.0)
    assert boxes(walked, "loop-resistance") == before
    latest = walked.job.state.latest
    dropped = {
        one.step.target.station
        for one in statuses
        if one.step.id in latest and superseded(walked.job, one.step, latest[one.step.id])
    }
    assert dropped == {step.target.station}
    assert not superseded(walked.job, step, latest[step.id])


def test_a_repair_on_another_branch_explains_no_loop(tmp_path: Path) -> None:
    """Two branches from the terminals: what was put right on one was not in the other's loop."""
    sample = samples()["two-paths"].read_text("utf-8")
    site = tmp_path / "star.toml"
    site.write_text(sample.replace('from = "A3", to = "A8"', 'from = "output", to = "A8"'), "utf-8")
    session = open_job(site, kind="new", disk=Disk(), now=walks.clock())
    session.crew.take(Hands(walks.OBSERVER, walks.WRITER, walks.METER))
    route = session.job.sheet.drawing.trees["A"].route
    failed: dict[str, Step] = {}  # by the first box of their branch
    while len(failed) < 2 and (step := walks.first_open(session)) is not None:
        loop = step.item.compare == "loop-resistance" and step.target.path == "A"
        branch = route(step.target.box)[0].to_box if loop else ""
        if loop and branch not in failed:
            failed[branch] = step
            read(session, step, 1.6)
        else:
            walks.answer(session, step, walks.good_answer(session, step))
    first, second = failed.values()
    session.raise_defect(second, "does not work", "box", "bad joint", "remake it")
    read(session, second, 1.0)
    job = session.job
    assert [one.step.id for one in repairs(job)] == [second.id]
    assert put_right_since(job, first, job.state.latest[first.id]) == ""
    assert not superseded(job, first, job.state.latest[first.id])
    counted = {one.box: one.as_drawn for one in taken(job, "1") if one.name == "loop-resistance"}
    assert counted[first.target.box] is False
    assert counted[second.target.box] is True
    session.close()


def test_what_failed_before_a_repair_is_gone_to_before_signing(walked: Session) -> None:
    end, other, *_ = ends(walked, "A")
    for step in (end, other):
        read(walked, step, 0.85)
    assert not list(to_test_again(walked.job))
    walked.raise_defect(end, "does not work", "box", "bad joint", "remake it")
    read(walked, end, 1.0)
    assert [(s.step.id, defect) for s, defect in to_test_again(walked.job)] == [(other.id, "D1")]

    async def scene(walk: Walk) -> None:
        await walk.press("ctrl+n")
        await walk.shows("Did not pass before D1 was put right: test again")
        assert walk.walk.status.step.id == other.id
        read(walked, other, 1.0)
        assert not list(to_test_again(walked.job))

    play(walked, scene, SMALL)


def test_an_accepted_exception_is_not_asked_for_again(walked: Session) -> None:
    end, other, *_ = ends(walked, "A")
    for step in (end, other):
        read(walked, step, 0.85)
    walked.accept_exception(other, "the owner has it mended")
    walked.raise_defect(end, "does not work", "box", "bad joint", "remake it")
    read(walked, end, 1.0)
    assert not list(to_test_again(walked.job))


def test_a_repair_at_a_station_of_the_worst_set_explains_what_it_read_together(
    walked: Session,
) -> None:
    """A coil that draws too much is changed: the current of the set is read again, and passes."""
    together = walks.first(walked, lambda step: step.item.compare == "together-current")
    alone = walks.first(
        walked,
        lambda step: (
            step.item.compare == "station-current"
            and step.target.station == together.target.stations[0]
        ),
    )
    for step in (alone, together):
        read(walked, step, 1.8)
    name = "together-current at terminals"
    assert name in will_it_work(walked.job)["1"].unexplained  # it counts until it is explained
    failed = walked.job.state.latest[together.id]
    walked.raise_defect(alone, "does not work", "box", "coil shorted", "change it")
    read(walked, alone, 1.0)
    assert superseded(walked.job, together, failed)
    read(walked, together, 1.0)
    assert unexplained_fail(walked.job, together) is None
    found = will_it_work(walked.job)["1"]
    assert found.unexplained == ()
    assert found.verdict == "pass"
