"""How far a job is, what stands against it, and the verdict of the whole."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from commission.verdict.judge import FAIL, MARGINAL, PASS

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

    kind: str  # "not tested", "fail", "second look", "open defect" and so on
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
            words = f"{place}: {status.finding}"
            decision = job.state.decisions.get(step.id)
            if decision is not None:
                words += f"; accepted as an exception: {decision.text}"
            found.append(HandoverException(status.verdict, step.id, words))
        elif status.state == "not applicable" and (before := _verdict_before(job, step.id)):
            words = f"{place}: {before}, then marked not applicable: {status.finding}"
            found.append(HandoverException(before, step.id, words))
        elif status.second_look:
            words = f"{place}: {status.second_look}, and nobody looked again"
            found.append(HandoverException("second look", step.id, words))
        elif status.state in ("open", "skipped") and step.item.required:
            reason = f" skipped: {status.finding}" if status.state == "skipped" else " not done"
            found.append(HandoverException("not tested", step.id, f"{place}:{reason}"))
    from commission.works import will_it_work  # takes a moment: not before it is asked for

    for output, works in will_it_work(job).items():
        if works.verdict != PASS:
            found.append(HandoverException("will it work", "", f"Output {output}: {works.words}"))
    found += [
        HandoverException("will the output carry it", "", f"Output {output.id}: {carried.words}")
        for output in job.site.output
        for carried in job.sheet.carried(output.id)
        if carried.verdict != PASS
    ]
    if not any(entry.type == "answer" and entry.quantity for entry in job.state.latest.values()):
        found.append(HandoverException("not tested", "", "Job: nothing was measured"))
    found += [
        HandoverException(
            "open defect", defect.step, f"{defect.id} ({defect.severity}) {defect.where}: "
            f"{defect.text}",
        )
        for defect in job.open_defects
    ]  # fmt: skip
    return (*found, *_expired(job))


def set_aside(job: Job) -> tuple[str, ...]:
    """Every required step that was marked not applicable, with its reason, for whoever signs."""
    return tuple(
        f"{status.step.target.label}: {status.step.title}: {status.finding}"
        for status in job.statuses.values()
        if status.state == "not applicable" and status.step.item.required
    )


def _verdict_before(job: Job, step: str) -> str:
    """The fail or marginal result that a step had before it was marked not applicable."""
    answers = [e for e in job.state.history.get(step, ()) if e.type == "answer"]
    live = [entry for entry in answers if job.state.is_live(entry)]
    return live[-1].verdict if live and live[-1].verdict in (FAIL, MARGINAL) else ""


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
