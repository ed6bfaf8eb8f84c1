"""The expectations of a site as a sheet that is read, printed and taken along."""

from __future__ import annotations

from textwrap import wrap

from commission.commands.expect_json import STATES, ends_of, together
from commission.commands.say import table
from commission.commands.size_site import failing_lines
from commission.expected.alone import each_alone
from commission.expected.asfound import in_words
from commission.expected.earth import AUXILIARY, electrode_expectation
from commission.expected.model import working_case
from commission.expected.sheet import Sheet, Spot
from commission.expected.to_earth import CONDUCTORS
from commission.expected.values import Expectation
from commission.expected.voltages import CHART, chart_voltage_v, min_solenoid_v
from commission.units import show

LIMITS = (
    ("earth-resistance", "Earth electrode", "ohm"),
    ("earthing-conductor", "Earthing conductor, end to end", "ohm"),
    ("insulation", "Insulation, decoders not connected", "Mohm"),
    ("leak-resistance", "Path to earth, multimeter (indicative)", "Mohm"),
    ("unbridged-resistance", "Path, nothing bridged", "kohm"),
    ("dead-voltage", "Dead path, each way", "V"),
    ("mains-voltage", "Mains", "V"),
    ("closing-time", "Valve closes within", "s"),
)
CAUTION = (
    "Mains at the controller: isolate, lock off, prove dead. Never put an insulation tester on a\n"
    "path with electronics connected. Local codes and the authority having jurisdiction decide;\n"
    "the limits here are defaults."
)


def text(sheet: Sheet) -> str:
    """The whole sheet as plain text."""
    site = sheet.site
    parts = [f"Expected at: {site.site.name}"]
    if site.site.invented:
        parts[0] += " (invented)"
    parts += ["", *_loops(sheet), "", *_outputs(sheet), "", *_limits(sheet), *_earth(sheet)]
    for output in site.output:
        parts += ["", *_stations(sheet, output.id), "", *_together(sheet, output.id)]
    return "\n".join([*parts, *failing_lines(sheet), "", CAUTION])


def _range(expectation: Expectation | None, unit: str) -> tuple[str, str]:
    """Value and range, or the limit alone."""
    if expectation is None:
        return "", ""
    value = show(expectation.value, unit, expectation.quantity)
    if expectation.sides != "interval":
        return "", f"{'at least' if expectation.sides == 'minimum' else 'at most'} {value}"
    return value, f"{expectation.between(unit)} {unit}"


def _loops(sheet: Sheet) -> list[str]:
    soil = sheet.drawing.degrees(sheet.site.soil.test_day_c)
    rows = [("path", "end", "expected", "range")]
    for path in sheet.site.path:
        for box in ends_of(sheet, path.id):
            spot = Spot(path.output, path.id, box)
            value, interval = _range(sheet.expectation("loop-resistance", spot), "ohm")
            rows.append((path.id, box, value, interval))
    return [
        f"Loop resistance, pair bridged at the end, soil at {soil} on the test day",
        table(rows),
    ]


def _outputs(sheet: Sheet) -> list[str]:
    rows = [("output", "path", "what", "expected", "range")]
    for output in sheet.site.output:
        spot = Spot(output.id)
        value, interval = _range(sheet.expectation("output-voltage", spot), "V")
        rows.append((output.id, "", "voltage at the terminals", value, interval))
        for path in sheet.site.path:
            if path.output == output.id:
                spot = Spot(output.id, path.id)
                value, interval = _range(sheet.expectation("standby-current", spot), "mA")
                rows.append((output.id, path.id, "standby current", value, interval))
                for conductor in CONDUCTORS:
                    found = sheet.expectation(f"{conductor}-volts-to-earth", spot)
                    value, interval = _range(found, "V")
                    rows.append(
                        (output.id, path.id, f"{conductor} conductor to earth", value, interval)
                    )
    return ["Nothing running, mains at nominal, test day", table(rows)]


def _limits(sheet: Sheet) -> list[str]:
    rows = []
    for name, words, unit in LIMITS:
        _value, bound = _range(sheet.expectation(name, Spot()), unit)
        if bound:
            rows.append((words, bound))
    return [
        "Limits; a reading nearer to one than the meter's accuracy is marginal", table(rows),
    ]  # fmt: skip


def _earth(sheet: Sheet) -> list[str]:
    """What the electrodes should give, from which numbers, and whether the limit can be met."""
    found = electrode_expectation(sheet.drawing)
    if found is None:
        return []
    value, interval = _range(found, "ohm")
    return [
        "", f"Earth electrode, from soil and dimensions: {value}, {interval}",
        *_wrapped(found.conditions),
        *(f"  {one.name}: {one.value}" for one in found.inputs),
        *_wrapped(f"by {found.formula}"),
        *_wrapped(f"source: {found.source}"),
        *_wrapped(AUXILIARY),
    ]  # fmt: skip


def _wrapped(text: str) -> list[str]:
    return wrap(text, 88, initial_indent="  ", subsequent_indent="    ")


def _worst_case(sheet: Sheet) -> str:
    supply = sheet.site.supply
    lowest_v = supply.lowest_voltage_v
    soil = sheet.drawing.degrees(sheet.site.soil.warmest_c)
    return f"at the lowest mains ({lowest_v:.0f} V) and in the warmest soil ({soil})"


def _stations(sheet: Sheet, output_id: str) -> list[str]:
    """Every station alone: at the coil by the network, at the box by the chart rule."""
    model = working_case(sheet.drawing, output_id)
    rows: list[tuple[str, ...]] = [
        ("station", "path", "box", "inrush", "holding", "chart", "minimum")
    ]
    alone = [each_alone(model, state) for state in STATES]
    for station in model.stations:
        inrush, holding = (one[station.id].lowest_v for one in alone)
        chart = chart_voltage_v(sheet.drawing, station)
        least = min_solenoid_v(sheet.drawing, station)
        volts = (f"{value:.1f} V" for value in (inrush, holding, chart, least))
        rows.append((str(station.number), station.path, station.box, *volts))
    return [
        f"Output {output_id}: voltage with one station running,",
        f"{_worst_case(sheet)}",
        "inrush and holding: at the coil, r.m.s.",
        f"chart: at the box by the {CHART}",
        table(rows, right=(0, 3, 4, 5, 6)),
    ]


def _why_inexact(sheet: Sheet, output_id: str) -> str:
    """Why a worse set may exist than the one found."""
    if any(working_case(sheet.drawing, output_id).network.standby_w):
        return "found with standby of constant power held: one a little worse may exist"
    return "the search was ended early: a worse set may exist"


def _together(sheet: Sheet, output_id: str) -> list[str]:
    found = together(sheet, working_case(sheet.drawing, output_id))
    if not found:
        return [f"Output {output_id}: no station may run"]
    stations = [sheet.drawing.stations[one] for one in found["stations"]]
    owner = next(s for s in stations if found["solenoid"] in {one.id for one in s.solenoid})
    numbers = ", ".join(str(station.number) for station in stations)
    early = [] if found["exact"] else [f"  ({_why_inexact(sheet, output_id)})"]
    return [
        f"Output {output_id}: the worst set that may run together,",
        f"{_worst_case(sheet)}",
        f"  stations {numbers}; lowest at solenoid {found['solenoid']} of station {owner.number}, "
        f"box {owner.box}:",
        f"  {found['inrush_voltage_v']:.1f} V at the coil with all in inrush (conservative),",
        f"  {found['staggered_voltage_v']:.1f} V starting alone with the others held, "
        f"{found['holding_voltage_v']:.1f} V held; minimum {found['minimum_v']:.1f} V;",
        f"  {in_words(found['probability_above_minimum'])} that all stay above their minimum, "
        "before any reading",
        *early,
        "  current of the output, nominal mains:",
        *(f"    {carried.words}" for carried in sheet.carried(output_id)),
    ]
