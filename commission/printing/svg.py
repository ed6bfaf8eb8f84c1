"""Drawings inside a page: shapes, words, a scale. Text becomes part of them only escaped.

Everything is black and grey on white paper, and what matters is a word or a shape as well.
"""

from __future__ import annotations

import html
from collections.abc import Iterator
from dataclasses import dataclass
from math import ceil, floor, log10
from typing import Final

from commission.printing.page import Html, text

STYLE: Final = """\
svg { display: block; width: 100%; height: auto; break-inside: avoid; }
svg text { font: 9px sans-serif; fill: #000; }
svg .small { font-size: 7.5px; }
svg .bold { font-weight: bold; }
svg .line { stroke: #000; stroke-width: 1; fill: none; }
svg .thick { stroke: #000; stroke-width: 1.8; fill: none; }
svg .thin { stroke: #888; stroke-width: 0.5; fill: none; }
svg .dashed { stroke: #000; stroke-width: 1; stroke-dasharray: 4 3; fill: none; }
svg .limit { stroke: #000; stroke-width: 1.6; stroke-dasharray: 9 3 2 3; fill: none; }
svg .band { fill: #ccc; stroke: none; }
svg .ink { fill: #000; stroke: #fff; stroke-width: 0.6; }
svg .paper { fill: #fff; stroke: #000; stroke-width: 1; }
"""
_STEPS: Final = (1.0, 2.0, 2.5, 5.0, 10.0)


def shape(name: str, *inside: Html, kind: str = "", **attributes: str | float) -> Html:
    """A shape of a drawing; an underscore in a name stands for a hyphen, as in `text_anchor`."""
    told = [("class", kind)] if kind else []
    told += [(key.replace("_", "-"), _value(one)) for key, one in attributes.items()]
    words = "".join(f' {key}="{html.escape(one, quote=True)}"' for key, one in told)
    return Html(f"<{name}{words}>{''.join(inside)}</{name}>")


def _value(one: str | float) -> str:
    return one if isinstance(one, str) else f"{one:.2f}".rstrip("0").rstrip(".")


def drawing(width: float, height: float, words: str, *inside: Html) -> Html:
    """A whole drawing; `words` say what it shows to whoever cannot see it."""
    return Html(
        f'<svg role="img" aria-label="{html.escape(words, quote=True)}" '
        f'viewBox="0 0 {_value(width)} {_value(height)}">{"".join(inside)}</svg>'
    )


def line(x1: float, y1: float, x2: float, y2: float, kind: str = "line") -> Html:
    """A straight line."""
    return shape("line", kind=kind, x1=x1, y1=y1, x2=x2, y2=y2)


def words_at(x: float, y: float, words: str, kind: str = "", anchor: str = "start") -> Html:
    """Words at a place, which is their start, middle or end."""
    return shape("text", text(words), kind=kind, x=x, y=y, text_anchor=anchor)


def polygon(points: list[tuple[float, float]], kind: str) -> Html:
    """A closed shape."""
    told = " ".join(f"{_value(x)},{_value(y)}" for x, y in points)
    return shape("polygon", kind=kind, points=told)


def shortened(words: str, most: int) -> str:
    """Words that fit a drawing; what is cut is told in full in a table."""
    return words if len(words) <= most else f"{words[: most - 1]}…"


@dataclass(frozen=True, slots=True)
class Scale:
    """Numbers along a line of the drawing: `low` lies at `start`, `high` at `stop`."""

    low: float
    high: float
    start: float
    stop: float

    def at(self, number: float) -> float:
        """Where a number lies; one beyond the ends lies at the nearer end."""
        inside = min(max(number, self.low), self.high)
        return self.start + (inside - self.low) / (self.high - self.low) * (self.stop - self.start)

    def ticks(self, count: int = 6) -> Iterator[float]:
        """Round numbers along the line, about so many."""
        step = round_step((self.high - self.low) / count)
        number = ceil(self.low / step - 1e-9)
        while number * step <= self.high + step * 1e-9:
            yield number * step
            number += 1


def round_step(least: float) -> float:
    """The smallest round number that is not less: 1, 2, 2.5 or 5 times a power of ten."""
    power = 10.0 ** floor(log10(least))
    return next(one * power for one in _STEPS if one * power >= least * (1 - 1e-9))


def around(numbers: list[float], least: float) -> tuple[float, float]:
    """Ends of a scale that holds some numbers, with room beside them; `least` wide."""
    low, high = min(numbers), max(numbers)
    room = max((high - low) * 0.06, (least - (high - low)) / 2, 1e-9)
    return low - room, high + room
