"""A list of stations as an estimator has it, and the draft of a site that it describes.

    station; address; path; box; distance (ft); cable; solenoids; description
    1; 101; A; A1; 85; 14 AWG; 1; Front lawn

Names of columns are forgiving. A distance is cable from the output terminals; where there is a
column "from", a length is cable from the box named there. Pure: nothing is read or written.
"""

from __future__ import annotations

import csv
import re
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Final, Literal

from commission.authoring.letters import decoded
from commission.problems import InputRefused, Problem, nearest
from commission.spreadsheet import filled, heading, separated_by
from commission.text import clean, visible

COLUMNS: Final = {  # and what each is also called
    "output": ("controller output", "terminal", "terminals"),
    "path": ("cable path", "run", "two wire path", "2 wire path", "loop"),
    "station": ("station number", "station no", "no", "number", "zone", "#", "valve no"),
    "address": ("decoder address", "decoder", "decoder no", "code"),
    "box": ("valve box", "box no", "box id"),
    "from": ("from box", "fed from", "previous box", "upstream"),
    "distance": ("distance from controller", "from controller", "total distance", "chainage"),
    "length": ("cable length", "segment length", "length from box", "run length"),
    "cable": ("wire", "cable size", "wire size", "size", "gauge", "conductor"),
    "decoder kind": ("kind of decoder", "decoder type", "decoder model"),
    "solenoids": ("valves", "coils", "solenoid", "no of valves", "number of solenoids"),
    "description": ("waters", "area", "location", "remark", "remarks", "note", "notes", "name"),
}
NEEDED: Final = ("station",)
_UNIT = re.compile(r"(.*?)[\s(\[/,]+(ft|feet|foot|m|meters?|metres?)[\s)\]]*", re.I)
_NAMES: Final = {name: name for name in COLUMNS} | {
    also: name for name, others in COLUMNS.items() for also in others
}


@dataclass(frozen=True, slots=True)
class Row:
    """One row as it was written: cleaned cells by column; a length with the unit of its header."""

    line: int
    cells: Mapping[str, str]

    def __getitem__(self, column: str) -> str:
        return self.cells.get(column, "")


@dataclass(frozen=True, slots=True)
class StationList:
    """A list with everything wrong in it; `taken` says which heading was taken for what."""

    name: str
    separator: str  # in words
    taken: Mapping[str, str]  # column to its heading in the list
    rows: tuple[Row, ...]
    problems: tuple[Problem, ...]
    assumed: tuple[str, ...] = ()  # of its letters, in words

    @property
    def units(self) -> Literal["US", "SI"]:
        """In which units the list measures, by its lengths."""
        lengths = [row[column] for row in self.rows for column in ("distance", "length")]
        feet = sum(1 for one in lengths if one.endswith(("ft", "in", "'")))
        return "US" if 2 * feet > sum(map(bool, lengths)) else "SI"

    def lines(self) -> Iterator[str]:
        """How the list was understood, for people."""
        yield from self.assumed
        rows = "1 row" if len(self.rows) == 1 else f"{len(self.rows)} rows"
        yield f"Columns are set apart by {self.separator}s; {rows}"
        for column, named in self.taken.items():
            yield f"  {column:<12} from '{visible(named, 40)}'"


@dataclass
class _Read:
    name: str
    problems: list[Problem] = field(default_factory=list)
    rows: list[Row] = field(default_factory=list)
    taken: dict[str, str] = field(default_factory=dict)
    columns: list[tuple[str, str]] = field(default_factory=list)  # column and unit of each cell

    def say(self, line: int, column: str, words: str, remedy: str = "") -> None:
        self.problems.append(Problem(self.name, words, column, line, remedy))

    def head(self, line: int, cells: Sequence[str]) -> None:
        """Take in the names of the columns."""
        for cell in cells:
            column, unit = _column(cell)
            if not column and cell.strip():
                words = f"there is no column '{visible(cell.strip(), 60)}'"
                known = nearest(cell.strip().casefold(), tuple(_NAMES))
                self.say(line, "columns", words, f"take it out, or rename it; {known}")
            elif column in self.taken:
                self.say(line, column, "named twice", "take one out")
            elif column:
                self.taken[column] = cell.strip()
            self.columns.append((column, unit))
        for column in NEEDED:
            if column not in self.taken:
                words = ", ".join(COLUMNS)
                self.say(line, column, "no such column", f"columns that are known: {words}")
        if "distance" not in self.taken and "length" not in self.taken:
            self.say(line, "distance", "neither distance nor length is given", "add a column")
        if self.problems:
            raise InputRefused(self.problems)

    def row(self, line: int, cells: Sequence[str]) -> None:
        """Take in one row."""
        found = {}
        for place, cell in enumerate(cells):
            column, unit = self.columns[place] if place < len(self.columns) else ("", "")
            words = self._cleaned(line, column, cell)
            if words and not column:
                self.say(line, "", f"'{visible(words, 60)}' stands in no column")
            elif words:
                bare = unit and not re.search(r"[A-Za-z]\s*$", words)
                found[column] = f"{words} {unit}" if bare else words
        self.rows.append(Row(line, found))

    def _cleaned(self, line: int, column: str, cell: str) -> str:
        try:
            return clean(cell)
        except ValueError as error:
            self.say(line, column, str(error))
            return ""


def parse(content: bytes, name: str) -> StationList:
    """Read a list; raises InputRefused for what is no list at all, or has not the columns."""
    letters = decoded(content, name)
    separator, text = separated_by(
        letters.text, lambda cells: sum(1 for cell in cells if _column(cell)[0])
    )
    read, headed = _Read(name), False
    try:
        for line, cells in filled(text, separator, name):
            if headed:
                read.row(line, cells)
            else:
                read.head(line, cells)
                headed = True
    except csv.Error as error:
        problem = Problem(name, f"not a list that can be read: {error}", remedy="mend the quotes")
        raise InputRefused([problem]) from error
    if not read.rows:
        raise InputRefused([Problem(name, "there is no station in the list")])
    return StationList(
        name, separator, read.taken, tuple(read.rows), tuple(read.problems), tuple(letters.lines())
    )


def _column(cell: str) -> tuple[str, str]:
    """The column that a heading names, "" for none, and its unit."""
    words = heading(cell)
    if words in _NAMES:
        return _NAMES[words], ""
    unit = _UNIT.fullmatch(words)
    column = _NAMES.get(unit[1].strip(), "") if unit else ""
    return (column, _length_unit(unit[2])) if unit and column else ("", "")


def _length_unit(words: str) -> str:
    return "ft" if words[0] == "f" else "m"
