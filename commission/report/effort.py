"""How much work it is to make a report again: bounded, so that no file keeps a reviewer waiting.

A report carries its own site, and whoever writes one may draw a site whose worst set takes hours to
search for. Steps are counted instead of seconds, so that the answer depends on the bytes alone.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from commission.checklist.plan import Plan, plan_exceeds
from commission.checklist.schema import Checklist
from commission.electrical.worst_set import SearchCancelled
from commission.expected.model import working_case
from commission.expected.sheet import Sheet
from commission.problems import InputRefused, Problem
from commission.record.replay import State
from commission.site.schema import Site

MAX_SIGNOFFS = 20  # each covers all above it once more
MAX_INSPECTIONS = 3  # each is made again with all that it follows
MAX_ENTRIES = 5_000  # of all records; an inspection's count twice, they are compared too
MAX_PLAN = 25_000  # steps, answers that they rest on, steps that reopen them; 250 stations: 11,000
MAX_CHANGES = 50  # of the drawing, those taken back too: for each all is computed anew
MAX_REDRAWN = 4_000  # these times the stations, and a tenth of the sections of old bundles
MAX_TOLD = 20_000  # entries of steps with defects, once for each; of paths, once for each cable
MAX_SECTIONS = 10_000  # of conductors of old bundles, from box to box
MAX_STATIONS = 250
MAX_BOXES = 500
MAX_STEPS = 250_000  # of all searches, each counted as many times as there are stations: 0.5 s


class _Steps:
    """Counts, and says when it is enough."""

    def __init__(self, each: int) -> None:
        self._each, self._taken = max(1, each), 0

    def __call__(self) -> bool:
        self._taken += self._each
        return self._taken > MAX_STEPS


def refuse_too_many(report: Mapping[str, Any], entries: int, name: str) -> None:
    """Raise InputRefused for records that take more than a moment to follow.

    `entries` is how many its own record has.
    """
    inspections = report.get("inspection", [])
    if len(inspections) > MAX_INSPECTIONS:
        raise _refusal(name, "inspection", f"more than {MAX_INSPECTIONS} inspections")
    if entries + sum(2 * len(one.get("history", [])) for one in inspections) > MAX_ENTRIES:
        raise _refusal(name, "record", f"more than {MAX_ENTRIES} entries")


def refuse_too_signed(report: Mapping[str, Any], name: str) -> None:
    """Raise InputRefused for more sign-offs than are verified in a moment."""
    if len(report["signoff"]) > MAX_SIGNOFFS:
        raise _refusal(name, "signoff", f"more than {MAX_SIGNOFFS} sign-offs")


def refuse_too_long(checklist: Checklist, sheet: Sheet, name: str) -> None:
    """Raise InputRefused for a checklist that unrolls to more than is judged in a moment."""
    drawing = sheet.drawing
    if plan_exceeds(MAX_PLAN, checklist, sheet.site, drawing.trees, sheet.worst_sets):
        raise _refusal(name, "files.checklist", "too many steps at this site")


def refuse_too_changed(changes: int, site: Site, name: str) -> None:
    """Raise InputRefused for a drawing changed more often than can be followed in a moment."""
    size = len(site.station) + _sections(site) // 10
    if changes > MAX_CHANGES or changes * size > MAX_REDRAWN:
        most = min(MAX_CHANGES, MAX_REDRAWN // max(1, size))
        raise _refusal(name, "record", f"more than {most} changes of this drawing")


def refuse_too_much_told(state: State, plan: Plan, site: Site, name: str) -> None:
    """Raise InputRefused for what is told in a report again and again, in more lines than any has.

    Of a defect all that happened at its step since; of each kind of cable what is said of its path.
    """
    told = sum(len(state.history[defect.step]) for defect in state.defects.values())
    kinds = {
        path.id: len({kind for one in path.segment for kind in one.cable or path.cable})
        for path in site.path
    }
    told += sum(kinds[step.target.path] for step in plan.steps if step.target.scope == "path")
    if told > MAX_TOLD:
        raise _refusal(name, "record", "too much to tell of each defect and cable")


def _sections(site: Site) -> int:
    """Of every conductor of an old bundle each part from one box to the next."""
    return sum(len(path.conductor) * len(path.segment) for path in site.path)


def refuse_too_large(sheet: Sheet, name: str) -> None:
    """Raise InputRefused for a site that takes more than a moment to compute."""
    site = sheet.site
    boxes = sum(len(path.box) + len(path.segment) for path in site.path)
    if len(site.station) > MAX_STATIONS or boxes > 2 * MAX_BOXES:
        raise _refusal(
            name, "files.site", f"more than {MAX_STATIONS} stations or {MAX_BOXES} boxes"
        )
    if _sections(site) > MAX_SECTIONS:
        raise _refusal(name, "files.site", f"more than {MAX_SECTIONS} sections of old conductors")
    steps = _Steps(len(site.station))
    try:
        for output in site.output:
            model = working_case(sheet.drawing, output.id)
            model.worst_set(cancelled=steps)
            for path in site.path:
                if path.output == output.id:
                    model.worst_set(path.id, steps, enough=1.0)
    except SearchCancelled:
        raise _refusal(name, "files.site", "too many sets of stations may run at once") from None


def _refusal(name: str, place: str, why: str) -> InputRefused:
    words = f"too large to be made again in a moment: {why}"
    remedy = "commission check REPORT takes the time that it needs"
    return InputRefused([Problem(name, words, place, remedy=remedy)])
