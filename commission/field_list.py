"""A list of readings from the field, as a spreadsheet saves it: rows, and everything wrong in it.

    step; reading; instrument; observer; time; note
    path/A/end/B4/loop-resistance; 4,2 ohm; meter; Pat; 2031-05-04 10:31; box under leaves

The first row names the columns, in any order. Pure: nothing is read or written.
"""

from __future__ import annotations

import csv
import re
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Final

from commission.problems import InputRefused, Problem, nearest
from commission.spreadsheet import filled, heading, separated_by, text_of
from commission.text import clean, visible

COLUMNS: Final = ("step", "reading", "instrument", "observer", "time", "note")
_NEEDED = ("step", "reading", "observer", "time")
_NAMES: Final = {name: name for name in COLUMNS} | {
    "step id": "step", "id": "step", "answer": "reading", "reading or answer": "reading",
    "value": "reading", "meter": "instrument", "observed by": "observer", "who": "observer",
    "observed at": "time", "when": "time", "notes": "note", "remark": "note",
}  # fmt: skip
_TIME = re.compile(
    r"(\d{4}-\d\d-\d\d)[T ](\d\d:\d\d)(:\d\d)?(?:\.\d+)? ?(Z|[+-]\d\d:?\d\d)?", re.ASCII
)
_WHOLE = re.compile(r"[<>]? ?[+-]?[0-9]+", re.ASCII)
_TAIL = re.compile(r"[0-9]+ ?[^\s0-9]{0,6}", re.ASCII)

Local = Callable[[datetime], datetime]


def by_this_machine(moment: datetime) -> datetime:
    """A local time without offset, with the offset that this machine has for it."""
    return moment.astimezone()


@dataclass(frozen=True, slots=True)
class Written:
    """One row as it was written: cleaned, its time with an offset; `line` is its place."""

    line: int
    step: str
    text: str
    instrument: str
    observer: str
    at: datetime
    note: str = ""


@dataclass(frozen=True, slots=True)
class FieldList:
    """What a list holds: its sound rows, everything wrong, and the rows left blank."""

    separator: str  # in words
    rows: tuple[Written, ...]
    problems: tuple[Problem, ...]
    blank: tuple[str, ...] = ()  # steps that have a row without an answer


def parse(content: bytes, name: str, local: Local = by_this_machine) -> FieldList:
    """Read a list. Raises InputRefused for what is no list at all; all else is a problem in it."""
    reader = _Reader(name, local)
    reader.read(text_of(content, name))
    return FieldList(
        reader.separator, tuple(reader.rows), tuple(reader.problems), tuple(reader.blank)
    )


def moment(text: str, local: Local = by_this_machine) -> datetime:
    """The time that was written, in whole seconds, with its offset or the one of this machine.

    Raises ValueError for anything else, and for an hour that comes twice or never on a night when
    clocks change.
    """
    found = _TIME.fullmatch(text)
    if found is None:
        raise ValueError("this is no time; write it as 2031-05-04 10:31")
    day, minutes, seconds, offset = found.groups()
    try:
        written = datetime.fromisoformat(f"{day}T{minutes}{seconds or ':00'}{offset or ''}")
    except ValueError:
        raise ValueError("there is no such day or time; write it as 2031-05-04 10:31") from None
    if offset:
        return written
    try:
        first, second = local(written.replace(fold=0)), local(written.replace(fold=1))
    except (OverflowError, OSError, ValueError):
        raise ValueError("no clock has that year; write it as 2031-05-04 10:31") from None
    if first.utcoffset() != second.utcoffset():
        raise ValueError("clocks changed in that hour; write the offset too, as in +02:00")
    return first


def _named(cells: Sequence[str]) -> list[str]:
    """The columns that cells name; "" for a name that is none."""
    return [_NAMES.get(heading(cell), "") for cell in cells]


class _Reader:
    """Reads the rows of one list, gathering what is wrong."""

    def __init__(self, name: str, local: Local) -> None:
        self.separator = ""
        self.rows: list[Written] = []
        self.problems: list[Problem] = []
        self.blank: list[str] = []
        self._name = name
        self._local = local
        self._columns: list[str] = []

    def read(self, text: str) -> None:
        self.separator, text = separated_by(text, lambda cells: sum(map(bool, _named(cells))))
        headed = False
        try:
            for line, cells in filled(text, self.separator, self._name):
                if headed:
                    self._row(line, cells)
                else:
                    self._head(line, cells)
                    headed = True
        except csv.Error as error:
            self._say(0, "", f"not a list that can be read: {error}", "mend the quotes")
        if not headed:
            self._say(0, "", "the list is empty", f"columns: {', '.join(COLUMNS)}")

    def _say(self, line: int, column: str, message: str, remedy: str = "") -> None:
        self.problems.append(Problem(self._name, message, column, line or None, remedy))

    def _head(self, line: int, cells: list[str]) -> None:
        """Take in the names of the columns; without those that are needed nothing can be read."""
        columns = _named(cells)
        found: list[Problem] = []
        for cell, name in zip(cells, columns, strict=True):
            if not name and cell.strip():
                remedy = f"take it out; {nearest(cell.strip().casefold(), COLUMNS)}"
                words = f"there is no column '{visible(cell.strip(), 60)}'"
                found.append(Problem(self._name, words, "columns", line, remedy))
        for name in COLUMNS:
            if columns.count(name) > 1:
                found.append(Problem(self._name, "named twice", name, line, "take one out"))
            elif name in _NEEDED and name not in columns:
                remedy = f"the first row names the columns: {', '.join(COLUMNS)}"
                found.append(Problem(self._name, "no such column", name, line, remedy))
        if found:
            raise InputRefused(found)
        self._columns = columns

    def _row(self, line: int, cells: list[str]) -> None:
        """Take in a row, if it is sound."""
        before = len(self.problems)
        row = dict.fromkeys(COLUMNS, "")
        for place, cell in enumerate(cells):
            column = self._columns[place] if place < len(self._columns) else ""
            if column:
                row[column] = self._cleaned(line, column, cell)
            elif cell.strip():
                words = f"'{visible(cell.strip(), 60)}' stands in no column"
                remedy = f"put a cell that holds a {self.separator} in quotes"
                self._say(line, "", words, remedy)
        if not row["reading"] and not row["note"] and row["step"]:
            if len(self.problems) == before:
                self.blank.append(row["step"])
            return
        self._torn_number(line, row)
        at = self._needed(line, row)
        if at is not None and len(self.problems) == before:
            what, who = (row["step"], row["reading"], row["instrument"]), row["observer"]
            self.rows.append(Written(line, *what, who, at, row["note"]))

    def _cleaned(self, line: int, column: str, cell: str) -> str:
        try:
            return clean(cell.strip(" \u00a0"))
        except ValueError as error:
            self._say(line, column, str(error))
            return ""

    def _torn_number(self, line: int, row: dict[str, str]) -> None:
        """Tell a decimal comma that has set a reading apart: 11 in its column, 6 in the note."""
        next_to_it = self._columns[self._columns.index("reading") + 1 :][:1] == ["note"]
        numbers = _WHOLE.fullmatch(row["reading"]) and _TAIL.fullmatch(row["note"])
        if self.separator == "comma" and next_to_it and numbers:
            words = f"'{row['reading']}' and '{row['note']}' may be one number"
            remedy = "put a number with a comma in quotes, and a note in words"
            self._say(line, "reading", words, remedy)

    def _needed(self, line: int, row: dict[str, str]) -> datetime | None:
        """The time of a row; what must be there and is not is told."""
        for column, remedy in (
            ("step", "write the step's id as it stands on the sheet"),
            ("reading", "write what was read; a note alone is made in the walk"),
            ("observer", "write who read it"),
        ):
            if not row[column]:
                self._say(line, column, "nothing is written here", remedy)
        try:
            return moment(row["time"], self._local)
        except ValueError as error:
            words, _, remedy = str(error).partition("; ")
            self._say(line, "time", words if row["time"] else "nothing is written here", remedy)
            return None
