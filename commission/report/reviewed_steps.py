"""What of a reviewed report a reader wants side by side.

Of each step expected, read and verdict; of each output whether it works as found and as designed.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace

from commission.job import Job, Status
from commission.report.against import MAX_SHOWN
from commission.report.second import SecondReading, second_readings
from commission.report.shown import expectation_words, said_words
from commission.text import visible
from commission.works import as_designed, will_it_work


@dataclass(frozen=True, slots=True)
class ReviewedStep:
    """One step, computed from the report's own inputs. Texts are safe to show.

    `inspector` is what the last inspection read there, `agrees` whether that agrees; None where it
    was not inspected, or where it cannot be said.
    """

    stage: str
    place: str
    title: str
    required: bool
    expected: str  # an interval or a limit; "" where nothing is computed
    read: str  # or answered; "" for nothing
    verdict: str
    finding: str = ""
    inspector: str = ""
    inspector_verdict: str = ""
    e_n: float | None = None
    agrees: bool | None = None


@dataclass(frozen=True, slots=True)
class ReviewedOutput:
    """Whether the worst set of an output works: as found, which decides, and as designed."""

    output: str
    verdict: str
    found: str
    designed_verdict: str
    designed: str


def reviewed_outputs(job: Job | None) -> tuple[ReviewedOutput, ...]:
    """Every output with stations; none without a job."""
    if job is None:
        return ()
    before = as_designed(job)
    return tuple(
        ReviewedOutput(
            _safe(output), one.verdict, _safe(one.words), before[output].verdict,
            _safe(before[output].words),
        )
        for output, one in will_it_work(job).items()
    )  # fmt: skip


def reviewed_steps(job: Job | None, inspections: Sequence[Job]) -> tuple[ReviewedStep, ...]:
    """Every step of a report, then those that only the last inspection has; none without a job."""
    if job is None:
        return ()
    seconds = {one.inspector.step.id: one for job in inspections for one in _seconds(job)}
    found = [_beside(_step(job, one), seconds.get(id_)) for id_, one in job.statuses.items()]
    for inspection in inspections[-1:]:
        found += _own(inspection, job.statuses)
    return tuple(found)


def _seconds(inspection: Job) -> Iterator[SecondReading]:
    if inspection.earlier is not None:
        yield from second_readings(inspection.earlier, inspection)


def _own(inspection: Job, known: Mapping[str, Status]) -> Iterator[ReviewedStep]:
    """What an inspector did that the installer's checklist does not have."""
    for id_, status in inspection.statuses.items():
        if id_ not in known and status.state == "answered":
            step = _step(inspection, status)
            yield replace(step, stage=f"Inspection: {step.stage}")


def _step(job: Job, status: Status) -> ReviewedStep:
    step, expectation = status.step, job.expectation_of(status)
    words = expectation_words(expectation, step.item.unit) if expectation is not None else {}
    expected = words.get("limit", "") or words.get("expected", "")
    if "range" in words:
        expected += f" ({words['range']})"
    return ReviewedStep(
        stage=_safe(step.stage.title),
        place=_safe(step.target.label),
        title=_safe(step.title),
        required=step.item.required,
        expected=_safe(expected),
        read=_safe(said_words(status)) if status.state == "answered" else "",
        verdict=_safe(status.verdict),
        finding=_safe(status.finding),
    )


def _beside(step: ReviewedStep, second: SecondReading | None) -> ReviewedStep:
    """A step with what an inspector read at it."""
    if second is None:
        return step
    return replace(
        step,
        inspector=_safe(said_words(second.inspector)),
        inspector_verdict=_safe(second.inspector.verdict),
        e_n=second.e_n,
        agrees=second.agrees,
    )


def _safe(text: str) -> str:
    return visible(text, MAX_SHOWN)
