"""Steps that are the same at many places: a row for each place, a column for each step.

A step's id is its row's id, a slash, and its column's. What is asked only after some answer that is
not the usual one is told once below, with lines to write.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping, Sequence
from typing import Final

from commission.checklist.plan import Step, applies
from commission.checklist.schema import YES
from commission.checklist.targets import Target
from commission.printing import page
from commission.printing.blank import Blank, expected_words, marks, only_if
from commission.printing.page import Html, element, table, text
from commission.site.schema import Station

SCOPES: Final = ("box", "end", "station")
NOT_ASKED: Final = "–"
LINES: Final = 5  # to write what is asked only after some answers
STYLE: Final = """\
.places { margin-bottom: 3pt; }
.places th, .places td { padding: 1pt 2pt; }
.places th { font-size: 5.8pt; line-height: 1.15; padding: 1pt 1pt; }
.places td { height: 7mm; }
.places small { font-size: 6pt; display: block; line-height: 1.15; }
.places .id { font-size: 5.5pt; }
.column { width: auto; } .row { width: 10%; } .about { width: 7%; }
.person { width: 5%; } .hour { width: 6%; } .remark { width: 6.5%; } .meter { width: 5.5%; }
ol, ul { margin: 2pt 0; padding-left: 16pt; font-size: 8pt; line-height: 1.2; }
.line { height: 6mm; } .whole { width: 34%; }
.waiting ul { break-inside: avoid; }
"""
_SHOWN: Final = frozenset({"number", "address", "box", "station"})  # stand at the head of each row
_NAME: Final = re.compile(r"\{(\w+)\}")
_LINE: Final = {  # of what is asked only after some answers: head and class of each column
    "Step id, for what is asked only then": "whole",
    "Value read": "column",
    "Instr.": "meter",
    "Who": "person",
    "Time": "hour",
    "Note": "column",
}


class _Column:
    """The steps of one item at several places: what is the same of them, and what differs."""

    def __init__(self, steps: Sequence[Step]) -> None:
        self.steps = {step.target: step for step in steps}
        self.first = steps[0]
        self.title = _everywhere([(step.item.title, step.title) for step in steps])
        self.ask = _everywhere([(step.item.ask, step.ask) for step in steps])
        values = {step.target: _values(step.item.ask, step.ask) for step in steps}
        differs = [
            name
            for name in values[steps[0].target]
            if name not in _SHOWN and len({one.get(name) for one in values.values()}) > 1
        ]
        self._own = {
            target: [own[name] for name in differs if name in own] for target, own in values.items()
        }

    def own(self, target: Target) -> list[str]:
        """What differs at a place from the others, and does not stand at the head of its row."""
        return self._own[target]

    def only_if(self, blank: Blank) -> list[str]:
        """The answers that some of the steps wait for, each once."""
        return list(dict.fromkeys(one for s in self.steps.values() for one in only_if(blank, s)))


Columns = Mapping[str, _Column]  # by the item's id, in the order of the walk


def by_place(blank: Blank, steps: Sequence[Step], first: Mapping[str, str]) -> Iterator[Html]:
    """The steps of neighbouring places; `first` says what is to be done before some elsewhere."""
    usual = _columns([step for step in steps if _is_usual(blank, step)])
    later = _columns([step for step in steps if not _is_usual(blank, step)])
    targets = list(dict.fromkeys(t for column in usual.values() for t in column.steps))
    for step in steps:
        if step.id in first:
            yield element("p", text(f"Before {step.id}: {first[step.id]}"), kind="caution")
    if usual:
        yield _legend(blank, usual)
        yield _table(blank, usual, targets)
    for step in steps:
        if step.id in blank.again:
            words = f"{step.id}: AGAIN: {blank.again[step.id]}"
            yield element("p", text(words), kind="caution")
    if later:
        yield _later(blank, later, targets)


def _columns(steps: Sequence[Step]) -> Columns:
    by_item: dict[str, list[Step]] = {}
    for step in steps:
        by_item.setdefault(step.item.id, []).append(step)
    order = [item.id for item in steps[0].stage.item] if steps else []
    return {item: _Column(by_item[item]) for item in order if item in by_item}


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


def _legend(blank: Blank, columns: Columns) -> Html:
    """What to do for each column, numbered as the columns are."""
    told = [element("li", *_told(c, c.only_if(blank))) for c in columns.values()]
    return element("ol", *told)


def _told(column: _Column, waits: Sequence[str] = ()) -> Iterator[Html]:
    """What to do at every place, what may be answered, and what must not be overlooked."""
    step = column.first
    unit = f" In {step.item.unit}." if step.item.unit else ""
    answers = f" Write one of: {' / '.join(step.item.offered)}." if step.item.offered else ""
    yield text(f"{column.title}: {column.ask}{unit}{answers}")
    for mark in (*marks(step), *waits):
        yield element("b", text(f" {mark}."))


def _everywhere(texts: Sequence[tuple[str, str]]) -> str:
    """A text for all places, from templates and what they became.

    A name that differs from place to place stands in brackets.
    """
    values = [_values(template, filled) for template, filled in texts]
    same = {n: v for n, v in values[0].items() if all(one.get(n) == v for one in values)}
    return _NAME.sub(lambda found: same.get(found[1], f"[{found[1]}]"), texts[0][0])


def _values(template: str, filled: str) -> dict[str, str]:
    """What the names of a template became in a text; {} where that cannot be told."""
    parts = _NAME.split(template)
    pattern = "".join(
        re.escape(part) if place % 2 == 0 else "(.*?)" for place, part in enumerate(parts)
    )
    found = re.fullmatch(pattern, filled, re.DOTALL)
    return dict(zip(parts[1::2], found.groups(), strict=True)) if found else {}


# The table


def _table(blank: Blank, columns: Columns, targets: Sequence[Target]) -> Html:
    """A row for each place, and room to write behind."""
    about = "No., box, address" if targets[0].scope == "station" else "Box"
    heads, kinds = [element("th", text("Row")), element("th", text(about))], ["row", "about"]
    for number, (item, column) in enumerate(columns.items(), start=1):
        unit = f", {column.first.item.unit}" if column.first.item.unit else ""
        words = element("div", text(f"{number} {column.title}{unit}"))
        heads.append(element("th", words, element("div", text(item), kind="id")))
        kinds.append("column")
    measured = any(column.first.item.answer == "measure" for column in columns.values())
    last = [("meter", "Instr.")] if measured else []
    last += [("person", "Who"), ("hour", "Time"), ("remark", "Note")]
    heads += [element("th", text(words)) for _kind, words in last]
    kinds += [kind for kind, _words in last]
    stations = {station.id: station for station in blank.site.station}
    rows = [
        element(
            "tr",
            *_front(target, stations.get(target.station)),
            *(_cell(blank, column, target) for column in columns.values()),
            *[element("td")] * len(last),
        )
        for target in targets
    ]
    return element(
        "table",
        page.columns(kinds),
        element("thead", element("tr", *heads)),
        element("tbody", *rows),
        kind="places",
    )


def _front(target: Target, station: Station | None) -> Iterator[Html]:
    """The id of a row, and what its place is."""
    about = target.label.rpartition(f"{target.scope} ")[2]
    if station is not None:
        about = f"{station.number}, {station.box}, {station.address}"
    yield element("td", element("div", text(target.place()), kind="id"))
    yield element("td", element("small", text(about)))


def _cell(blank: Blank, column: _Column, target: Target) -> Html:
    """What is expected, and what differs from place to place; the rest is room to write."""
    step = column.steps.get(target)
    if step is None:
        return element("td", text(NOT_ASKED))
    expected = expected_words(blank.expectation(step), step).partition(", about")[0]
    again = ["AGAIN"] if step.id in blank.again else []
    told = [one for one in (*again, *column.own(target), expected) if one]
    return element("td", *(element("small", text(one)) for one in told))


def _later(blank: Blank, columns: Columns, targets: Sequence[Target]) -> Html:
    """Each step with the answers that it waits for, and lines to write its id and reading."""
    told = []
    for item, column in columns.items():
        every = len(column.steps) > 1 and set(column.steps) == set(targets)
        fronts = ["ROW"] if every else [target.place() for target in column.steps]
        ids = [element("span", text(f"{front}/{item} "), kind="id") for front in fronts]
        waits = text(f"{'; '.join(column.only_if(blank))}: ")
        told.append(element("li", waits, *ids, *_told(column)))
    cells = (element("div", kind="line"),) * len(_LINE)
    lines = table(tuple(_LINE), [cells] * LINES, tuple(_LINE.values()))
    return element("div", element("ul", *told), lines, kind="waiting")
