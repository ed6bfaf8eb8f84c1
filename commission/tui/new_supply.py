"""The form of a new site, second part: mains and the transformer of each output."""

from __future__ import annotations

from collections.abc import Sequence

from commission.authoring.draft import Units, usual_supply
from commission.authoring.transformer import USUAL
from commission.tui.screens.form import ONE_OF_THEM, Line

ALIKE, OTHERS = "alike", "each of its own"
ABOUT_SUPPLY = (
    "From the plate of the transformer or the data sheet of the controller; where it is not known, "
    "keep what is offered and look again later. Mains: a licensed person works on the supply."
)
_LINES = (
    ("rated", "Rated volts of the two-wire output", "at its rating, as 24 V"),
    ("rating", "What it may carry: VA or amperes", "60 VA or 2.5 A"),
    ("rise", "How far its volts rise without load", "regulation, as 12 %; or volts, as 27 V"),
    ("resistance", "Source resistance, where it is stated", "0.8 ohm; leave empty if unknown"),
)


def supply_lines(
    place: int,
    outputs: int,
    units: Units,
    plates: Sequence[dict[str, str]],
    mains: dict[str, str],
) -> list[Line]:
    """The lines for an output by its place: as answered before, else as the output before."""
    usual = usual_supply(units)
    before = plates[min(place, len(plates) - 1)] if plates else USUAL
    lines = [
        Line(key, label, before[key], hint=hint, needed="" if key == "resistance" else "write it")
        for key, label, hint in _LINES
    ]
    if place == 0:
        lines[:0] = [
            Line("mains", "Mains at the controller", mains.get("mains", usual.mains)),
            Line("frequency", "Its frequency", mains.get("frequency", usual.frequency)),
        ]
        if outputs > 1:
            value = plates[0].get("alike", ALIKE) if plates else ALIKE
            choices = (ALIKE, OTHERS)
            lines.append(Line("alike", "The other outputs", value, choices, needed=ONE_OF_THEM))
    return lines
