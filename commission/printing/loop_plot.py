"""Loop readings against what was expected, each end of a path on a line of its own."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import Final

from commission.printing.page import Html
from commission.printing.svg import Scale, drawing, line, polygon, shape, shortened, words_at
from commission.profile import Loop
from commission.report.shown import as_read

_ROW: Final = 16
_WIDTH, _LEFT, _RIGHT = 560, 120, 400
_ROWS_EACH: Final = 20
_LEAST: Final = 0.05  # the scale reaches at least so far to either side, as a fraction
_BEYOND: Final = 2.5  # times the widest range; a reading farther off points out at the edge


def loop_drawings(loops: Sequence[Loop]) -> list[Html]:
    """The readings drawn, some twenty to a drawing."""
    widest = max(
        abs(one.off(ohm)) for one in loops for ohm in (one.accepted_low_ohm, one.accepted_high_ohm)
    )
    farthest = max(abs(one.off(one.read_ohm or one.expected_ohm)) for one in loops)
    reach = max(_LEAST, min(max(widest, farthest) * 1.1, widest * _BEYOND))
    across = Scale(-reach, reach, _LEFT, _RIGHT)
    pieces = [loops[n : n + _ROWS_EACH] for n in range(0, len(loops), _ROWS_EACH)]
    return [_drawing(piece, across) for piece in pieces]


def _drawing(loops: Sequence[Loop], across: Scale) -> Html:
    bottom = len(loops) * _ROW + 4.0
    shapes = [*_axis(across, bottom)]
    for number, one in enumerate(loops):
        shapes += _row(one, across, number * _ROW + _ROW / 2 + 2)
    words = "loop readings against expectation; the tables of the paths tell the same"
    return drawing(_WIDTH, bottom + 34, words, *shapes)


def _axis(across: Scale, bottom: float) -> Iterator[Html]:
    for number in across.ticks(6):
        x = across.at(number)
        yield line(x, 0, x, bottom + 3, "thin")
        yield words_at(
            x, bottom + 12, f"{number * 100:+.3g} %" if number else "0", "small", "middle"
        )
    middle = across.at(0.0)
    yield line(middle, 0, middle, bottom + 3)
    y = bottom + 28
    yield shape("rect", kind="band", x=_LEFT, y=y - 7, width=18, height=8)
    yield words_at(_LEFT + 22, y, "expected range", "small")
    yield line(206, y - 3, 224, y - 3)
    yield words_at(228, y, "with the meter's own error", "small")
    yield _mark(346, y - 3)
    yield words_at(354, y, "read", "small")


def _row(one: Loop, across: Scale, y: float) -> Iterator[Html]:
    yield words_at(_LEFT - 6, y + 3, shortened(_place(one), 22), anchor="end")
    low, high = across.at(one.off(one.low_ohm)), across.at(one.off(one.high_ohm))
    yield shape("rect", kind="band", x=low, y=y - 5, width=high - low, height=10)
    wide_low = across.at(one.off(one.accepted_low_ohm))
    wide_high = across.at(one.off(one.accepted_high_ohm))
    yield line(wide_low, y, wide_high, y)
    for x in (wide_low, wide_high):
        yield line(x, y - 3, x, y + 3)
    if one.read_ohm is not None:
        off = one.off(one.read_ohm)
        yield _mark(across.at(off), y) if abs(off) <= across.high else _beyond(off, y)
    read = as_read(one.entry) if one.entry else "not read"
    words = f"{read}, expected {one.expected_ohm:.3g}"
    yield words_at(_RIGHT + 6, y + 3, shortened(f"{words}: {one.verdict}", 36), "small")


def _place(one: Loop) -> str:
    return f"{one.path}, {one.end}{' reversed' if one.is_reversed else ''}"


def _beyond(off: float, y: float) -> Html:
    """A point out of the drawing, towards a reading that lies beyond it."""
    x, out = (_RIGHT, 7) if off > 0 else (_LEFT, -7)
    return polygon([(x - out, y - 5), (x, y), (x - out, y + 5)], "ink reading")


def _mark(x: float, y: float) -> Html:
    return polygon([(x - 4, y), (x, y - 4), (x + 4, y), (x, y + 4)], "ink reading")
