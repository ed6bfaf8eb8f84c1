"""How far a job is, what stands against it, and the verdict of the whole."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from commission.verdict.judge import FAIL, MARGINAL

if TYPE_CHECKING:
    from commission.job import Job

ACCEPTED = "accepted"
WITH_EXCEPTIONS = "handed over with exceptions"


@dataclass(frozen=True, slots=True)
class StageProgress:
    """Counts of one stage's steps."""

    stage: str
    title: str
    steps: int
    done: int
    failed: int
    marginal: int


@dataclass(frozen=True, slots=True)
class HandoverException:
    """One thing that stands against "accepted", in words that name it."""

    kind: str  # "not tested", "fail", "marginal", "open defect", "instrument past calibration"
    step: str
    words: str


def stages(job: Job) -> tuple[StageProgress, ...]:
    """Progress of every stage, in walking order."""
    counts: dict[str, list[int]] = {}
    titles: dict[str, str] = {}
    for status in job.statuses.values():
        stage = status.step.stage
        titles[stage.id] = stage.title
        count = counts.setdefault(stage.id, [0, 0, 0, 0])
        count[0] += 1
        count[1] += status.state != "open"
        count[2] += status.verdict == FAIL
        count[3] += status.verdict == MARGINAL
    return tuple(StageProgress(stage, titles[stage], *count) for stage, count in counts.items())


def exceptions(job: Job) -> tuple[HandoverException, ...]:
    """Everything that stands against "accepted", each named, in walking order."""
    found = []
    for status in job.statuses.values():
        step = status.step
        place = f"{step.target.label}: {step.title}"
        if status.verdict in (FAIL, MARGINAL):
            words = f"{place}: {status.verdict}: {status.finding}"
            decision = job.state.decisions.get(step.id)
            if decision is not None:
                words += f"; accepted as an exception: {decision.text}"
            found.append(HandoverException(status.verdict, step.id, words))
        elif status.state in ("open", "skipped") and step.item.required:
            reason = f" skipped: {status.finding}" if status.state == "skipped" else " not done"
            found.append(HandoverException("not tested", step.id, f"{place}:{reason}"))
    found += [
        HandoverException(
            "open defect", defect.step, f"{defect.id} ({defect.severity}) {defect.where}: "
            f"{defect.text}",
        )
        for defect in job.open_defects
    ]  # fmt: skip
    return (*found, *_expired(job))


def _expired(job: Job) -> tuple[HandoverException, ...]:
    """Instruments used past their calibration date, each once."""
    warned: dict[str, HandoverException] = {}
    for entry in job.state.latest.values():
        if entry.warning and entry.instrument not in warned:
            warned[entry.instrument] = HandoverException(
                "instrument past calibration", entry.step, f"{entry.instrument}: {entry.warning}"
            )
    return tuple(warned.values())


def verdict_of_whole(found: Sequence[HandoverException]) -> str:
    """ "accepted" when nothing stands against it, else "handed over with exceptions"."""
    return WITH_EXCEPTIONS if found else ACCEPTED
