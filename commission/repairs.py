"""What was put right in a job, which readings that leaves without a word, and which unexplained.

A repair is a defect that was closed. What did not pass on its path before says nothing of what is
left; what passed counts no more either where its current ran through what was repaired.
"""

from __future__ import annotations

from collections.abc import Iterator
from functools import lru_cache
from typing import NamedTuple

from commission.checklist.plan import Step
from commission.checklist.targets import Target
from commission.job import Job, Status
from commission.record.entry import Entry
from commission.verdict.judge import FAIL, MARGINAL, PASS


class Repair(NamedTuple):
    """A closed defect, the step it was raised at, and the first entry that was made after it."""

    defect: str
    step: Step
    number: int


@lru_cache(maxsize=4)
def repairs(job: Job) -> tuple[Repair, ...]:
    """Everything that was put right in a job, in the order in which it was."""
    found = []
    for defect in job.state.defects.values():
        step = job.plan.by_id.get(defect.step)
        if step is not None and defect.closed is not None:
            closing = job.state.entries[defect.closed - 1]
            found.append(Repair(defect.id, step, closing.written_with or closing.number))
    return tuple(sorted(found, key=lambda repair: repair.number))


def put_right_since(job: Job, step: Step, entry: Entry) -> str:
    """The last defect put right after a reading that may have made it fail, "" for none."""
    later = [
        one.defect
        for one in repairs(job)
        if entry.number < one.number and _may_explain(job, one.step, step)
    ]
    return later[-1] if later else ""


def to_test_again(job: Job) -> Iterator[tuple[Status, str]]:
    """What did not pass before a repair on its path and was not read since, with that defect.

    What was accepted as an exception, or has an open defect of its own, is decided already.
    """
    for status in job.statuses.values():
        step = status.step
        if status.entry is None or status.verdict not in (FAIL, MARGINAL):
            continue
        if step.id in job.state.decisions or job.defects_of(step.id):
            continue
        if defect := put_right_since(job, step, status.entry):
            yield status, defect


def superseded(job: Job, step: Step, entry: Entry) -> bool:
    """Whether a repair made since may have changed what a reading told."""
    if entry.verdict in (FAIL, MARGINAL) and put_right_since(job, step, entry):
        return True
    return any(entry.number < one.number and _changes(job, one.step, step) for one in repairs(job))


def unexplained_fail(job: Job, step: Step) -> Entry | None:
    """The failed reading of a step that passed, or was left, though nothing was put right since.

    None where the latest answer is no pass, or where a repair, or a change of the drawing on that
    path, explains it. A reading that was wrong is taken back instead.
    """
    latest = job.state.latest.get(step.id)
    if latest is None or (latest.type == "answer" and latest.verdict != PASS):
        return None
    failed = [
        entry
        for entry in job.state.history.get(step.id, ())
        if entry.type == "answer" and entry.verdict == FAIL and job.state.is_live(entry)
    ]
    if not failed or any(
        failed[-1].number < one.number
        and (_may_explain(job, one.step, step) or _changes(job, one.step, step))
        for one in repairs(job)
    ):
        return None
    return None if _drawing_changed_since(job, step, failed[-1]) else failed[-1]


def _drawing_changed_since(job: Job, step: Step, entry: Entry) -> bool:
    """Whether a change of the drawing touched a step later, or one in words is on its path."""
    if job.touched.get(step.id, 0) > entry.number:
        return True
    for change in job.state.entries[entry.number :]:
        if change.type == "change" and not change.redraws and job.state.is_live(change):
            at = job.plan.by_id.get(change.step)
            if at is not None and at.target.path in ("", step.target.path):
                return True
    return False


def _may_explain(job: Job, repaired: Step, step: Step) -> bool:
    """Whether what was wrong where a defect was put right may have made a reading fail.

    Anything on the same path may; but a loop only by what its own current runs through.
    """
    at, of = repaired.target, step.target
    if at.path not in _paths(job, of):
        return False
    if "loop" not in (step.item.compare or "") or not (at.box and of.box):
        return True
    return _same_branch(job, at, of)


def _changes(job: Job, repaired: Step, step: Step) -> bool:
    """Whether a repair at one step may change what another one reads."""
    at, of = repaired.target, step.target
    if repaired.id == step.id:
        return True
    if at.station:
        return at.station in (of.station, *of.stations)
    if at.path:
        if at.path not in _paths(job, of):
            return False
        if not (at.box and of.box):
            return True
        return _same_branch(job, at, of)
    loops = step.item.compare or ""
    return bool(repaired.item.compare) and at.output == of.output and "loop" not in loops


def _paths(job: Job, of: Target) -> set[str]:
    """The paths that a reading is of: its own, and those of the stations that run together."""
    return {of.path} | {job.sheet.drawing.stations[one].path for one in of.stations}


def _same_branch(job: Job, at: Target, of: Target) -> bool:
    """Whether two boxes of a path are fed through the same first segment."""
    tree = job.sheet.drawing.trees[at.path]
    return tree.route(at.box)[0] == tree.route(of.box)[0]
