"""Every cell of a screen with its two colours, and how far these are apart.

Contrast is that of WCAG 2.2: (L1 + 0.05)/(L2 + 0.05), L the relative luminance of sRGB.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from functools import lru_cache
from typing import Any

from rich._palettes import STANDARD_PALETTE
from rich.color import Color, ColorSystem
from rich.segment import Segment
from rich.terminal_theme import DEFAULT_TERMINAL_THEME
from textual.app import App

Rgb = tuple[int, ...]  # red, green, blue, 0 to 255
MIN_CONTRAST = 7.0  # of WCAG 2.2, success criterion 1.4.6
MIN_CONTRAST_16 = 4.5  # 1.4.3: what the 16 colours look like is the terminal's own choice
MIN_CONTRAST_GREY_16 = 3.0  # 1.4.11: where no colours are wanted, four greys are left of the 16
_PALETTES = (STANDARD_PALETTE, DEFAULT_TERMINAL_THEME.ansi_colors)  # of two kinds of terminals


@dataclass(frozen=True, slots=True)
class Run:
    """Neighbouring cells of one style."""

    line: int
    text: str
    ink: Color
    ground: Color
    dim: bool

    @property
    def contrast(self) -> float:
        """Of ink and ground as they are sent to a terminal with all colours."""
        return contrast(_rgb(self.ink), _rgb(self.ground))

    @property
    def contrast_16(self) -> float:
        """The least in terminals of 16 colours, as the toolkit brings them down to those."""
        ink, ground = _one_of_16(self.ink), _one_of_16(self.ground)
        return min(contrast(p[ink], p[ground]) for p in _PALETTES)


def runs(app: App[Any]) -> Iterator[Run]:
    """Whatever is written on the screen; blanks have no ink, and are left out."""
    for number, strip in enumerate(app.screen._compositor.render_strips(app.size)):
        for segment in strip:
            if segment.text.strip() and segment.control is None:
                yield _run(number, segment)


def _run(line: int, segment: Segment) -> Run:
    style = segment.style
    assert style is not None, segment
    ink, ground = style.color or Color.default(), style.bgcolor or Color.default()
    if style.reverse:
        ink, ground = ground, ink
    return Run(line, segment.text, ink, ground, bool(style.dim))


def contrast(one: Rgb, other: Rgb) -> float:
    """1 for the same colour, 21 for black on white."""
    low, high = sorted(_luminance(colour) for colour in (one, other))
    return (high + 0.05) / (low + 0.05)


@lru_cache(maxsize=1000)
def _luminance(rgb: Rgb) -> float:
    parts = [c / 255 for c in rgb]
    linear = [c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in parts]
    return sum(w * c for w, c in zip((0.2126, 0.7152, 0.0722), linear, strict=True))


def _rgb(colour: Color) -> Rgb:
    assert colour.triplet is not None, f"{colour} depends on the terminal"
    return tuple(colour.triplet)


@lru_cache(maxsize=1000)
def _one_of_16(colour: Color) -> int:
    number = colour.downgrade(ColorSystem.STANDARD).number
    assert number is not None
    return number


def check_readable(app: App[Any]) -> None:
    """Fail with whatever on the screen is too near to its ground, in all colours or in 16."""
    found = list(runs(app))
    assert found, "nothing is written on the screen"
    least_16 = MIN_CONTRAST_GREY_16 if app.no_color else MIN_CONTRAST_16
    near = [
        f"line {run.line}: {run.text!r}: {run.ink.name} on {run.ground.name}: "
        f"{run.contrast:.1f}, in 16 colours {run.contrast_16:.1f}" + (", dim" if run.dim else "")
        for run in found
        if run.contrast < MIN_CONTRAST or run.contrast_16 < least_16 or run.dim
    ]
    assert not near, f"in the theme {app.theme}:\n" + "\n".join(near)
