"""Steps that are the same at many places: a row for each place, a column for each step.

A step's id is its row's id, a slash, and its column's. What is asked only after some answer that is
not the usual one is told once below, with lines to write.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Final

from commission.checklist.plan import Step, applies
from commission.checklist.schema import YES
from commission.checklist.targets import Target
from commission.printing.blank import Blank, choices, expected_words, marks, only_if
from commission.printing.page import Html, element, table, text
from commission.site.schema import Station

SCOPES: Final = ("box", "end", "station")
NOT_ASKED: Final = "–"
LINES: Final = 5  # to write what is asked only after some answers
STYLE: Final = """\
.places { margin-bottom: 3pt; }
.places th, .places td { padding: 1pt 2pt; }
.places th { font-size: 6pt; line-height: 1.15; padding: 1pt 1pt; }
.places td { height: 7mm; }
.places small { font-size: 6pt; display: block; line-height: 1.15; }
.places .id { font-size: 5.5pt; }
.column { width: auto; } .row { width: 9%; } .about { width: 7%; }
.person { width: 5%; } .hour { width: 6%; } .remark { width: 6.5%; } .meter { width: 5.5%; }
ol, ul { margin: 2pt 0; padding-left: 16pt; font-size: 8pt; line-height: 1.2; }
.line { height: 6mm; } .whole { width: 34%; }
.waiting ul { break-inside: avoid; }
"""
_SHOWN: Final = frozenset({"number", "address", "box", "station"})  # stand at the head of each row
_NAME: Final = re.compile(r"\{(\w+)\}")


@dataclass(frozen=True, slots=True)
class _Group:
    """Neighbouring steps of a stage at places of one kind."""

    blank: Blank
    targets: tuple[Target, ...]
    columns: Mapping[str, tuple[Step, ...]]  # by the item's id
    waiting: Mapping[str, tuple[Step, ...]]  # asked only after an unusual answer

    def step(self, target: Target, item: str) -> Step | None:
        """The step of a column at a place, when it is to be done."""
        return next((s for s in self.columns[item] if s.target == target), None)


def by_place(blank: Blank, steps: Sequence[Step], first: Mapping[str, str]) -> Iterator[Html]:
    """The steps of neighbouring places; `first` says what is to be done before some elsewhere."""
    group = _grouped(blank, steps)
    for step in steps:
        if step.id in first:
            yield element("p", text(f"Before {step.id}: {first[step.id]}"), kind="caution")
    if group.columns:
        yield _legend(group)
        yield _table(group)
    for step in steps:
        if step.id in blank.again:
            words = f"{step.id}: AGAIN: {blank.again[step.id]}"
            yield element("p", text(words), kind="caution")
    if group.waiting:
        yield from _waiting(group)


def _grouped(blank: Blank, steps: Sequence[Step]) -> _Group:
    columns: dict[str, tuple[Step, ...]] = {}
    waiting: dict[str, tuple[Step, ...]] = {}
    for step in steps:
        kind = columns if _is_usual(blank, step) else waiting
        kind[step.item.id] = (*kind.get(step.item.id, ()), step)
    targets = tuple(dict.fromkeys(s.target for found in columns.values() for s in found))
    order = [item.id for item in steps[0].stage.item]
    in_order = {item: columns[item] for item in order if item in columns}
    return _Group(blank, targets, in_order, waiting)


def _is_usual(blank: Blank, step: Step) -> bool:
    """Whether a step is asked by what was answered, or will be when all goes well."""
    if applies(step, blank.answers):
        return True
    return all(
        blank.answers.get(other, _usual_answer(blank.plan.by_id[other])) in wanted
        for other, wanted in step.conditions
    )


def _usual_answer(step: Step) -> str:
    passing = [one.say for one in step.item.choice if one.verdict == "pass"]
    return next(iter([*passing, *(one.say for one in step.item.choice), YES]))


# What is said once of every column


def _legend(group: _Group) -> Html:
    """What to do for each column, numbered as the columns are."""
    told = [
        element("li", *_told(steps, [*marks(steps[0]), *only_if(group.blank, steps[0])]))
        for steps in group.columns.values()
    ]
    return element("ol", *told)


def _told(steps: Sequence[Step], overlooked: Sequence[str]) -> Iterator[Html]:
    """What to do at every place, what may be answered, and what must not be overlooked."""
    step = steps[0]
    words = f"{step.title}: {_everywhere([s.item.ask for s in steps], [s.ask for s in steps])}"
    unit = f" In {step.item.unit}." if step.item.unit else ""
    answers = f" Write one of: {' / '.join(choices(step))}." if choices(step) else ""
    yield text(f"{words}{unit}{answers}")
    for mark in overlooked:
        yield element("b", text(f" {mark}."))


def _everywhere(templates: Sequence[str], filled: Sequence[str]) -> str:
    """A text for all places: a name that differs from place to place stands in brackets."""
    values = [_values(one, words) for one, words in zip(templates, filled, strict=True)]
    same = {name: value for name, value in values[0].items() if _is_same(name, values)}
    return _NAME.sub(lambda found: same.get(found[1], f"[{found[1]}]"), templates[0])


def _is_same(name: str, values: Sequence[Mapping[str, str]]) -> bool:
    return len({one.get(name) for one in values}) == 1


def _values(template: str, filled: str) -> dict[str, str]:
    """What the names of a template became in a text; {} where that cannot be told."""
    parts = _NAME.split(template)
    pattern = "".join(
        re.escape(part) if place % 2 == 0 else "(.*?)" for place, part in enumerate(parts)
    )
    found = re.fullmatch(pattern, filled, re.DOTALL)
    return dict(zip(parts[1::2], found.groups(), strict=True)) if found else {}


# The table


def _table(group: _Group) -> Html:
    stations = {station.id: station for station in group.blank.site.station}
    heads = [element("th", text("Row")), element("th", text(_about_head(group)))]
    kinds = ["row", "about"]
    for number, (item, steps) in enumerate(group.columns.items(), start=1):
        step = steps[0]
        unit = f", {step.item.unit}" if step.item.unit else ""
        words = element("div", text(f"{number} {step.title}{unit}"))
        heads.append(element("th", words, element("div", text(item), kind="id")))
        kinds.append("column")
    measured = any(steps[0].item.answer == "measure" for steps in group.columns.values())
    last = [("meter", "Instr.")] if measured else []
    last += [("person", "Who"), ("hour", "Time"), ("remark", "Note")]
    heads += [element("th", text(words)) for _kind, words in last]
    kinds += [kind for kind, _words in last]
    columns = Html("".join(f'<col class="{kind}">' for kind in kinds))
    rows = [_row(group, target, stations, len(last)) for target in group.targets]
    return element(
        "table",
        element("colgroup", columns),
        element("thead", element("tr", *heads)),
        element("tbody", *rows),
        kind="places",
    )


def _about_head(group: _Group) -> str:
    return "No., box, address" if group.targets[0].scope == "station" else "Box"


def _row(group: _Group, target: Target, stations: Mapping[str, Station], after: int) -> Html:
    """A place: its id, what it is, and a cell for each column, with room to write behind."""
    about = target.label.rpartition(f"{target.scope} ")[2]
    station = stations.get(target.station)
    if station is not None:
        about = f"{station.number}, {station.box}, {station.address}"
    cells = [
        element("td", element("div", text(target.place()), kind="id")),
        element("td", element("small", text(about))),
    ]
    cells += [_cell(group, target, item) for item in group.columns]
    return element("tr", *cells, *[element("td")] * after)


def _cell(group: _Group, target: Target, item: str) -> Html:
    """What is expected, and what differs from place to place; the rest is room to write."""
    step = group.step(target, item)
    if step is None:
        return element("td", text(NOT_ASKED))
    steps = group.columns[item]
    values = [_values(one.item.ask, one.ask) for one in steps]
    own = values[steps.index(step)]
    told = [v for name, v in own.items() if name not in _SHOWN and not _is_same(name, values)]
    expected = expected_words(group.blank.expectation(step), step).partition(", about")[0]
    again = ["AGAIN"] if step.id in group.blank.again else []
    return element("td", *(element("small", text(one)) for one in (*again, *told, expected) if one))


# What is asked only after some answers


def _waiting(group: _Group) -> Iterator[Html]:
    """Each step with the answers that it waits for, and lines to write its id and reading."""
    told = []
    for item, steps in group.waiting.items():
        waits = text("; ".join(only_if(group.blank, steps[0])) + ": ")
        rows = [step.target for step in steps]
        every = len(rows) > 1 and set(rows) == set(group.targets)
        fronts = ["ROW"] if every else [target.place() for target in rows]
        ids = [element("span", text(f"{front}/{item} "), kind="id") for front in fronts]
        told.append(element("li", waits, *ids, *_told(steps, [*marks(steps[0])])))
    cells = (element("div", kind="line"),) * len(_LINE)
    lines = table(tuple(_LINE), [cells] * LINES, tuple(_LINE.values()))
    yield element("div", element("ul", *told), lines, kind="waiting")


_LINE: Final = {
    "Step id, for what is asked only then": "whole",
    "Value read": "column",
    "Instr.": "meter",
    "Who": "person",
    "Time": "hour",
    "Note": "column",
}
