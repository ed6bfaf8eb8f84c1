"""Answers of a form that mean a number or a length, checked at their line."""

from __future__ import annotations

from collections.abc import Mapping

from commission.site.schema import MAX_LENGTH_M
from commission.tui.screens.form import LineRefused
from commission.units import in_unit, length_unit, parse_quantity

MOST_THINGS = 1_000
# Shorter is no cable between two boxes, but a slip of the hand (judgement).
MIN_LENGTH_M = 0.1


def whole_number(
    values: Mapping[str, str], key: str, least: int = 1, most: int = MOST_THINGS
) -> int:
    """A whole number within bounds; raises LineRefused."""
    words = values[key]
    if not (words.isascii() and words.isdecimal() and len(words) < 10):
        raise LineRefused(key, "write a whole number")
    if not least <= int(words) <= most:
        raise LineRefused(key, f"from {least} to {most}")
    return int(words)


def checked_length(values: Mapping[str, str], key: str, units: str) -> str:
    """The length of a cable, as it was written; raises LineRefused in the units that are shown."""
    try:
        length_m = parse_quantity(values[key], "length")
    except ValueError as error:
        raise LineRefused(key, str(error)) from None
    if not MIN_LENGTH_M <= length_m <= MAX_LENGTH_M:
        raise LineRefused(key, f"a cable has {_in(MIN_LENGTH_M, units)} to {_most(units)}")
    return values[key]


def _in(length_m: float, units: str) -> str:
    """A short length for people."""
    unit = "in" if units == "US" else "cm"
    return f"{in_unit(length_m, unit, 'length'):.0f} {unit}"


def _most(units: str) -> str:
    """The longest, to the hundred below."""
    unit = length_unit(units)
    return f"{in_unit(MAX_LENGTH_M, unit, 'length') // 100 * 100:.0f} {unit}"
