"""How a reading, or a coil's voltage, moves with each variable of an output: its slopes.

A variable moves impedances, the source's voltage or what decoders draw, each by a known amount; one
answer of the network at rest (`electrical.response`) says what each of these does to the quantity
watched. So all slopes of a quantity cost one more solution, however many variables there are.

Slopes are per unit of a cause: of a fraction, of a kelvin for "soil", of an ohm at 20 °C for
"segment/PATH/BOX".
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from functools import cached_property, lru_cache
from operator import mul
from typing import Literal

from commission.electrical.conductors import COPPER_PER_K, at_temperature
from commission.electrical.network import solve
from commission.electrical.response import Answer, of_current, of_voltage
from commission.electrical.segments import JOINT_OHM
from commission.electrical.solenoids import State
from commission.expected.causes import COIL_R, coil_key
from commission.expected.loops import path_loop
from commission.expected.model import OutputModel, source_v_ohm
from commission.expected.together import run_of
from commission.site.schema import ROOT, Station

Slope = dict[str, float]
Part = tuple[str, complex]  # a variable, and how much of something moves per unit of it
Column = tuple[complex, ...]  # how much moves per unit of one variable, at every node

_STEP = 1e-6  # of the one part that has no simple slope: a coil's resistance at constant |Z|
_KEPT = 16


def own(running: Iterable[Station]) -> list[str]:
    """The keys of the coils of stations."""
    return [f"own/{station.id}" for station in running]


class Slopes:
    """One output with stations running: any of its values, with its slope over every variable."""

    def __init__(self, model: OutputModel, running: Sequence[Station], state: State) -> None:
        """Those that always run are added when anything runs."""
        self.model = model
        chosen = {station.id: station for station in running}
        if chosen:
            chosen |= {station.id: station for station in model.always}
        self.running = tuple(chosen.values())
        self.coils = [coil for one in self.running for coil in model.coils(one, state)]
        self.solution = solve(model.network, self.coils)
        self._coil_parts = [
            parts for one in self.running for parts in _parts_of_coils(model, one, state)
        ]

    def voltage(self, path: str, box: str) -> tuple[float, Slope]:
        """Between the conductors at a box, in V."""
        node = self.model.nodes[path, box]
        return self._of(self.solution.node_v[node], of_voltage(self.solution, node))

    def terminals(self) -> tuple[float, Slope]:
        """At the output terminals, in V."""
        return self._of(self.solution.node_v[0], of_voltage(self.solution, 0))

    def current(self, path: str | None = None) -> tuple[float, Slope]:
        """Out of the terminals into a path, or of the whole output, in A."""
        first = [0] if path is None else self.model.first_nodes(path)
        total = sum((self.solution.branch_a[node] for node in first), 0j)
        return self._of(total, of_current(self.solution, first))

    def coil(self, number: int) -> tuple[float, Slope]:
        """At a coil itself, behind its decoder's output, in V; coils in the order of `coils`."""
        coil, node_v = self.coils[number], self.solution.node_v[self.coils[number].node]
        value = self.solution.coil_v[number]
        answer = of_voltage(self.solution, coil.node)
        per_ohm = (node_v - coil.drop_v) * coil.output_ohm / coil.total_z_ohm**2
        within = [(key, per_ohm * ohm) for key, ohm in self._coil_parts[number]]
        return self._of(value, answer, coil.z_ohm / coil.total_z_ohm, within)

    def _of(
        self,
        value: complex,
        answer: Answer,
        share: complex = 1.0,
        within: Iterable[Part] = (),
    ) -> tuple[float, Slope]:
        """Magnitude and slopes, of a value that moves by a share of what is watched."""
        size = abs(value)
        toward = value.conjugate() / size if size else 1.0 + 0j
        slope: Slope = defaultdict(float)
        parts, turned = _parts(self.model), share * toward
        per_ohm, per_ampere = answer.per_branch_ohm, answer.per_ampere
        for key, column in parts.along:
            slope[key] += (sum(map(mul, per_ohm, column)) * turned).real
        for key, node in parts.own:
            slope[key] += (per_ohm[node] * turned).real * parts.own_ohm
        for number, coil_parts in enumerate(self._coil_parts):
            moved = answer.per_coil_ohm(number) * turned
            for key, ohm in coil_parts:
                slope[key] += (moved * ohm).real
        for key, more_a in self._drawn:
            slope[key] += (sum(map(mul, per_ampere, more_a)) * turned).real
        slope["E"] += (answer.per_source_volt * parts.source_v * turned).real
        for key, moved in within:
            slope[key] += (moved * toward).real
        return size, slope

    @cached_property
    def _drawn(self) -> list[tuple[str, list[complex]]]:
        """What decoders draw more at every node per unit of their variable, by that."""
        node_v = self.solution.node_v
        return [
            (key, [a + s * v for a, s, v in zip(amperes, siemens, node_v, strict=True)])
            for key, amperes, siemens in _parts(self.model).drawn
        ]


@lru_cache(maxsize=_KEPT)
def solved(model: OutputModel, *running: Station) -> Slopes:
    """A settled output with its slopes; a station's current and voltage share one solution."""
    return Slopes(model, running, "holding")


Watched = Literal["terminals", "voltage", "current"]


def settled(
    model: OutputModel, running: Sequence[Station], watched: Watched, path: str = "", box: str = ""
) -> tuple[float, Slope]:
    """A settled value of an output with its slopes, once for each model: not to be changed.

    The voltage at the terminals or at a box, the current of a path or, without one, of the output.
    """
    key = (*(station.id for station in running), watched, path, box)
    if key not in model.settled:
        model.settled[key] = _watched(solved(model, *running), watched, path, box)
    return model.settled[key]


def _watched(slopes: Slopes, watched: Watched, path: str, box: str) -> tuple[float, Slope]:
    if watched == "terminals":
        return slopes.terminals()
    return slopes.voltage(path, box) if watched == "voltage" else slopes.current(path or None)


@dataclass(frozen=True, slots=True)
class _Parts:
    """What of an output moves per unit of each variable, node by node.

    The ohms of the branches that feed the nodes, by variables that move many of them (`along`), and
    by those that move one (`own`), all by as much; what decoders draw, in amperes and siemens; the
    source's volts.
    """

    along: tuple[tuple[str, Column], ...]
    own: tuple[tuple[str, int], ...]
    own_ohm: float
    drawn: tuple[tuple[str, Column, Column], ...]
    source_v: float


@lru_cache(maxsize=_KEPT)
def _parts(model: OutputModel) -> _Parts:
    """What of an output moves per unit of each variable."""
    size = len(model.network.parent)
    along: dict[str, list[complex]] = defaultdict(lambda: [0j] * size)
    _, along["Zs"][0] = source_v_ohm(model.output)
    own = []
    for (path, box), node in model.nodes.items():
        if node:
            key = f"segment/{path}/{box}"
            own.append((key, node))
            for by, ohm in _parts_of(model, path, box, key):
                along[by][node] += ohm
    amperes: dict[str, list[complex]] = defaultdict(lambda: [0j] * size)
    siemens: dict[str, list[complex]] = defaultdict(lambda: [0j] * size)
    net = model.network
    for station in model.stations:
        node, kind = model.nodes[station.path, station.box], model.decoder(station)
        rated_v, key = model.output.rated_voltage_v, f"standby/{station.decoder}"
        if kind.standby_model == "resistance":
            siemens[key][node] += kind.standby_current_a / rated_v
        elif kind.standby_model == "current":
            amperes[key][node] += kind.standby_current_a
        else:  # held at what it draws at the source's voltage: close enough for a slope
            amperes[key][node] += kind.standby_current_a * rated_v / net.source_v
    return _Parts(
        tuple((key, tuple(column)) for key, column in along.items()),
        tuple(own),
        at_temperature(1.0, model.soil_c),
        tuple((key, tuple(amperes[key]), tuple(siemens[key])) for key in {**amperes, **siemens}),
        net.source_v / (1.0 + model.shifts.get("E", 0.0)),
    )


def _parts_of(model: OutputModel, path: str, box: str, own_key: str) -> list[Part]:
    """How the loop impedance of a segment moves with each variable that moves others too."""
    stretch = model.drawing.stretch(path, model.drawing.trees[path].feeds[box])
    soil_c = model.soil_c
    extra_ohm = model.shifts.get(own_key, 0.0)
    z_ohm = model.z_ohm(stretch, extra_ohm)
    extra_warm_ohm = at_temperature(extra_ohm, soil_c)
    copper = z_ohm - 2 * JOINT_OHM - extra_warm_ohm
    length, pair = f"length/{stretch.length_by}", model.pair_ohm(stretch)
    per_k = COPPER_PER_K / at_temperature(1.0, soil_c)
    found = [
        (length, copper / (1.0 + model.shifts.get(length, 0.0))),
        ("soil", complex((copper.real + extra_warm_ohm) * per_k)),
    ]
    for kind, ohm in zip(stretch.kinds, pair, strict=True):
        key = f"conductor/{kind}"
        found.append((key, complex(ohm / (1.0 + model.shifts.get(key, 0.0)))))
    return found


def _parts_of_coils(model: OutputModel, station: Station, state: State) -> list[list[Part]]:
    """How the impedance of each coil of a station moves with each variable."""
    found: list[list[Part]] = []
    for one, coil in zip(station.solenoid, model.coils(station, state), strict=True):
        alone = coil_key(station, one)
        keys = (f"coil/{one.kind}", f"own/{station.id}", alone)
        parts = [(key, coil.z_ohm / (1.0 + model.shifts.get(key, 0.0))) for key in keys]
        if model.drawing.site.solenoid_kind[one.kind].coil_resistance_ohm is None:
            by = _per_coil_r(model, one.kind, state)
            own_factors = [1.0 + model.shifts.get(key, 0.0) for key in keys[1:]]
            parts.append((f"{COIL_R}/{one.kind}", by * own_factors[0] * own_factors[1]))
        found.append(parts)
    return found


@lru_cache(maxsize=_KEPT)
def _per_coil_r(model: OutputModel, kind: str, state: State) -> complex:
    """How the impedance of a kind of coil moves with its resistance, which leaves its magnitude."""
    key = f"{COIL_R}/{kind}"
    moved = model.shifted(key, model.shifts.get(key, 0.0) + _STEP)
    return (moved.coil_z_ohm(kind, state) - model.coil_z_ohm(kind, state)) / _STEP


def loop(model: OutputModel, path: str, box: str) -> tuple[float, Slope]:
    """Loop resistance with the pair bridged at a box, in ohm, and its slopes."""
    slope: Slope = defaultdict(float)
    parts, z_ohm = _parts(model), model.network.z_ohm
    found = path_loop(
        model.drawing, path, box,
        lambda segment: z_ohm[model.nodes[path, segment.to_box]].real, model.dc_factor,
    )  # fmt: skip
    shares = [(model.nodes[path, box], share) for box, share in found.shares.items()]
    for key, column in parts.along:
        by = sum(share * column[node].real for node, share in shares)
        if by:
            slope[key] += by
    for to_box, share in found.shares.items():
        slope[f"segment/{path}/{to_box}"] += share * parts.own_ohm
    for kind, ohm in found.decoders_ohm.items():
        slope[f"dc/{kind}"] += ohm / model.dc_factor(kind)
    return found.r_ohm, slope


def margin_ohm(model: OutputModel, path: str) -> dict[str, float]:
    """How many ohms more the first segments of a path could have, by the box that they feed.

    Then the first coil of the path's own worst set would be at its minimum, in inrush. A box whose
    segment feeds none of the set is left out; so are all where a coil is below its minimum already.
    """
    found = model.worst_set(path, enough=1.0)
    if found is None or found.ratio < 1.0:
        return {}
    slopes = Slopes(model, run_of(model, found).stations, "inrush")
    kinds = model.drawing.site.solenoid_kind
    minima = [kinds[c.kind].min_voltage_v for s in slopes.running for c in s.solenoid]
    margins: dict[str, float] = {}
    for number, min_v in enumerate(minima):
        voltage_v, slope = slopes.coil(number)
        for box, segment in model.drawing.trees[path].feeds.items():
            falls = -slope[f"segment/{path}/{box}"]
            if segment.from_box == ROOT and falls > 0 and voltage_v > min_v:
                ohm = (voltage_v - min_v) / falls
                margins[box] = min(ohm, margins.get(box, ohm))
    return margins
