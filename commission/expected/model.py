"""One output of a site as the network of `electrical.network`: terminals, boxes, standby, coils.

Node 0 is the output terminals; every box of every path follows, parents first. The same builder
serves both questions: the test day (nominal resistances, measured mains) and "will it work"
(sizing resistances, warmest soil, lowest mains).
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, field, replace
from functools import cached_property, lru_cache
from types import MappingProxyType

from commission.electrical import solenoids
from commission.electrical import worst_set as search
from commission.electrical.conductors import at_temperature
from commission.electrical.network import Coil, CollapseError, Network, Solution, network, solve
from commission.electrical.segments import JOINT_OHM, loop_x_ohm
from commission.electrical.uncertainty import Contribution
from commission.expected.causes import COIL_R, Cause, causes_of, coil_key, contributions
from commission.expected.inputs import Drawing, Stretch
from commission.site.schema import ROOT, DecoderKind, Output, SolenoidKind, Station

_MAX_STEPS = 5_000_000  # of the search for the worst set, times stations: seconds
_KEPT = 8  # models with their networks, for the outputs of the sites at hand


def source_v_ohm(output: Output) -> tuple[float, complex]:
    """E and Zs of an output at nominal mains, in V and Ω.

    As given; or E = V·(1 + regulation) and Zs = (E - V)/I rated, resistive. Regulation is the rise
    from rated load to none, as a fraction of the rated voltage.
    """
    if output.open_circuit_voltage_v is not None:
        zs = complex(output.source_resistance_ohm or 0.0, output.source_reactance_ohm)
        return output.open_circuit_voltage_v, zs
    rated_v = output.rated_voltage_v
    open_v = rated_v * (1 + (output.regulation or 0.0))
    return open_v, complex((open_v - rated_v) / rated_current_a(output))


def rated_current_a(output: Output) -> float:
    """What the output may carry, in A: its rated current, or its rating over its rated voltage."""
    if output.rated_current_a is not None:
        return output.rated_current_a
    return (output.rating_va or 0.0) / output.rated_voltage_v


def solenoid(kind: SolenoidKind) -> solenoids.Solenoid:
    """A solenoid kind of the site file as the laws know it."""
    return solenoids.Solenoid(
        rated_v=kind.rated_voltage_v,
        inrush_a=kind.inrush_current_a,
        holding_a=kind.holding_current_a,
        rated_hz=kind.rated_frequency_hz,
        r_ohm=kind.coil_resistance_ohm,
        min_v=kind.min_voltage_v,
    )


@dataclass(frozen=True, eq=False)  # one model is itself: what follows from it is kept by it
class OutputModel:
    """An output under stated conditions; solves any set of its stations.

    `mains` is the mains voltage over the nominal one; `temperature_c` that of the soil; `sizing`
    takes the conductors' sizing resistance instead of the best estimate. `shifts` moves causes
    (see `causes`) away from their best estimate: that is how sensitivities are found. Two kinds of
    shift are no shared cause: "segment/PATH/BOX" adds ohms at 20 °C to the loop that feeds a box,
    "own/STATION" moves the coils of one station, `coil_key` one of them.
    """

    drawing: Drawing
    output: Output
    mains: float
    temperature_c: float
    sizing: bool = False
    shifts: Mapping[str, float] = field(default_factory=lambda: MappingProxyType({}))

    def shifted(self, key: str, by: float) -> OutputModel:
        """The same output with one cause moved by a fraction (kelvin for "soil")."""
        return replace(self, shifts={**self.shifts, key: by})

    def at_mains(self, mains: float) -> OutputModel:
        """The same output at another mains voltage over the nominal one."""
        if self.shifts:
            return replace(self, mains=mains)
        return _output(self.drawing, self.output.id, mains, self.temperature_c, self.sizing)

    def _factor(self, key: str) -> float:
        return 1.0 + self.shifts.get(key, 0.0)

    @cached_property
    def causes(self) -> tuple[Cause, ...]:
        """Everything that makes this output's voltages and currents uncertain, each once."""
        return causes_of(self.drawing, self.output, self.paths, self.stations)

    def contributions(self, slope: Mapping[str, float]) -> tuple[Contribution, ...]:
        """What each cause gives a value that moves with these slopes, the largest first.

        To first order (JCGM 100 5.1.2); causes that do not move it are left out.
        """
        return contributions(self.causes, slope)

    @cached_property
    def nodes(self) -> dict[tuple[str, str], int]:
        """(path, box) to node; the terminals of every path are node 0."""
        boxes = [(p, b) for p in self.paths for b in self.drawing.trees[p].boxes if b != ROOT]
        found = {(path, ROOT): 0 for path in self.paths}
        return found | {box: node for node, box in enumerate(boxes, start=1)}

    @cached_property
    def paths(self) -> tuple[str, ...]:
        """The paths of this output."""
        return tuple(p.id for p in self.drawing.site.path if p.output == self.output.id)

    @cached_property
    def stations(self) -> tuple[Station, ...]:
        """The stations of this output, by number."""
        paths = set(self.paths)
        here = [s for s in self.drawing.site.station if s.path in paths]
        return tuple(sorted(here, key=lambda station: station.number))

    @cached_property
    def standby_a(self) -> float:
        """What all decoders of this output draw together while idle, in A."""
        return sum(self.decoder(station).standby_current_a for station in self.stations)

    @cached_property
    def network(self) -> Network:
        """The network with nothing running."""
        open_v, zs_ohm = source_v_ohm(self.output)
        zs_ohm *= self._factor("Zs")
        size = max(self.nodes.values(), default=0) + 1  # an output may be spare
        parent, z_ohm = [-1] * size, [zs_ohm] * size
        for path in self.paths:
            for box, segment in self.drawing.trees[path].feeds.items():
                node = self.nodes[path, box]
                parent[node] = self.nodes[path, segment.from_box]
                extra_ohm = self.shifts.get(f"segment/{path}/{box}", 0.0)
                z_ohm[node] = self.z_ohm(self.drawing.stretch(path, segment), extra_ohm)
        standby_a, standby_s, standby_w = [0j] * size, [0j] * size, [0.0] * size
        for station in self.stations:
            node = self.nodes[station.path, station.box]
            kind = self.decoder(station)
            rated_v = self.output.rated_voltage_v
            current_a = kind.standby_current_a * self._factor(f"standby/{station.decoder}")
            if kind.standby_model == "current":
                standby_a[node] += current_a
            elif kind.standby_model == "resistance":
                standby_s[node] += current_a / rated_v
            else:
                standby_w[node] += current_a * rated_v
        return network(
            open_v * self.mains * self._factor("E"), parent, z_ohm,
            standby_a=standby_a, standby_s=standby_s, standby_w=standby_w,
        )  # fmt: skip

    def z_ohm(self, stretch: Stretch, extra_ohm: float = 0.0) -> complex:
        """Loop impedance of a segment here; `extra_ohm` at 20 °C warms like the copper."""
        cable, frequency_hz = stretch.cable, self.drawing.site.site.frequency_hz
        first_ohm, second_ohm = self.pair_ohm(stretch)
        length_m = cable.length_m * self._factor(f"length/{stretch.length_by}")
        pair_x = (c.x_ohm_per_m(frequency_hz) for c in (cable.first, cable.second))
        return complex(
            first_ohm + second_ohm + 2 * JOINT_OHM + at_temperature(extra_ohm, self.soil_c),
            loop_x_ohm(length_m, *pair_x),
        )

    def pair_ohm(self, stretch: Stretch) -> tuple[float, float]:
        """The copper of both conductors of a segment, in ohm, here."""
        length_m = stretch.cable.length_m * self._factor(f"length/{stretch.length_by}")
        first, second = (
            length_m * at_temperature(r20, self.soil_c) * self._factor(f"conductor/{kind}")
            for r20, kind in zip(self._r20_ohm_per_m(stretch), stretch.kinds, strict=True)
        )
        return first, second

    def _r20_ohm_per_m(self, stretch: Stretch) -> tuple[float, float]:
        first, second = stretch.cable.first, stretch.cable.second
        if self.sizing:
            return first.sizing_r20_ohm_per_m, second.sizing_r20_ohm_per_m
        return first.r20_ohm_per_m, second.r20_ohm_per_m

    def dc_factor(self, decoder: str) -> float:
        """What the d.c. resistance of a kind of decoder is multiplied with here."""
        return self._factor(f"dc/{decoder}")

    @property
    def soil_c(self) -> float:
        """Temperature of the soil here, moved or not."""
        return self.temperature_c + self.shifts.get("soil", 0.0)

    def coils(self, station: Station, state: solenoids.State) -> tuple[Coil, ...]:
        """The coils of a station in one state, behind its decoder's output."""
        decoder = self.decoder(station)
        return tuple(
            Coil(
                self.nodes[station.path, station.box],
                self.coil_z_ohm(one.kind, state)
                * self._factor(f"own/{station.id}")
                * self._factor(coil_key(station, one)),
                decoder.output_resistance_ohm,
                decoder.output_drop_v,
            )
            for one in station.solenoid
        )

    def coil_z_ohm(self, kind: str, state: solenoids.State) -> complex:
        """Impedance of a coil of a kind; a resistance that is moved leaves the magnitude."""
        if (kind, state) not in self._coil_z:
            self._coil_z[kind, state] = self._z_of_coil(kind, state)
        return self._coil_z[kind, state]

    @cached_property
    def _coil_z(self) -> dict[tuple[str, str], complex]:
        return {}

    def _z_of_coil(self, kind: str, state: solenoids.State) -> complex:
        site = self.drawing.site
        coil = solenoid(site.solenoid_kind[kind])
        if f"{COIL_R}/{kind}" in self.shifts:
            r_ohm = solenoids.coil_r_ohm(coil) * self._factor(f"{COIL_R}/{kind}")
            coil = replace(coil, r_ohm=r_ohm)
        z_ohm = solenoids.coil_z_ohm(coil, state, site.site.frequency_hz)
        return z_ohm * self._factor(f"coil/{kind}")

    @cached_property
    def always(self) -> tuple[Station, ...]:
        """The stations that run with every other: a master valve, a pump relay."""
        return tuple(s for s in self.stations if s.runs_with_every_station)

    def _with_always(self, running: Iterable[Station]) -> dict[str, Station]:
        """What runs together: with any station, those that always run too; with none, nothing."""
        chosen = {station.id: station for station in running}
        return chosen | {s.id: s for s in self.always} if chosen else {}

    def solve(self, running: Iterable[Station], state: solenoids.State) -> Solution:
        """Solve the output with stations running, all in one state, those always on included."""
        chosen = self._with_always(running)
        return solve(self.network, [coil for s in chosen.values() for coil in self.coils(s, state)])

    def coil_voltages_v(
        self, running: Iterable[Station], state: solenoids.State
    ) -> Mapping[tuple[str, str], float]:
        """(station, solenoid) to the r.m.s. voltage at that coil."""
        chosen = self._with_always(running)
        key = (state, *chosen)
        if key not in self._coil_v:
            names = [(s.id, one.id) for s in chosen.values() for one in s.solenoid]
            found = self.solve(chosen.values(), state).coil_v
            self._coil_v[key] = {name: abs(v) for name, v in zip(names, found, strict=True)}
        return self._coil_v[key]

    @cached_property
    def _coil_v(self) -> dict[tuple[str, ...], dict[tuple[str, str], float]]:
        return {}

    def decoder(self, station: Station) -> DecoderKind:
        """The kind of decoder of a station."""
        return self.drawing.site.decoder_kind[station.decoder]

    def staggered_v(self, running: Iterable[Station], starting: Station) -> float:
        """Lowest voltage at a station's coils as it alone pulls in, the others held already."""
        chosen = self._with_always(running) | {starting.id: starting}
        coils = [
            coil
            for one in chosen.values()
            for coil in self.coils(one, "inrush" if one.id == starting.id else "holding")
        ]
        own = [s.id == starting.id for s in chosen.values() for _ in s.solenoid]
        found = solve(self.network, coils).coil_v
        return min(abs(v) for v, is_own in zip(found, own, strict=True) if is_own)

    def path_current_a(self, solution: Solution, path: str) -> float:
        """R.m.s. current that a path takes from the terminals, loads at the terminals left out."""
        return abs(sum((solution.branch_a[node] for node in self.first_nodes(path)), 0j))

    def first_nodes(self, path: str) -> list[int]:
        """The first boxes of a path: what flows into them is the path's current."""
        return self._first_nodes[path]

    @cached_property
    def _first_nodes(self) -> dict[str, list[int]]:
        feeds = {path: self.drawing.trees[path].feeds for path in self.paths}
        return {
            path: [self.nodes[path, box] for box, one in fed.items() if one.from_box == ROOT]
            for path, fed in feeds.items()
        }

    def refuse_collapse(self) -> None:
        """Raise CollapseError where idle decoders alone leave no voltage somewhere.

        A fixed current beyond that would turn the voltage over, and it would seem to rise.
        """
        if self._turns_over:
            raise CollapseError("idle decoders alone leave no voltage at the far end")

    @cached_property
    def _turns_over(self) -> bool:
        return any(volts.real <= 0 for volts in solve(self.network).node_v)

    def worst_set(
        self,
        path: str | None = None,
        cancelled: Callable[[], bool] = lambda: False,
        enough: float = 0.0,
    ) -> search.WorstSet | None:
        """The permitted set that leaves a solenoid the least voltage for its minimum, in inrush.

        Of the whole output, or of one path alone with what always runs. Searched for once. Where
        any set below a ratio is `enough`, the first one seen may stand for the worst: a search far
        below every minimum takes seconds, this one never does.
        """
        self.refuse_collapse()
        if self.paths == (path,):
            path = None  # alone it is the output's own search
        known = self._worst_sets
        if (path, 0.0) in known:
            return known[path, 0.0]
        if (path, enough) not in known:
            known[path, enough] = self._search(path, cancelled, enough)
        return known[path, enough]

    @cached_property
    def settled(self) -> dict[tuple[str, ...], tuple[float, dict[str, float]]]:
        """Settled values with their slopes, as `slopes.settled` finds them."""
        return {}

    @cached_property
    def _worst_sets(self) -> dict[tuple[str | None, float], search.WorstSet | None]:
        return {}

    def _search(
        self, path: str | None, cancelled: Callable[[], bool], enough: float
    ) -> search.WorstSet | None:
        paths = {name: place for place, name in enumerate(self.paths)}
        at_once = {
            paths[p.id]: p.stations_at_once
            for p in self.drawing.site.path
            if p.id in paths and p.stations_at_once is not None
        }
        kinds = self.drawing.site.solenoid_kind
        found = [
            search.Station(
                number=s.number,
                path=paths[s.path],
                coils=self.coils(s, "inrush"),
                min_v=tuple(kinds[one.kind].min_voltage_v for one in s.solenoid),
                always=s.runs_with_every_station,
            )
            for s in self.stations
            if path is None or s.path == path or s.runs_with_every_station
        ]
        return search.find_worst_set(
            self.network, found, max_per_output=self.output.stations_at_once,
            max_per_path=at_once, cancelled=cancelled, max_steps=_MAX_STEPS / max(1, len(found)),
            enough=enough,
        )  # fmt: skip


@lru_cache(maxsize=_KEPT)
def _output(
    drawing: Drawing, output_id: str, mains: float, temperature_c: float, sizing: bool
) -> OutputModel:
    """One model for each state of an output, so that what follows from it is found once."""
    return OutputModel(drawing, drawing.outputs[output_id], mains, temperature_c, sizing)


def working_case(drawing: Drawing, output_id: str) -> OutputModel:
    """The output as "will it work" asks: lowest mains, warmest soil, sizing resistances."""
    drawing = drawing.undated  # what the soil was on the test day is no part of it
    site = drawing.site
    mains = 1 - site.supply.lowest_fraction_below
    return _output(drawing, output_id, mains, site.soil.warmest_c, True)


def on_test_day(drawing: Drawing, output_id: str, mains_v: float | None) -> OutputModel:
    """The output on the test day: mains as measured (else nominal), test-day soil."""
    site = drawing.site
    mains = (mains_v or site.supply.nominal_voltage_v) / site.supply.nominal_voltage_v
    return _output(drawing, output_id, mains, site.soil.test_day_c, False)
