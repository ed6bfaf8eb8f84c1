"""How a reading, or a coil's voltage, moves with each variable of an output: its slopes.

Shared causes are few and are moved one after the other. Segments are many: all their slopes come
from one more solution of the network, by reciprocity.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import replace

from commission.electrical.conductors import at_temperature
from commission.electrical.network import Coil, Solution, solve
from commission.electrical.solenoids import State
from commission.expected.model import OutputModel
from commission.site.schema import ROOT, Station

STEP = 1e-4  # of a fraction, or a kelvin: small against every half-width


def stepped(model: OutputModel, key: str) -> OutputModel:
    """The output with one variable moved by a small step."""
    return model.shifted(key, model.shifts.get(key, 0.0) + STEP)


def differences(
    model: OutputModel, value_of: Callable[[OutputModel], float], keys: Iterable[str]
) -> dict[str, float]:
    """Slope of a value over each variable, by one small step."""
    value = value_of(model)
    return {key: (value_of(stepped(model, key)) - value) / STEP for key in keys}


def own(running: Iterable[Station]) -> list[str]:
    """The keys of the coils of stations."""
    return [f"own/{station.id}" for station in running]


def coils_of(
    model: OutputModel, running: Sequence[Station], state: State = "holding"
) -> list[Coil]:
    """The coils of running stations, those that always run included, as the model solves them."""
    chosen = {station.id: station for station in running}
    if chosen:
        chosen |= {station.id: station for station in model.always}
    return [coil for station in chosen.values() for coil in model.coils(station, state)]


def segment_gradient(
    model: OutputModel, solution: Solution, coils: Sequence[Coil], node: int
) -> dict[str, float]:
    """Volts at a node per ohm (20 °C) more in each segment.

    An ohm more in a branch that carries I is a voltage of I ohm against it. By reciprocity it moves
    node i by the current that the branch carries when one ampere is drawn at i and nothing drives:
    dV = -I·J, one more solution for all segments.
    """
    net = model.network
    size = len(net.parent)
    drawn = tuple(1.0 + 0j if i == node else 0j for i in range(size))
    passive = replace(net, source_v=0.0, standby_a=drawn, standby_w=(0.0,) * size)
    flow = solve(passive, [replace(coil, drop_v=0.0) for coil in coils]).branch_a
    voltage = solution.node_v[node]
    toward = voltage.conjugate() / abs(voltage)
    warm = at_temperature(1.0, model.temperature_c + model.shifts.get("soil", 0.0))
    return {
        f"segment/{path}/{box}": -(solution.branch_a[i] * flow[i] * toward).real * warm
        for (path, box), i in model.nodes.items()
        if i
    }


def loop(
    model: OutputModel, path: str, box: str, shared: Iterable[str]
) -> tuple[float, dict[str, float]]:
    """Loop resistance of a route and its gradient."""
    route = model.drawing.route(path, box)

    def loop_ohm(m: OutputModel) -> float:
        return sum(
            m.z_ohm(s, m.shifts.get(f"segment/{path}/{s.segment.to_box}", 0.0)).real for s in route
        )

    moving = [key for key in shared if key == "soil" or key.startswith(("length/", "conductor/"))]
    gradient = differences(model, loop_ohm, moving)
    warm = at_temperature(1.0, model.temperature_c + model.shifts.get("soil", 0.0))
    gradient |= {f"segment/{path}/{s.segment.to_box}": warm for s in route}
    return loop_ohm(model), gradient


def margin_ohm(model: OutputModel, path: str) -> dict[str, float]:
    """How many ohms more the first segments of a path could have, by the box that they feed.

    Then the first coil of the path's own worst set would be at its minimum, in inrush. A box whose
    segment bears nothing, or feeds none of the set, is left out.
    """
    found = model.worst_set(path)
    if found is None:
        return {}
    by_number = {station.number: station for station in model.stations}
    running = [by_number[number] for number in found.stations]
    coils = coils_of(model, running, "inrush")
    solution = solve(model.network, coils)
    kinds = model.drawing.site.solenoid_kind
    chosen = {station.id: station for station in (*running, *model.always)}
    minima = [kinds[c.kind].min_voltage_v for s in chosen.values() for c in s.solenoid]
    margins: dict[str, float] = {}
    for coil, voltage, min_v in zip(coils, solution.coil_v, minima, strict=True):
        slopes = segment_gradient(model, solution, coils, coil.node)
        share = abs(coil.z_ohm / coil.total_z_ohm)
        for box, segment in model.drawing.trees[path].feeds.items():
            slope = -slopes[f"segment/{path}/{box}"] * share
            if segment.from_box == ROOT and slope > 0 and abs(voltage) > min_v:
                ohm = (abs(voltage) - min_v) / slope
                margins[box] = min(ohm, margins.get(box, ohm))
    return margins
