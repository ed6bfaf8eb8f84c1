"""`commission size`: how far each cable reaches, as a chart; or what to enlarge at a site."""

from __future__ import annotations

import argparse
from collections.abc import Sequence
from math import floor
from typing import TYPE_CHECKING

from commission.commands.for_programs import head, json_text
from commission.commands.say import say, table
from commission.problems import EXIT_DONE, EXIT_FINDINGS, InputRefused, Problem
from commission.units import Quantity, in_unit, length_unit, parse_quantity, show

if TYPE_CHECKING:
    from commission.expected.chart import Chart

KIND = "commission sizing chart"
FORMAT = 1
MOST_SOLENOIDS = 10

# option -> quantity, what counts without it and why, least, most
ASKED: dict[str, tuple[Quantity, str, str, float, float]] = {
    "source": (
        "voltage", "24 V", "about an idle 24 V transformer on the lowest mains; judgement",
        0.1, 1000.0,
    ),
    "minimum": ("voltage", "20 V", "common practice, no source", 0.0, 1000.0),
    "current": ("current", "0.37 A", "inrush of one solenoid; judgement", 1e-3, 100.0),
    "soil": ("temperature", "27 °C", "warmest; judgement", -40.0, 70.0),
}  # fmt: skip
DEFAULT_SOLENOIDS = 4
DEGREES = {"US": "°F", "SI": "°C"}
PER_LENGTH = {"US": "ohm/1000 ft", "SI": "ohm/km"}
CAUTION = (
    "Left out: joints, the source's own impedance, decoders' standby. Take as source\n"
    "what the terminals have left under load on the lowest mains, and solenoids from\n"
    "their data sheets. Local codes and the authority having jurisdiction decide.\n"
    "Work on the supply side is for a licensed person: isolate, lock off, prove dead."
)


def run(options: argparse.Namespace) -> int:
    """Print the chart; with a site, its sizing: exit code 1 when an output fails as drawn."""
    return _chart(options) if options.target is None else _site(options)


# The chart


def _chart(options: argparse.Namespace) -> int:
    chart, sizes = asked_chart(options)
    if options.json:
        say(json_text(head(KIND, FORMAT) | chart.document(sizes)))
        return EXIT_DONE
    from commission.expected.sizes import is_awg

    parts = []
    for units, of_family in (("US", True), ("SI", False)):
        if options.units in (None, units):
            here = [size for size in sizes if options.units or is_awg(size) is of_family]
            parts += [*_rows(chart, units, here), ""] if here else []
    say("\n".join([*parts, *_taken(options), CAUTION]))
    return EXIT_DONE


def asked_chart(options: argparse.Namespace) -> tuple[Chart, tuple[str, ...]]:
    """The chart that the options ask for and its cables; InputRefused with every problem."""
    from commission.expected.chart import Chart

    problems: list[Problem] = []
    found = {name: _value(name, getattr(options, name), problems) for name in ASKED}
    most = _solenoids(options.solenoids, problems)
    sizes = _sizes(options.cable, options.units, problems)
    if not problems and found["source"] <= found["minimum"]:
        problems.append(
            _problem("minimum", "it is not below the source's voltage: no cable is short enough",
                     "a lower minimum, or a higher source")
        )  # fmt: skip
    if problems:
        raise InputRefused(problems)
    return Chart(found["source"], found["minimum"], found["current"], found["soil"], most), sizes


def _problem(option: str, message: str, remedy: str) -> Problem:
    return Problem("command line", message, f"--{option}", remedy=remedy)


def _value(name: str, text: str | None, problems: list[Problem]) -> float:
    quantity, usual, _why, least, most = ASKED[name]
    try:
        value = parse_quantity(usual if text is None else text, quantity)
        if not least <= value <= most:
            raise ValueError(f"'{text}' is outside what is possible ({least:g} to {most:g} in SI)")
    except ValueError as error:
        problems.append(_problem(name, str(error), f'write it like "{usual}"'))
        return 0.0
    return value


def _solenoids(text: str | None, problems: list[Problem]) -> int:
    if text is None:
        return DEFAULT_SOLENOIDS
    number = int(text) if text.isascii() and text.isdecimal() and len(text) < 4 else 0
    if not 1 <= number <= MOST_SOLENOIDS:
        words = f"'{text}' is not a number of solenoids"
        problems.append(_problem("solenoids", words, f"a whole number, 1 to {MOST_SOLENOIDS}"))
    return number


def _sizes(
    asked: Sequence[str] | None, units: str | None, problems: list[Problem]
) -> tuple[str, ...]:
    """The cables asked for by name; without any, all of the families to be shown."""
    from commission.expected.sizes import AWG, METRIC, conductor_of

    if not asked:
        return {"US": AWG, "SI": METRIC}.get(units or "", AWG + METRIC)
    found = []
    for text in asked:
        try:
            found.append(conductor_of(text).size)
        except ValueError as error:
            problems.append(_problem("cable", str(error), 'write it like "14 AWG" or "2.5 mm²"'))
    return tuple(dict.fromkeys(found))


def _rows(chart: Chart, units: str, sizes: Sequence[str]) -> list[str]:
    """One table, with what it was computed for above it."""
    from commission.expected.voltages import CHART

    length, per_length, degrees = length_unit(units), PER_LENGTH[units], DEGREES[units]
    counts = [str(active) for active in range(1, chart.most_solenoids + 1)]
    rows = [["cable", per_length, *counts]]
    for size in sizes:
        per_m = chart.r_ohm_per_m(size)
        reach = (floor(in_unit(m, length, "length") + 1e-9) for m in chart.distances_m(size))
        own = show(per_m, per_length, "resistance per length").removesuffix(per_length).strip()
        rows.append([size, own, *(str(one) for one in reach)])
    soil = show(chart.soil_c, degrees, "temperature")
    return [
        f"How far a cable reaches, in {length}, by the number of solenoids active at its end",
        CHART,
        "(V source - V minimum) / (solenoids x I x 2 x r), rounded down",
        f"source {chart.source_v:g} V, at least {chart.min_v:g} V at the solenoid, "
        f"{chart.current_a:g} A each, soil at {soil}",
        table(rows, right=range(1, len(rows[0]))),
    ]


def _taken(options: argparse.Namespace) -> list[str]:
    """What was not given and therefore taken, and what the resistances are."""
    lines = ["AWG: solid copper, nominal (ASTM B258). mm²: limit of IEC 60228, any strands."]
    missing = [
        f"  --{name} {usual} ({why})"
        for name, (_quantity, usual, why, _least, _most) in ASKED.items()
        if getattr(options, name) is None
    ]
    return [*lines, *(["Not given, so taken:", *missing] if missing else [])]


# A site


def _site(options: argparse.Namespace) -> int:
    from commission.commands.size_site import document, shown_in, text
    from commission.expected.sheet import Sheet
    from commission.expected.sizing import sizings
    from commission.host import Disk
    from commission.opening import site_of

    given = [name for name in (*ASKED, "solenoids", "cable") if getattr(options, name) is not None]
    if given:
        words = "it is for the chart without a site"
        raise InputRefused(
            [_problem(name, words, "leave it out; the site file says it") for name in given]
        )
    sheet = Sheet(shown_in(site_of(options.target, Disk()), options.units))
    found = sizings(sheet.drawing)
    if options.json:
        say(json_text(document(sheet, found)))
    else:
        say(text(sheet, found))
    return EXIT_DONE if all(one.passes for one in found) else EXIT_FINDINGS
