"""What a part of the campaign reports: how often something was tried, and what went wrong."""

from __future__ import annotations

import os
import traceback
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, field, replace
from pathlib import Path
from tempfile import TemporaryDirectory
from unittest.mock import patch

MAX_TOLD = 5  # failures of one row that are told in full; all of them are counted


@dataclass
class Row:
    """One line of the table.

    `lost` counts what was confirmed and is not there, or not once, or not as it was; `escaped`
    whatever else must not be: a traceback, a wrong value, a control character, a second writer.
    """

    part: str
    tried: str
    seed: int
    times: int = 0
    lost: int = 0
    escaped: int = 0
    told: list[str] = field(default_factory=list)
    measured: str = ""
    counts: dict[str, int] = field(default_factory=dict)  # of what; shares are added up
    slowest_s: float = 0.0  # of what is timed one by one; 0 for nothing
    seconds: float = 0.0

    def lose(self, words: str) -> None:
        """Count something lost."""
        self.lost += 1
        self._tell(f"lost: {words}")

    def escape(self, words: str) -> None:
        """Count something that should not be."""
        self.escaped += 1
        self._tell(f"escaped: {words}")

    def _tell(self, words: str) -> None:
        if len(self.told) < MAX_TOLD:
            self.told.append(words)

    def need_all(self) -> None:
        """Count whatever should have come about and never did; only a full run is long enough."""
        for what, number in self.counts.items():
            if not number:
                self.escape(f"there were no {what}")

    @property
    def holds(self) -> bool:
        """Whether something was tried at all, and nothing went wrong."""
        return self.times > 0 and not self.lost and not self.escaped


def merged(rows: Sequence[Row]) -> list[Row]:
    """Rows of the same trial, done in several shares, as one; the seed is that of the first."""
    found: dict[tuple[str, str], Row] = {}
    for row in rows:
        key = (row.part, row.tried)
        if key not in found:
            found[key] = replace(row, told=list(row.told), counts=dict(row.counts))
            continue
        whole = found[key]
        whole.times += row.times
        whole.lost += row.lost
        whole.escaped += row.escaped
        whole.seconds += row.seconds
        whole.slowest_s = max(whole.slowest_s, row.slowest_s)
        whole.told += row.told
        for what, number in row.counts.items():
            whole.counts[what] = whole.counts.get(what, 0) + number
        if row.measured not in whole.measured:
            whole.measured = f"{whole.measured}; {row.measured}".strip("; ")
    return list(found.values())


NAMES = ("part", "what was tried", "times", "lost", "escaped", "s", "random state", "measured")
_NUMBERS = range(2, 7)  # columns that stand at their right


def table(rows: Sequence[Row], *, head: bool = True) -> str:
    """Rows as one table in Markdown, with what went wrong below it; `s` is processor time."""
    cells = [NAMES, *map(_cells, rows)]
    widths = [max(len(row[column]) for row in cells) for column in range(len(NAMES))]
    lines = [
        "| "
        + " | ".join(
            cell.rjust(width) if column in _NUMBERS else cell.ljust(width)
            for column, (cell, width) in enumerate(zip(row, widths, strict=True))
        )
        + " |"
        for row in cells
    ]
    marks = ("-" * (width + 1) + (":" if n in _NUMBERS else "-") for n, width in enumerate(widths))
    lines.insert(1, f"|{'|'.join(marks)}|")
    told = [f"{row.part}, {row.tried}: {words}" for row in rows for words in row.told]
    return "\n".join([*(lines if head else lines[2:]), *(["", *told] if told else [])])


def _cells(row: Row) -> tuple[str, ...]:
    numbers = (f"{row.times:,}", str(row.lost), str(row.escaped), f"{row.seconds:.0f}")
    counted = [f"{number:,} {what}" for what, number in row.counts.items()]
    slowest = f"slowest {row.slowest_s:.2f} s" if row.slowest_s else ""
    measured = "; ".join(filter(None, (slowest, row.measured, ", ".join(counted))))
    return (row.part, row.tried, *numbers, str(row.seed), measured)


@contextmanager
def place() -> Iterator[Path]:
    """A folder to work in, with the user's folder in it."""
    with TemporaryDirectory(prefix="campaign-") as name:
        folder = Path(name).resolve()
        with patch.dict(os.environ, {"COMMISSION_HOME": str(folder / "user")}):
            yield folder


@contextmanager
def timed(row: Row) -> Iterator[Row]:
    """Add the processor time of what is done to a row."""
    begun = processor_s()
    yield row
    row.seconds += processor_s() - begun


def processor_s() -> float:
    """Processor time of this process, and of its programs that have ended [s]."""
    return sum(os.times()[:4])


def told(error: BaseException) -> str:
    """A failure with where it was raised and what caused it; nobody sees it a second time."""
    if isinstance(error, BaseExceptionGroup):  # of a machine that found it once and never again
        return " and ".join(map(told, error.exceptions))
    calls = traceback.extract_tb(error.__traceback__)[-4:]
    where = " > ".join(f"{Path(one.filename).name}:{one.lineno} {one.line}" for one in calls)
    cause = f"; caused by {told(error.__cause__)}" if error.__cause__ else ""
    return f"{type(error).__name__}: {error} ({where}){cause}"
