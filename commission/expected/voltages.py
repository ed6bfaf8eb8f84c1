"""What voltages and currents should be: on the test day with its uncertainty, and at the worst.

Test-day values are settled ones (a meter sees holding, inrush lasts tens of milliseconds). Their
uncertainty is that of the causes of the model, each by its slope.
"""

from __future__ import annotations

from collections.abc import Mapping

from commission.electrical.sources import citation
from commission.electrical.uncertainty import Budget
from commission.expected.inputs import Drawing
from commission.expected.model import (
    OutputModel,
    on_test_day,
    rated_current_a,
    source_v_ohm,
    working_case,
)
from commission.expected.slopes import Slope, settled
from commission.expected.values import Expectation, Input
from commission.site.schema import Station
from commission.text import counted
from commission.units import Quantity

CHART = "chart rule: inrush, all drops in phase, conservative"
LAWS = citation("Kirchhoff and Thevenin")
_PRACTICE = citation("common practice, no source")


def _settled(
    name: str,
    quantity: Quantity,
    model: OutputModel,
    found: tuple[float, Slope],
    conditions: str,
    formula: str,
    inputs: tuple[Input, ...],
    what_below: str,
    what_above: str,
) -> Expectation:
    """An expectation of the network model: a value, and its budget from its slopes."""
    value, slope = found
    causes = model.contributions(slope)
    budget = Budget(value, causes)
    low, high = budget.expanded()
    return Expectation(
        name, quantity, "interval", value, max(0.0, low), high, budget.u, conditions,
        formula, inputs, LAWS, causes, what_below, what_above,
    )  # fmt: skip


def _source_inputs(model: OutputModel) -> tuple[Input, ...]:
    open_v, zs_ohm = source_v_ohm(model.output)
    return (
        Input("E at nominal mains", f"{open_v:.2f} V", "site file"),
        Input("mains over nominal", f"{model.mains:.3f}", "measured, else 1"),
        Input("Zs", f"{zs_ohm.real:.3f} + j{zs_ohm.imag:.3f} ohm", "site file"),
    )


def _day(model: OutputModel, mains_v: float | None) -> str:
    mains = f"mains {mains_v:.1f} V as measured" if mains_v else "mains at nominal"
    return f"{mains}, soil at {model.drawing.degrees(model.temperature_c)}"


def output_voltage(drawing: Drawing, output: str, mains_v: float | None) -> Expectation:
    """Terminal voltage with nothing running, at the mains measured (nominal when not), in V."""
    model = on_test_day(drawing, output, mains_v)
    return _settled(
        "output-voltage", "voltage", model, settled(model, (), "terminals"),
        f"nothing running, {_day(model, mains_v)}", "V = E x mains/nominal - Zs x I",
        _source_inputs(model),
        "mains low, output overloaded, or a short on a path",
        "mains high, or another transformer than drawn",
    )  # fmt: skip


def standby_current(drawing: Drawing, path: str, mains_v: float | None) -> Expectation:
    """Current of a path with nothing running: its decoders' standby, in A."""
    model = on_test_day(drawing, drawing.path_of[path].output, mains_v)
    count: dict[str, int] = {}
    for station in drawing.stations_on(path):
        count[station.decoder] = count.get(station.decoder, 0) + 1
    kinds = drawing.site.decoder_kind
    return _settled(
        "standby-current", "current", model, settled(model, (), "current", path),
        "nothing running; it cannot prove that each decoder is there, the station runs do",
        "I = sum of the decoders' standby currents",
        tuple(
            Input(name, f"{number} x {kinds[name].standby_current_a * 1000:g} mA", "site file")
            for name, number in count.items()
        ),
        "decoders missing, or a meter that does not read true r.m.s.",
        "too many decoders, a station left running, or a leak",
    )  # fmt: skip


def end_voltage(drawing: Drawing, path: str, box: str, mains_v: float | None) -> Expectation:
    """Voltage between the conductors at a box with nothing running, in V."""
    model = on_test_day(drawing, drawing.path_of[path].output, mains_v)
    return _settled(
        "end-voltage", "voltage", model, settled(model, (), "voltage", path, box),
        f"at {box}, nothing running, {_day(model, mains_v)}",
        "phasor solution of the whole output, all its paths", _source_inputs(model),
        "a bad joint on the way, or low supply", "high supply",
    )  # fmt: skip


def station_current(drawing: Drawing, station: Station, mains_v: float | None) -> Expectation:
    """Current of a station's path while it runs, settled (holding), standby included, in A."""
    model = on_test_day(drawing, drawing.path_of[station.path].output, mains_v)
    return _settled(
        "station-current", "current", model, settled(model, (station,), "current", station.path),
        f"station {station.number} running, settled, {_day(model, mains_v)}",
        "phasor solution of the whole output, all its paths",
        (*_source_inputs(model), *_coil_inputs(drawing, station)),
        "a coil open or not switched, or a bad joint",
        "a second decoder at the same address, or a shorted coil",
    )  # fmt: skip


def _coil_inputs(drawing: Drawing, station: Station) -> tuple[Input, ...]:
    kinds = drawing.site.solenoid_kind
    return tuple(
        Input(
            f"solenoid {one.id}",
            f"{kinds[one.kind].inrush_current_a:g} A inrush, "
            f"{kinds[one.kind].holding_current_a:g} A holding at "
            f"{kinds[one.kind].rated_voltage_v:g} V",
            "data sheet in the site file",
        )
        for one in station.solenoid
    )


def min_solenoid_v(drawing: Drawing, station: Station) -> float:
    """The highest minimum among a station's solenoids, in V."""
    kinds = drawing.site.solenoid_kind
    return max(kinds[one.kind].min_voltage_v for one in station.solenoid)


def chart_voltage_v(drawing: Drawing, station: Station) -> float:
    """Voltage at a station's box by the chart rule while it alone is in inrush, in V.

    Lowest mains, warmest soil, the conductors' sizing resistance; every drop is taken in phase and
    all standby of the output flows all the way.
    """
    model = working_case(drawing, drawing.path_of[station.path].output)
    net, node = model.network, model.nodes[station.path, station.box]
    ohm = abs(source_v_ohm(model.output)[1])
    while node:
        ohm += net.z_ohm[node].real
        node = net.parent[node]
    return _by_chart_v(model, station, ohm)


def chart_voltages_v(model: OutputModel) -> dict[str, float]:
    """Station id to the same, for all stations of an output at once, O(stations + boxes)."""
    net, route_ohm = model.network, [abs(source_v_ohm(model.output)[1])]
    for z_ohm, parent in zip(net.z_ohm[1:], net.parent[1:], strict=True):
        route_ohm.append(route_ohm[parent] + z_ohm.real)
    return {
        station.id: _by_chart_v(model, station, route_ohm[model.nodes[station.path, station.box]])
        for station in model.stations
    }


def _by_chart_v(model: OutputModel, station: Station, ohm: float) -> float:
    """At the end of a route of so many ohms, the source's included."""
    running = {s.id: s for s in model.always} | {station.id: station}
    current_a = model.standby_a + sum(
        model.drawing.site.solenoid_kind[one.kind].inrush_current_a
        for s in running.values()
        for one in s.solenoid
    )
    return source_v_ohm(model.output)[0] * model.mains - ohm * current_a


def _lowest_v(coils: Mapping[tuple[str, str], float], station: str) -> float:
    """The lowest voltage among a station's own coils, in V."""
    return min(volts for (owner, _coil), volts in coils.items() if owner == station)


def station_voltage(drawing: Drawing, station: Station, mains_v: float | None) -> Expectation:
    """Voltage between the conductors at a station's box while it runs, settled, in V.

    Beside it stands what a meter is too slow to see: the voltage in inrush at the worst, by the
    network and by the chart rule, with the solenoid's minimum.
    """
    output = drawing.path_of[station.path].output
    model, worst = on_test_day(drawing, output, mains_v), working_case(drawing, output)
    inrush_v = _lowest_v(worst.coil_voltages_v((station,), "inrush"), station.id)
    chart_v, min_v = chart_voltage_v(drawing, station), min_solenoid_v(drawing, station)
    return _settled(
        "station-voltage", "voltage", model,
        settled(model, (station,), "voltage", station.path, station.box),
        f"at {station.box}, settled, {_day(model, mains_v)}. In inrush at lowest mains "
        f"and {drawing.degrees(worst.temperature_c)} it is {inrush_v:.1f} V ({chart_v:.1f} V by "
        f"the {CHART}); its minimum is {min_v:.1f} V",
        "phasor solution of the whole output, all its paths",
        (
            *_source_inputs(model),
            *_coil_inputs(drawing, station),
            Input("V in inrush by the network, at the worst", f"{inrush_v:.2f} V", LAWS),
            Input(f"V by the {CHART}", f"{chart_v:.2f} V", _PRACTICE),
        ),
        "a bad joint on the way, or thin cable", "high supply, or the station does not run",
    )  # fmt: skip


def together_voltage(
    drawing: Drawing, output: str, running: tuple[str, ...], mains_v: float | None
) -> Expectation:
    """Voltage at the box of the worst solenoid while the worst set runs, settled, in V."""
    at = drawing.stations[running[-1]]
    stations = tuple(drawing.stations[one] for one in running)
    model, worst = on_test_day(drawing, output, mains_v), working_case(drawing, output)
    inrush_v = _lowest_v(worst.coil_voltages_v(stations, "inrush"), at.id)
    return _settled(
        "together-voltage", "voltage", model, settled(model, stations, "voltage", at.path, at.box),
        f"at {at.box}, station {at.number}, settled, {_day(model, mains_v)}. With all in "
        f"inrush at lowest mains and {drawing.degrees(worst.temperature_c)} it is "
        f"{inrush_v:.1f} V; its minimum is {min_solenoid_v(drawing, at):.1f} V",
        "phasor solution of the whole output, all its paths",
        (
            *_source_inputs(model),
            Input("running together", ", ".join(str(s.number) for s in stations), "worst set"),
            Input("V in inrush by the network, at the worst", f"{inrush_v:.2f} V", LAWS),
        ),
        "a bad joint on the way, or thin cable", "high supply, or stations of the set not running",
    )  # fmt: skip


def together_output_voltage(
    drawing: Drawing, output: str, running: tuple[str, ...], mains_v: float | None
) -> Expectation:
    """Terminal voltage while the worst set runs, settled, in V."""
    model = on_test_day(drawing, output, mains_v)
    stations = tuple(drawing.stations[one] for one in running)
    return _settled(
        "together-output-voltage", "voltage", model, settled(model, stations, "terminals"),
        f"{counted(len(stations), 'station')} running, settled, {_day(model, mains_v)}",
        "V = E x mains/nominal - Zs x I", _source_inputs(model),
        "mains low or the output overloaded", "stations of the set not running",
    )  # fmt: skip


def together_current(
    drawing: Drawing, output: str, running: tuple[str, ...], mains_v: float | None
) -> Expectation:
    """Current of the output while the worst set runs, settled, standby included, in A."""
    model = on_test_day(drawing, output, mains_v)
    stations = tuple(drawing.stations[one] for one in running)
    rated_a = rated_current_a(drawing.outputs[output])
    return _settled(
        "together-current", "current", model, settled(model, stations, "current"),
        f"{counted(len(stations), 'station')} running, settled, {_day(model, mains_v)}. The output "
        f"may carry {rated_a:.3g} A",
        "phasor solution of the whole output, all its paths",
        (
            *_source_inputs(model),
            Input("running together", ", ".join(str(s.number) for s in stations), "worst set"),
            Input("what the output may carry", f"{rated_a:.3g} A", "site file"),
        ),
        "stations of the set not running, or a coil open",
        "a station too many, a shorted coil, or another decoder at one of the addresses",
    )  # fmt: skip
