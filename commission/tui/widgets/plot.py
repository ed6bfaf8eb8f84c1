"""A profile drawn in characters: readable without colour, three places to a line of text."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace
from itertools import pairwise
from math import ceil, floor

from textual.content import Content

from commission.profile import Loop, Measured, Point, Profile
from commission.tui.theme import VERDICT_STYLE
from commission.verdict.judge import MARKS

RANGE, WORST, LEAST, THEN = "░", "•", "╌", "▒"
_LINE = "▔─▁"  # the upper, the middle and the lower third of a cell
_LEFT = 8  # columns for the voltages
_EMPTY = ("", "")
Cell = tuple[str, str]  # a character and its style
Part = tuple[str, str] | str
_LEGEND = (
    f"{RANGE} range expected  ─ expected, settled  {WORST} in inrush, lowest mains, warmest soil\n"
    f"{LEAST} least at the solenoid   read: + pass  x fail  ? marginal"
)


def legend(profile: Profile) -> str:
    """What the characters of a plot mean."""
    then = any(one.range_then for one in profile.measured)
    return f"{_LEGEND}\n{THEN} expected at the mains or soil read then" if then else _LEGEND


def plot(profile: Profile, length: Callable[[float], str], width: int, height: int) -> Content:
    """Voltage upwards, distance to the right; `length` says a distance in words."""
    scale = _Scale(profile, max(width - _LEFT, 10), max(height - 3, 4))
    cells = scale.cells()
    parts: list[Part] = []
    for row in range(scale.rows):
        parts.append(f"{scale.label(row):>{_LEFT - 1}}│")
        parts += [cell if cell != _EMPTY else " " for cell in cells[row]]
        parts.append("\n")
    return Content.assemble(*parts, *_below(profile, scale, length))


class _Scale:
    """From volts and metres to rows and columns, and everything drawn there."""

    def __init__(self, profile: Profile, columns: int, rows: int) -> None:
        self._profile, self.columns, self.rows = profile, columns, rows
        points = profile.points
        volts = [v for p in points for v in (p.low_v, p.high_v, p.worst_v) if v is not None]
        volts += [v for one in profile.measured for v in (one.volts, *(one.range_then or ()))]
        volts += [profile.min_v] if profile.min_v is not None else []
        self._low = floor(min(volts) * 2) / 2
        self._high = max(ceil(max(volts) * 2) / 2, self._low + 1)
        self._far = points[-1].distance_m or 1.0

    def column(self, distance_m: float) -> int:
        """The column of a distance."""
        return round(distance_m / self._far * (self.columns - 1))

    def label(self, row: int) -> str:
        """The least voltage in its row; in every third other row the one in the middle of it."""
        min_v = self._profile.min_v
        least = self._place(min_v)[0] if min_v is not None else None
        if row == least:
            return f"{min_v:.1f} V"
        if row % 3 or (least is not None and abs(row - least) == 1):
            return ""
        return f"{self._high - (row + 0.5) * (self._high - self._low) / self.rows:.1f} V"

    def _place(self, volts: float) -> tuple[int, int]:
        """The row of a voltage, and which third of it."""
        down = (self._high - volts) / (self._high - self._low) * self.rows * 3
        thirds = min(max(int(down), 0), self.rows * 3 - 1)
        return thirds // 3, thirds % 3

    def cells(self) -> list[list[Cell]]:
        """All characters; what is drawn later lies on top."""
        grid = [[_EMPTY] * self.columns for _ in range(self.rows)]
        for column in range(self.columns):
            at = _between(self._profile.points, column / (self.columns - 1) * self._far)
            first, last = self._place(at.high_v)[0], self._place(at.low_v)[0]
            for row in range(first, last + 1):
                grid[row][column] = (RANGE, "")
            if self._profile.min_v is not None:
                grid[self._place(self._profile.min_v)[0]][column] = (LEAST, "bold")
            if at.worst_v is not None:
                grid[self._place(at.worst_v)[0]][column] = (WORST, "")
            row, third = self._place(at.expected_v)
            grid[row][column] = (_LINE[third], "bold")
        for one in self._profile.measured:
            self._read(grid, one)
        return grid

    def _read(self, grid: list[list[Cell]], one: Measured) -> None:
        """A reading, in the range it was compared with where that is not the one of the curve."""
        style, column = VERDICT_STYLE.get(one.verdict, "bold"), self.column(one.distance_m)
        if one.range_then:
            last, first = (self._place(volts)[0] for volts in one.range_then)
            for row in range(first, last + 1):
                grid[row][column] = (THEN, "")
        grid[self._place(one.volts)[0]][column] = (MARKS[one.verdict], style)


def _between(points: Sequence[Point], distance_m: float) -> Point:
    """What lies at a distance, straight between two boxes."""
    for left, right in pairwise(points):
        if distance_m <= right.distance_m:
            reach = right.distance_m - left.distance_m
            t = (distance_m - left.distance_m) / reach if reach else 1.0
            worst = None
            if left.worst_v is not None and right.worst_v is not None:
                worst = left.worst_v + t * (right.worst_v - left.worst_v)
            return replace(
                right,
                distance_m=distance_m,
                expected_v=left.expected_v + t * (right.expected_v - left.expected_v),
                low_v=left.low_v + t * (right.low_v - left.low_v),
                high_v=left.high_v + t * (right.high_v - left.high_v),
                worst_v=worst,
            )
    return points[-1]


def _below(profile: Profile, scale: _Scale, length: Callable[[float], str]) -> list[Part]:
    """The axis with a tick at each box, the names that have room, and how far it goes."""
    axis, names = ["─"] * scale.columns, [" "] * scale.columns
    free = 0
    last = profile.points[-1]
    name_of_last = scale.columns - len(last.box)
    for point in profile.points:
        column = scale.column(point.distance_m)
        axis[column] = "┴"
        name = "0" if point is profile.points[0] else point.box
        start = name_of_last if point is last else min(column, scale.columns - len(name))
        fits = start + len(name) < name_of_last or point is last
        if start >= free and fits:
            names[start : start + len(name)] = name
            free = start + len(name) + 1
    far = length(last.distance_m)
    return [
        f"{'':>{_LEFT - 1}}└{''.join(axis)}\n",
        f"{'':>{_LEFT}}{''.join(names)}\n",
        f"{'':>{_LEFT}}{far:>{scale.columns}}",
    ]


_BAR = 41  # odd: the middle is what is expected
_HALVES = 4  # how many half-widths of the range a bar reaches to either side


def loop_bar(loop: Loop) -> list[Part]:
    """The range in the middle, the reading where it lies; an arrow where it lies beyond."""
    half = max((loop.high_ohm - loop.low_ohm) / 2, 1e-9)
    middle = _BAR // 2
    reach = middle / _HALVES
    cells: list[Cell] = [(" ", "")] * _BAR
    for place in range(round(middle - reach), round(middle + reach) + 1):
        cells[place] = ("═", "")
    cells[round(middle - reach)], cells[round(middle + reach)] = ("╞", ""), ("╡", "")
    cells[middle] = ("╪", "")
    if loop.read_ohm is not None:
        off = round((loop.read_ohm - loop.expected_ohm) / half * reach)
        mark, style = MARKS.get(loop.verdict, "o"), VERDICT_STYLE.get(loop.verdict, "bold")
        place = min(max(middle + off, 1), _BAR - 2)
        cells[place] = (mark, style)
        if abs(off) > middle - 1:
            edge = 0 if off < 0 else _BAR - 1
            cells[edge] = ("◄" if off < 0 else "►", style)
    return [cell if cell[1] else cell[0] for cell in cells]
