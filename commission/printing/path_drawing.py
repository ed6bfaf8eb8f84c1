"""A path drawn as a tree of boxes: cable, stations and what was found; one line for each box."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from itertools import islice
from typing import Final

from commission.job import Job
from commission.picture import OPEN, BoxRow, path_picture
from commission.printing.page import Html
from commission.printing.svg import drawing, line, shape, shortened, words_at

_ROW: Final = 15
_STEP: Final = 16
_WIDTH: Final = 560
_ROWS_EACH: Final = 12  # a drawing is never broken between sheets of paper, so it is short
_ABOVE: Final = 3
_MAX_DEPTH: Final = 10  # branches of branches, drawn apart


def path_drawing(job: Job, path: str) -> list[Html]:
    """One drawing, or several below each other for a long path."""
    rows = path_picture(job, path)
    words = f"path {path} as a tree of {len(rows) - 1} boxes; the tables below tell the same"
    pieces: list[Html] = []
    waiting = iter(rows)
    while piece := list(islice(waiting, _ROWS_EACH)):
        above = 0 if pieces else _ABOVE  # pieces below each other join without a gap
        shapes = [row for n, one in enumerate(piece) for row in _row(one, above + (n + 0.5) * _ROW)]
        pieces.append(drawing(_WIDTH, above + len(piece) * _ROW, words, *shapes))
    return pieces


def _row(row: BoxRow, y: float) -> Iterator[Html]:
    """The lines that pass or end here, the box, and what is told of it."""
    top, bottom = y - _ROW / 2, y + _ROW / 2
    marks = [row.branch[n : n + 2] for n in range(0, len(row.branch), 2)][:_MAX_DEPTH]
    x = _STEP / 2 + len(marks) * _STEP
    for place, mark in enumerate(marks):
        at = _STEP / 2 + place * _STEP
        yield line(at, top, at, bottom, "thick")
        if mark == "├─":
            yield line(at, y, x, y, "thick")
    is_root, is_end = not row.length, row.end is not None
    if not is_root and not (marks and marks[-1] == "├─"):
        yield line(x, top, x, y, "thick")
    if not is_end:
        yield line(x, y, x, bottom, "thick")
    if is_end:
        yield shape("rect", kind="paper", x=x - 4, y=y - 4, width=8, height=8)
    else:
        yield shape("circle", kind="ink", cx=x, cy=y, r=4)
    yield words_at(x + 9, y + 3, shortened(f"{row.mark} {row.box}", 24), "bold")
    yield words_at(210, y + 3, shortened(row.length, 10), anchor="end")
    yield words_at(218, y + 3, shortened(row.cable, 24))
    yield words_at(330, y + 3, shortened(_told(row), 46))


def _told(row: BoxRow) -> str:
    """The stations of a box, and whether it is an end; the worst of them in a word."""
    parts = []
    if row.stations:
        numbers = " ".join(_numbers([int(one.words) for one in row.stations]))
        parts.append(f"{'station' if len(row.stations) == 1 else 'stations'} {numbers}")
    if row.end is not None:
        parts.append("end of the path")
    if row.verdict == OPEN:
        parts.insert(0, "NOT DONE")  # "open" would be read as an open circuit
    elif row.verdict and row.verdict != "pass":
        parts.insert(0, row.verdict.upper())
    return "; ".join(parts)


def _numbers(numbers: Sequence[int]) -> Iterator[str]:
    """Numbers that follow each other as one range."""
    run: list[int] = []
    for number in [*sorted(numbers), -1]:
        if run and number == run[-1] + 1:
            run.append(number)
            continue
        if run:
            yield str(run[0]) if len(run) == 1 else f"{run[0]}-{run[-1]}"
        run = [number]
