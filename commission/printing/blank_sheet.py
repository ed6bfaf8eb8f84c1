"""The blank sheet for the helper in the field: what to do, what to expect, and room to write.

A page for the job with its controller and earth, one for each path, one for the worst sets. On a
page the steps stand in the order of the walk, stage by stage; stages have the same numbers on all.
What is the same at many boxes, ends or stations is one table with a row for each of them.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from itertools import groupby, pairwise
from typing import Final

from commission.checklist.plan import Step
from commission.checklist.schema import JOB_KIND_WORDS
from commission.printing import by_place
from commission.printing.blank import Blank, expected_words, marks, marks_here
from commission.printing.page import Html, columns, element, framed, page, text
from commission.search import STAGE as SEARCH
from commission.site.schema import Site

COLUMNS: Final = {  # by class
    "step": "Step",
    "expected": "Expected",
    "unit": "Unit",
    "value": "Value read",
    "instrument": "Instr.",
    "who": "Who",
    "time": "Time",
    "note": "Note",
}
STYLE: Final = """\
.step { width: 46%; } .expected { width: 10%; } .unit { width: 6%; } .value { width: 13%; }
.instrument { width: 8%; } .who { width: 5%; } .time { width: 6%; } .note { width: 6%; }
th { font-size: 7pt; }
.steps { font-size: 8pt; line-height: 1.15; margin-bottom: 3pt; }
.steps td { padding: 1pt 3pt; }
.title { font-weight: bold; }
.id { font-family: monospace; font-size: 7pt; overflow-wrap: anywhere; }
.choice { display: inline-block; margin-right: 3mm; }
.stage { border-top: 1.2pt solid #000; padding: 2pt 0; break-after: avoid; break-inside: avoid; }
.hold { border: 2pt solid #000; padding: 2pt; }
.caution { font-weight: bold; }
.stage p { font-size: 8pt; line-height: 1.2; }
.room { height: 7.5mm; }
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
    "again, and written down all the same. In tables with numbered columns each row is done whole "
    "before the next; a step's id is that of the row, a slash, and that of the column."
)
BACK: Final = (
    "Back at the desk: a table with the columns step, reading, instrument, observer, time, note, "
    "in the order of the times, and commission enter JOB READINGS.csv. Ranges hold before the "
    "meter's own accuracy is added; what counts is judged when the list is entered."
)
_NEEDS: Final = {"off": "supply isolated, locked off, proved dead", "on": "supply on"}


def blank_sheet(blank: Blank) -> str:
    """The whole file, HTML."""
    first = _first_elsewhere(blank)
    pages = [
        _page(blank, first, name, [step for step in blank.steps if _page_of(step) == key])
        for key, name in _pages(blank.site)
    ]
    style = STYLE + by_place.STYLE
    return page(f"Sheet: {blank.site.site.name}", [one for one in pages if one], style)


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
    """One page, or nothing where there is nothing to do; its head is on every sheet of paper."""
    if not steps:
        return Html("")
    inside = [*_top(blank, name)]
    # A search stands apart within the stage that it is in.
    for (number, _stage_id), stage in groupby(steps, key=lambda s: (s.stage_number, s.stage.id)):
        inside += _stage(blank, first, number + 1, list(stage))
    return element("section", framed(_head(blank, name), inside))


def _head(blank: Blank, name: str) -> Iterator[Html]:
    """Which sheet it is."""
    kind = JOB_KIND_WORDS.get(blank.job_kind, blank.job_kind)
    whose = f"job {blank.called}, after entry {blank.entries}" if blank.called else kind
    yield element("div", text(f"{blank.site.site.name}: {name}; {whose}"))
    if blank.site.site.invented:
        yield element("div", text("PRACTICE: an invented site"), kind="large")


def _top(blank: Blank, name: str) -> Iterator[Html]:
    """What stands above the stages."""
    yield element("h1", text(f"{blank.site.site.name}: {name}"))
    yield element("p", text(CAUTIONS), kind="caution")
    yield element("p", text(HOW))
    yield element("p", element("small", text(BACK)))


def _stage(
    blank: Blank, first: Mapping[str, str], number: int, steps: Sequence[Step]
) -> Iterator[Html]:
    """A stage: what stands above it, then its steps, those of many places as one table."""
    yield _above(steps, number)
    for scope, run in groupby(steps, key=lambda step: step.target.scope):
        found = list(run)
        if scope in by_place.SCOPES and steps[0].stage.id != SEARCH:
            yield from by_place.by_place(blank, found, first)
        else:
            heads = element("tr", *(element("th", text(words)) for words in COLUMNS.values()))
            rows = [_row(blank, step, first.get(step.id, "")) for step in found]
            body = element("tbody", *rows)
            yield element("table", columns(COLUMNS), element("thead", heads), body, kind="steps")


def _above(steps: Sequence[Step], number: int) -> Html:
    """What stands above a stage: the supply, whether it holds the work, its cautions."""
    stage = steps[0].stage
    parts = [element("h2", text(f"Stage {number}: {stage.title}"))]
    needed = sorted({step.needs for step in steps if step.needs})
    if needed:
        parts.append(element("p", text("Needs: " + "; ".join(_NEEDS[one] for one in needed))))
    if stage.hold_point:
        words = "HOLD POINT: no later work begins before every step of this stage is whole."
        parts.append(element("p", text(words), kind="caution"))
    cautions = dict(caution for step in steps for caution in step.caution)
    if cautions:
        told = " ".join(f"Caution ({name}): {words}" for name, words in cautions.items())
        parts.append(element("p", text(told), kind="caution"))
    return element("div", *parts, kind="stage hold" if stage.hold_point else "stage")


def _row(blank: Blank, step: Step, first: str) -> Html:
    """One step, with room to write; `first` says what is to be done before it elsewhere."""
    what = [
        element("div", text(f"{step.target.label}: {step.title}"), kind="title"),
        element("div", text(step.ask)),
        element("div", text(step.id), kind="id"),
    ]
    told = [one for one in (first, *marks(step), *marks_here(blank, step)) if one]
    if told:
        what.append(element("div", text(". ".join(told)), kind="caution"))
    boxes = [
        element("div", element("span", kind="box"), text(f" {one}"), kind="choice")
        for one in step.item.offered
    ]
    cells = [
        element("td", *what),
        element("td", text(expected_words(blank.expectation(step), step))),
        element("td", text(step.item.unit)),
        element("td", *boxes),
    ]
    cells += [element("td")] * (len(COLUMNS) - len(cells))
    return element("tr", *cells, kind="room")
