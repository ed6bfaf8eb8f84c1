"""The blank sheet for the helper in the field: what to do, what to expect, and room to write.

A page for the job with its controller and earth, one for each path, one for the worst sets. On a
page the steps stand in the order of the walk, stage by stage; stages have the same numbers on all.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from itertools import groupby, pairwise
from typing import Final

from commission.checklist.plan import Plan, Step, applies
from commission.checklist.schema import JOB_KIND_WORDS, NO, YES
from commission.expected.values import Expectation
from commission.job import Job
from commission.printing.page import Html, columns, element, page, text
from commission.site.schema import Site
from commission.units import in_unit, plain

COLUMNS: Final = {  # by class
    "step": "Step",
    "expected": "Expected",
    "unit": "Unit",
    "value": "Value read",
    "instrument": "Instrument",
    "who": "Who",
    "time": "Time",
    "note": "Note",
}
STYLE: Final = """\
.step { width: 43%; } .expected { width: 10%; } .unit { width: 5%; } .value { width: 13%; }
.instrument { width: 10%; } .who { width: 6%; } .time { width: 7%; } .note { width: 6%; }
th { font-size: 7.5pt; }
.title { font-weight: bold; }
.id { font-family: monospace; font-size: 7.5pt; }
.choice { display: inline-block; margin-right: 3mm; }
.stage td { border-top: 1.2pt solid #000; }
.hold td { border: 2pt solid #000; }
.caution { font-weight: bold; }
.room { height: 8mm; }
.box { display: inline-block; width: 2.4mm; height: 2.4mm; border: 0.6pt solid #000; }
"""
CAUTIONS: Final = (
    "Mains at the controller: isolate, lock off, prove dead; a licensed person works on the "
    "supply. No work with lightning about. Never put an insulation tester on a path with "
    "electronics connected. Lost contact means stop and isolate. Local codes and the authority "
    "having jurisdiction decide; the limits here are defaults."
)
HOW: Final = (
    "Work stage by stage: a stage is done on all pages before the next one begins. Write what the "
    "meter shows, with its unit; the time as 2031-05-04 10:31. What is not as expected is read "
    "again, and written down all the same."
)
BACK: Final = (
    "Back at the desk: a table with the columns step, reading, instrument, observer, time, note, "
    "in the order of the times, and commission enter JOB READINGS.csv. Ranges hold before the "
    "meter's own accuracy is added; what counts is judged when the list is entered."
)
_NEEDS: Final = {"off": "supply isolated, locked off, proved dead", "on": "supply on"}


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
    due = {
        status.step.id for status in job.statuses.values() if status.state == "open" or status.again
    }
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
        again={status.step.id: status.again for status in job.statuses.values() if status.again},
        answers=job.answers,
    )


def blank_sheet(blank: Blank) -> str:
    """The whole file, HTML."""
    first = _first_elsewhere(blank)
    pages = [
        _page(blank, first, name, [step for step in blank.steps if _page_of(step) == key])
        for key, name in _pages(blank.site)
    ]
    return page(f"Sheet: {blank.site.site.name}", [one for one in pages if one], STYLE)


def _pages(site: Site) -> Iterator[tuple[str, str]]:
    """Key and name of every page, in the order in which they lie on one another."""
    yield "controller", "Job, controller and earth"
    for path in site.path:
        label = f" ({path.label})" if path.label else ""
        yield f"path/{path.id}", f"Path {path.id}{label}"
    yield "together", "Worst set together"


def _page_of(step: Step) -> str:
    """The page on which a step stands."""
    if step.target.scope == "worst-set":
        return "together"
    return f"path/{step.target.path}" if step.target.path else "controller"


def _first_elsewhere(blank: Blank) -> dict[str, str]:
    """Steps that come after one on a later page, where the walk goes back: which that is."""
    order = {key: number for number, (key, _name) in enumerate(_pages(blank.site))}
    found = {}
    for before, step in pairwise(blank.steps):
        same = before.stage_number == step.stage_number
        if same and order[_page_of(before)] > order[_page_of(step)]:
            found[step.id] = f"First, on a later page: {before.target.label}: {before.title}"
    return found


def _page(blank: Blank, first: Mapping[str, str], name: str, steps: Sequence[Step]) -> Html:
    """One page, or nothing where there is nothing to do."""
    if not steps:
        return Html("")
    head = element(
        "thead",
        element("tr", element("th", text(f"{blank.site.site.name}: {name}"), across=len(COLUMNS))),
        element("tr", *(element("th", text(words)) for words in COLUMNS.values())),
    )
    bodies = [
        element(
            "tbody",
            _stage(group, number),
            *(_row(blank, step, first.get(step.id, "")) for step in group),
        )
        for number, group in _stages(steps)
    ]
    return element("section", *_top(blank, name), element("table", columns(COLUMNS), head, *bodies))


def _stages(steps: Sequence[Step]) -> Iterator[tuple[int, list[Step]]]:
    """The steps of each stage, with its number; a search stands apart within the stage it is in."""
    for (number, _stage), group in groupby(steps, key=lambda s: (s.stage_number, s.stage.id)):
        yield number + 1, list(group)


def _top(blank: Blank, name: str) -> Iterator[Html]:
    """What stands above the table."""
    kind = JOB_KIND_WORDS.get(blank.job_kind, blank.job_kind)
    whose = f"job {blank.called}, after entry {blank.entries}" if blank.called else kind
    invented = " PRACTICE: an invented site." if blank.site.site.invented else ""
    yield element("h1", text(f"{blank.site.site.name}: {name}"))
    yield element("p", text(f"{whose[0].upper()}{whose[1:]}.{invented}"))
    yield element("p", text(CAUTIONS), kind="caution")
    yield element("p", text(HOW))
    yield element("p", element("small", text(BACK)))


def _stage(steps: Sequence[Step], number: int) -> Html:
    """The row above a stage: its number, the supply, whether it holds the work, its cautions."""
    stage = steps[0].stage
    parts = [element("h2", text(f"Stage {number}: {stage.title}"))]
    needed = sorted({step.needs for step in steps if step.needs})
    if needed:
        parts.append(element("p", text("Needs: " + "; ".join(_NEEDS[one] for one in needed))))
    if stage.hold_point:
        words = "HOLD POINT: no later work begins before every step of this stage is whole."
        parts.append(element("p", text(words), kind="caution"))
    cautions = dict(caution for step in steps for caution in step.caution)
    parts += [
        element("p", text(f"Caution ({name}): {words}"), kind="caution")
        for name, words in cautions.items()
    ]
    kind = "stage hold" if stage.hold_point else "stage"
    return element("tr", element("td", *parts, across=len(COLUMNS)), kind=kind)


def _row(blank: Blank, step: Step, first: str) -> Html:
    """One step, with room to write; `first` says what is to be done before it elsewhere."""
    what = [
        element("div", text(f"{step.target.label}: {step.title}"), kind="title"),
        element("div", text(step.ask)),
        element("div", text(step.id), kind="id"),
    ]
    marks = [first, *_marks(blank, step)] if first else _marks(blank, step)
    what += [element("div", text(words), kind="caution") for words in marks]
    cells = [
        element("td", *what),
        element("td", text(expected_words(blank.expectation(step), step))),
        element("td", text(step.item.unit)),
        element("td", *_choices(step)),
    ]
    cells += [element("td")] * (len(COLUMNS) - len(cells))
    return element("tr", *cells, kind="room")


def _marks(blank: Blank, step: Step) -> Iterator[str]:
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
    if step.id in blank.again:
        yield f"AGAIN: {blank.again[step.id]}"
    if not applies(step, blank.answers):
        for other, wanted in step.conditions:
            if blank.answers.get(other) not in wanted:
                yield f"Only if {blank.plan.by_id[other].title}: {' or '.join(wanted)}"


def _choices(step: Step) -> Iterator[Html]:
    """The answers to tick, of a step that has some."""
    if step.item.answer in ("measure", "text"):
        return
    for choice in [one.say for one in step.item.choice] or [YES, NO]:
        box = element("span", kind="box")
        yield element("div", box, text(f" {choice}"), kind="choice")


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
