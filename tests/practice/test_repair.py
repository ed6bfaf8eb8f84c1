"""Putting things right at a practice: the ground changes where place and kind are right, only."""

from __future__ import annotations

from pathlib import Path

import pytest

from commission.checklist.plan import Step
from commission.host import Disk
from commission.locate.faults import Fault
from commission.locate.words import Words
from commission.opening import open_job
from commission.practice.ending import compared
from commission.practice.repair import PUT_RIGHT, REPAIRS, SEVERITY, left, places
from commission.practice.truth import LEVELS
from commission.session import Session
from commission.site.changes.kinds import AddBox, DeleteStation
from tests.practice.playing import begun, do, into_state, told, walk_through
from tests.walks import clock


def failed_steps(session: Session) -> list[Step]:
    """What the hidden faults made fail."""
    return [s.step for s in session.job.statuses.values() if s.verdict == "fail"]


def put_right(session: Session, step: Step, where: str, what: str) -> None:
    session.raise_defect(step, SEVERITY, where, what, PUT_RIGHT)


def right_words(session: Session) -> list[tuple[str, str]]:
    """Place and repair of every hidden fault."""
    ground = session.ground
    assert ground is not None
    words = Words(session.job.site)
    return [
        (words.place(fault.place), next(w for w, kinds in REPAIRS.items() if fault.kind in kinds))
        for fault in ground.truth.faults
    ]


def fault(session: Session) -> Fault:
    """The first hidden fault."""
    ground = session.ground
    assert ground is not None
    return ground.truth.faults[0]


@pytest.mark.parametrize("number", range(8))
def test_the_retest_passes_once_it_is_put_right(tmp_path: Path, number: int) -> None:
    session = begun(tmp_path, number)
    walk_through(session)
    steps = failed_steps(session)
    assert steps
    (where, what), *_ = right_words(session)
    assert where in places(session.job.site)
    put_right(session, steps[0], where, what)
    for step in steps:
        if step.id in session.job.statuses:
            into_state(session, step)
            do(session, step)
            assert session.job.statuses[step.id].verdict in ("pass", "recorded", "marginal")
    assert not session.job.defects_of(steps[0].id), "the retest that passes closes it"
    ground = session.ground
    assert ground is not None
    assert left(session.job, ground.truth) == ()
    assert "(put right)" in dict(compared(session.job, ground.truth))["What was hidden"]
    session.close()


def test_the_wrong_place_or_the_wrong_kind_changes_nothing(tmp_path: Path) -> None:
    session = begun(tmp_path, 3)
    walk_through(session)
    (step, *_) = failed_steps(session)
    (where, what), *_ = right_words(session)
    before = told(session, step)
    for other in (one for one in places(session.job.site) if one != where):
        put_right(session, step, other, what)
    for other in (one for one in REPAIRS if one != what):
        put_right(session, step, where, other)
    assert told(session, step) == before
    put_right(session, step, where, what)
    assert told(session, step) != before
    repair = session.job.defects_of(step.id)[-1]
    session.withdraw(repair.opened, "it was not done after all")
    assert told(session, step) == before
    session.close()


def test_after_one_of_two_faults_the_other_is_still_there(tmp_path: Path) -> None:
    session = begun(tmp_path, 11, "plain", 2)
    walk_through(session)
    ground = session.ground
    assert ground is not None
    (where, what), *_ = right_words(session)
    put_right(session, failed_steps(session)[0], where, what)
    assert left(session.job, ground.truth) == ground.truth.faults[1:]
    session.close()


def test_every_kind_that_may_be_hidden_can_be_put_right() -> None:
    hidden = {kind for level in LEVELS.values() for kind in level.kinds}
    assert hidden == frozenset().union(*REPAIRS.values())


def test_what_is_hidden_stays_where_the_site_was_drawn(tmp_path: Path) -> None:
    """On site the station of the fault goes from the drawing: nothing fails, nothing heals."""
    session = begun(tmp_path, 5)
    hidden, (where, what) = fault(session), right_words(session)[0]
    steps = [status.step for status in session.job.statuses.values()]
    assert hidden.station
    session.change_site(steps[0], DeleteStation(hidden.station), "its box is empty")
    session.change_site(steps[0], AddBox("A", "B1", "B9", "20 ft", "20 ft"), "found it")
    ground = session.ground
    assert ground is not None
    assert left(session.job, ground.truth) == ground.truth.faults
    for status in session.job.statuses.values():
        ground.tells(session.job, status.step)
    assert where in str(compared(session.job, ground.truth))
    put_right(session, steps[0], where, what)
    assert left(session.job, ground.truth) == ()
    session.close()
    again = open_job(session.job.folder, disk=Disk(), now=clock())
    assert again.ground is not None
    assert left(again.job, again.ground.truth) == ()
    again.close()
