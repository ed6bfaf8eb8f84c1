"""A meter's accuracy as its data sheet prints it, on one line, to and from `Range` values.

to 40 ohm: 0.5 % + 2 x 0.01 ohm, offset 0.05 ohm; to 4 kohm: 0.5 % + 2 x 1 ohm
"""

from __future__ import annotations

import re

from commission.units import Quantity, of_a_difference, parse_quantity
from commission.user.instruments import Range

EXAMPLE = "to 40 ohm: 0.5 % + 2 x 0.01 ohm"
_RANGE = re.compile(
    r"to (?P<up_to>[^:]+): *(?P<percent>[0-9.,]+) *% *"
    r"\+ *(?P<counts>[0-9]+) *[x*] *(?P<resolution>[^,]+(?:,[0-9][^,]*)?)"
    r"(?:, *offset (?P<offset>.+))?"
)


def ranges(text: str, quantity: Quantity) -> tuple[Range, ...]:
    """Parse the ranges of one quantity; an empty text has none. Raises ValueError in words."""
    found = []
    for part in (one.strip() for one in text.split(";")):
        if not part:
            continue
        match = _RANGE.fullmatch(part)
        if match is None:
            raise ValueError(f"'{part}': write the accuracy like '{EXAMPLE}'")
        steps = of_a_difference(quantity)
        for key, one in (("up_to", quantity), ("resolution", steps), ("offset", steps)):
            if match[key]:
                parse_quantity(match[key], one)  # says what is wrong with the unit
        percent = parse_quantity(f"{match['percent']} %", "fraction") * 100
        found.append(
            Range(
                quantity,
                match["up_to"].strip(),
                round(percent, 6),
                float(match["counts"]),
                match["resolution"].strip(),
                (match["offset"] or "").strip(),
            )
        )
    return tuple(found)


def text_of(found: tuple[Range, ...], quantity: str) -> str:
    """The ranges of one quantity on one line."""
    return "; ".join(
        f"to {one.up_to}: {one.percent:g} % + {one.counts:g} x {one.resolution}"
        + (f", offset {one.offset}" if one.offset else "")
        for one in found
        if one.quantity == quantity
    )
