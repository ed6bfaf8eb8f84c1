"""What a blank sheet is made from, and what is said of a step on it."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field

from commission.checklist.plan import Plan, Step, applies
from commission.expected.values import Expectation
from commission.job import Job
from commission.site.schema import Site
from commission.units import in_unit, plain


@dataclass(frozen=True, slots=True)
class Blank:
    """What a sheet is made from: the steps to print, and what each is compared with.

    `again` says of a step why it is done once more.
    """

    site: Site
    job_kind: str
    plan: Plan
    steps: Sequence[Step]
    expectation: Callable[[Step], Expectation | None]
    called: str = ""  # the job's id, "" for a site
    entries: int = 0
    again: Mapping[str, str] = field(default_factory=dict)
    answers: Mapping[str, str] = field(default_factory=dict)


def open_in(job: Job) -> Blank:
    """What is still open in a job or to be done again, and what these answers may lead to."""
    again = {
        status.step.id: status.again or f"second look: {status.second_look}"
        for status in job.statuses.values()
        if status.again or status.second_look
    }
    due = {status.step.id for status in job.statuses.values() if status.state == "open"} | {*again}
    steps = []
    for step in job.plan.steps:
        unmet = [other for other, wanted in step.conditions if job.answers.get(other) not in wanted]
        if step.id not in job.statuses and unmet and due.issuperset(unmet):
            due.add(step.id)
        if step.id in due:
            steps.append(step)
    return Blank(
        site=job.site,
        job_kind=job.header.job_kind,
        plan=job.plan,
        steps=steps,
        expectation=job.expectation,
        called=job.header.job,
        entries=len(job.state.entries),
        again=again,
        answers=job.answers,
    )


def marks(step: Step) -> Iterator[str]:
    """What must not be overlooked in a step."""
    if step.caution:
        yield "Caution: " + ", ".join(name for name, _words in step.caution)
    if step.item.supply == "off":
        yield "ISOLATES THE SUPPLY"
    if step.item.supply == "on":
        yield "SWITCHES THE SUPPLY ON: only when all that clears it is whole, on every page"
    if step.item.clears:
        yield "Must be whole before the supply is switched on"
    if step.item.hidden_later:
        yield "Will be hidden: take a photo, write its number in the note"


def marks_here(blank: Blank, step: Step) -> Iterator[str]:
    """What must not be overlooked in a step as the job stands."""
    if step.id in blank.again:
        yield f"AGAIN: {blank.again[step.id]}"
    if not applies(step, blank.answers):
        yield from only_if(blank, step)


def only_if(blank: Blank, step: Step) -> Iterator[str]:
    """The answers that a step waits for, each once."""
    waiting = {
        f"Only if {blank.plan.by_id[other].title}: {' or '.join(wanted)}": None
        for other, wanted in step.conditions
        if blank.answers.get(other) not in wanted
    }
    yield from waiting


def expected_words(expectation: Expectation | None, step: Step) -> str:
    """The range or the limit of a step in its own unit, which stands beside it."""
    quantity, unit = step.item.quantity, step.item.unit
    if expectation is None or quantity is None:
        return ""
    value = plain(in_unit(expectation.value, unit, quantity))
    if expectation.sides != "interval" or expectation.low is None or expectation.high is None:
        return f"{'at least' if expectation.sides == 'minimum' else 'at most'} {value}"
    low, high = (plain(in_unit(b, unit, quantity)) for b in (expectation.low, expectation.high))
    return f"{low} to {high}, about {value}"
