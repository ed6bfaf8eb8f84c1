"""The sizing of a site in words: how much is left, or what to enlarge until there is."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import Any

from commission.commands.for_programs import head
from commission.commands.say import table
from commission.expected.sheet import Sheet
from commission.expected.sizing import Sizing, as_plain_values, sizings
from commission.site.schema import Site
from commission.units import length_unit, show

KIND = "commission sizing"
FORMAT = 1
PRICE = "Cheapest is the least copper added, both conductors (judgement; trenching is not counted)."
CAUTION = (
    "As drawn; what is measured decides later. Local codes and the authority having jurisdiction\n"
    "decide; the limits here are defaults. Isolate, lock off and prove dead before work on cable."
)


def shown_in(site: Site, units: str | None) -> Site:
    """The same site shown in other units; None keeps its own."""
    if units is None:
        return site
    return replace(site, site=replace(site.site, units="US" if units == "US" else "SI"))


def document(sheet: Sheet, found: Sequence[Sizing]) -> dict[str, Any]:
    """The sizing as numbers for programs, SI."""
    site = sheet.site
    return {
        **head(KIND, FORMAT),
        "site": site.site.name,
        "conditions": {
            "soil_c": site.soil.warmest_c,
            "mains_v": site.supply.lowest_voltage_v,
        },
        "outputs": as_plain_values(found),
    }


def text(sheet: Sheet, found: Sequence[Sizing]) -> str:
    """The whole sizing as plain text."""
    site = sheet.site
    lowest_v = site.supply.lowest_voltage_v
    head = [
        f"Sizing of: {site.site.name}{' (invented)' if site.site.invented else ''}",
        f"The worst sets at the lowest mains ({lowest_v:.0f} V) and in the warmest soil "
        f"({sheet.drawing.degrees(site.soil.warmest_c)}),",
        "all of a set in inrush at once (conservative), conductors at their sizing resistance",
    ]
    for one in found:
        head += ["", *output_lines(sheet, one)]
    return "\n".join([*head, "", CAUTION])


def failing_lines(sheet: Sheet) -> list[str]:
    """The outputs that fail as drawn, each after an empty line; nothing where all pass."""
    failing = [one for one in sizings(sheet.drawing) if not one.passes]
    return [line for one in failing for line in ("", *output_lines(sheet, one))]


def output_lines(sheet: Sheet, found: Sizing) -> list[str]:
    """One output: passes with how much left, or fails and what helps."""
    if found.ratio_before is None:
        return [f"Output {found.output}: {found.reason}"]
    drawing = sheet.drawing
    numbers = ", ".join(str(drawing.stations[one].number) for one in found.stations)
    station = drawing.stations[found.station]
    lines = [
        f"Output {found.output}: {'passes' if found.passes else 'FAILS'} as drawn, "
        f"{_margin(found.ratio_before)}",
        f"  stations {numbers}; lowest at solenoid {found.solenoid} of station {station.number}, "
        f"box {station.box}: {found.voltage_v:.2f} V of {found.minimum_v:.2f} V",
    ]
    if found.passes:
        return lines
    if found.steps:
        lines += [*_steps(sheet, found)]
    else:
        lines.append(f"  Cable alone can't: {found.reason}.")
    return [*lines, _fewer(found)]


def _margin(ratio: float) -> str:
    """How far above or below its minimum a solenoid is."""
    percent = abs(ratio - 1) * 100
    return f"{percent:.2f} % {'above' if ratio >= 1 else 'below'} the minimum"


def _steps(sheet: Sheet, found: Sizing) -> list[str]:
    unit = length_unit(sheet.site.site.units)
    rows = [("  path", "segment to", "length", "from", "to", "copper added")]
    for step in found.steps:
        length = show(step.length_m, unit, "length")
        added = f"{step.added_copper_kg:.2f} kg"
        rows.append((f"  {step.path}", step.box, length, step.from_size, step.to_size, added))
    how = (
        "No choice of segments with less copper passes: all were tried."
        if found.search == "exact"
        else "Found step by step: with so many segments a cheaper choice may exist."
    )
    return [
        "  Enlarge both conductors, the segment with the least copper first:",
        table(rows, right=(2, 5)),
        f"  In all {found.added_copper_kg:.2f} kg more copper; then the worst set, searched anew, "
        f"is {_margin(found.ratio_after or 0.0)}.",
        f"  {PRICE}",
        f"  {how}",
    ]


def _fewer(found: Sizing) -> str:
    """What the cable as drawn allows."""
    if found.stations_at_once_as_drawn:
        return (
            f"  With the cable as drawn, at most {found.stations_at_once_as_drawn} of the "
            f"{found.stations_at_once} stations at once that the site allows."
        )
    return "  With the cable as drawn not even one station alone is sure to work."
