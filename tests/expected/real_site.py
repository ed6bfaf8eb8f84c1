"""A site as it could really be: every cause drawn from its stated interval, solved on its own.

Nothing here uses the program's laws: conductors from their standards' own numbers, networks by
dense nodal analysis in numpy. Only the site file's shapes are shared.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from random import Random

import numpy as np

from commission.site.schema import (
    ROOT,
    CableKind,
    Output,
    Path,
    Segment,
    Site,
    Station,
)

# Half-widths as DOMAIN states them (judgement); a gauge's ±2 % is ASTM B258's ±1 % of diameter.
LENGTH = {"tape": 0.01, "wheel": 0.02, "drawing": 0.05, "estimate": 0.15}
SOURCE, KIND_OF_COIL, ONE_COIL, UNKNOWN_COIL_R = 0.03, 0.03, 0.05, 0.30
GAUGE, METRIC_LOW, MAX_JOINT_OHM = 0.02, 0.95, 0.010
COPPER_PER_K = 0.00393  # IEC 60028
# IEC 60228 table, class 1 and 2, plain copper, maximum ohm/km at 20 °C (seen).
IEC_MAX_OHM_PER_KM = {"1.5": 12.1, "2.5": 7.41, "4": 4.61}
# NEC chapter 9 table 9, 60 Hz in PVC, ohm/1000 ft (seen); metric: the largest gauge not larger.
NEC_X_OHM_PER_1000FT = {
    "18": 0.058, "16": 0.058, "14": 0.058, "12": 0.054, "1.5": 0.058, "2.5": 0.058, "4": 0.054,
}  # fmt: skip


def nominal_ohm_per_m(kind: CableKind) -> float:
    """A gauge's nominal resistance at 20 °C: 1/58 ohm mm²/m over the area by ASTM B258."""
    diameter_mm = 0.127 * 92 ** ((36 - int(kind.conductor.split()[0])) / 39)
    lay = 1.02 if kind.stranded else 1.0  # ASTM B8
    return float(lay / 58 / (np.pi / 4 * diameter_mm**2))


def x_ohm_per_m(kind: CableKind, frequency_hz: float) -> float:
    """Reactance of one conductor, the data sheet's at the site frequency where it has one."""
    if kind.reactance_ohm_per_m is not None:
        return kind.reactance_ohm_per_m
    return NEC_X_OHM_PER_1000FT[kind.conductor.split()[0]] / 304.8 * frequency_hz / 60


@dataclass(frozen=True)
class Solved:
    """Voltages and currents of an output, r.m.s. phasors."""

    node_v: dict[tuple[str, str], complex]  # by path and box; a path's first box: the terminals
    coil_v: dict[tuple[str, str], complex]  # by station and solenoid
    path_a: dict[str, complex]


class RealSite:
    """One draw of everything that a site file leaves uncertain."""

    def __init__(self, site: Site, draw: Random) -> None:
        self.site = site
        soil = site.soil
        self.length = {by: 1 + draw.uniform(-e, e) for by, e in LENGTH.items()}
        self.r20 = {name: self._delivered(kind, draw) for name, kind in site.cable_kind.items()}
        self.soil_c = soil.test_day_c + _around(draw, soil.test_day_uncertainty_k)
        self.segment_k: dict[tuple[str, str], float] = {}
        self.joints_ohm: dict[tuple[str, str], float] = {}
        for path in site.path:
            for segment in path.segment:
                place = (path.id, segment.to_box)
                self.segment_k[place] = _around(draw, soil.segment_uncertainty_k)
                self.joints_ohm[place] = sum(draw.uniform(0, MAX_JOINT_OHM) for _ in range(2))
        self.source = {o.id: 1 + _around(draw, SOURCE) for o in site.output}
        self.zs = {o.id: 1 + _around(draw, o.source_uncertainty) for o in site.output}
        self.standby = {
            name: 1 + _around(draw, kind.standby_uncertainty)
            for name, kind in site.decoder_kind.items()
        }
        self.kind_z = {name: 1 + _around(draw, KIND_OF_COIL) for name in site.solenoid_kind}
        self.kind_r = {name: 1 + _around(draw, UNKNOWN_COIL_R) for name in site.solenoid_kind}
        self.own_z = {
            one.id: 1 + _around(draw, ONE_COIL) for s in site.station for one in s.solenoid
        }

    @staticmethod
    def _delivered(kind: CableKind, draw: Random) -> float:
        """Ohm per metre at 20 °C of the conductor that was delivered."""
        if kind.resistance_ohm_per_m is not None:
            return kind.resistance_ohm_per_m * (1 + _around(draw, kind.resistance_tolerance))
        size, unit = kind.conductor.split()
        if unit == "AWG":
            return nominal_ohm_per_m(kind) * (1 + _around(draw, GAUGE))
        return IEC_MAX_OHM_PER_KM[size] / 1000 * draw.uniform(METRIC_LOW, 1.0)

    def segment_ohm(self, path: Path, segment: Segment, soil_c: float) -> complex:
        """Loop impedance of a segment in soil that is about this warm."""
        place, kinds = (path.id, segment.to_box), segment.cable or path.cable
        length_m = segment.length_m * self.length[segment.length_by or path.length_by]
        warmer = 1 + COPPER_PER_K * (soil_c + self.segment_k[place] - 20)
        r_ohm = length_m * sum(self.r20[name] for name in kinds) * warmer
        frequency_hz = self.site.site.frequency_hz
        x_ohm = length_m * sum(
            x_ohm_per_m(self.site.cable_kind[name], frequency_hz) for name in kinds
        )
        return complex(r_ohm + self.joints_ohm[place], x_ohm)

    def loop_ohm(self, path: Path, box: str) -> float:
        """Loop resistance on the test day, bridged at a box."""
        feeds = {segment.to_box: segment for segment in path.segment}
        total = 0.0
        while box != ROOT:
            total += self.segment_ohm(path, feeds[box], self.soil_c).real
            box = feeds[box].from_box
        return total

    def coil_ohm(self, solenoid: str, kind_name: str, *, inrush: bool) -> complex:
        """Impedance of one coil, its magnitude as the data sheet says but for the errors."""
        kind = self.site.solenoid_kind[kind_name]
        z_ohm = kind.rated_voltage_v / (kind.inrush_current_a if inrush else kind.holding_current_a)
        r_ohm = kind.coil_resistance_ohm
        if r_ohm is None:
            r_ohm = 0.5 * kind.rated_voltage_v / kind.inrush_current_a * self.kind_r[kind_name]
        frequency = self.site.site.frequency_hz / kind.rated_frequency_hz
        z = complex(r_ohm, np.sqrt(z_ohm**2 - r_ohm**2) * frequency)
        return z * self.kind_z[kind_name] * self.own_z[solenoid]

    def solve(
        self,
        output: Output,
        running: Iterable[Station],
        *,
        inrush: bool = False,
        mains: float = 1.0,
        soil_c: float | None = None,
    ) -> Solved:
        """An output with stations running, by dense nodal analysis; the test day unless told."""
        paths = [path for path in self.site.path if path.output == output.id]
        nodes = {(path.id, ROOT): 0 for path in paths}
        for path in paths:
            for segment in path.segment:
                nodes[path.id, segment.to_box] = 1 + max(nodes.values())
        size = 1 + max(nodes.values())
        y, drawn = np.zeros((size, size), dtype=complex), np.zeros(size, dtype=complex)
        open_v, zs_ohm = self._source(output, mains)
        y[0, 0] += 1 / zs_ohm
        drawn[0] -= open_v / zs_ohm
        feeds: dict[str, list[tuple[int, complex]]] = {path.id: [] for path in paths}
        for path in paths:
            for segment in path.segment:
                a, b = nodes[path.id, segment.from_box], nodes[path.id, segment.to_box]
                ohm = self.segment_ohm(path, segment, self.soil_c if soil_c is None else soil_c)
                y[[a, b], [a, b]] += 1 / ohm
                y[[a, b], [b, a]] -= 1 / ohm
                if a == 0:
                    feeds[path.id].append((b, ohm))
        chosen = self._with_always(output, running)
        watt = self._standby(output, nodes, y, drawn)
        coils = self._coils(chosen, nodes, y, drawn, inrush=inrush)
        v = np.full(size, open_v, dtype=complex)
        for _ in range(60 if watt.any() else 1):
            v = np.linalg.solve(y, -drawn - watt / v.conjugate())
        return Solved(
            {place: complex(v[node]) for place, node in nodes.items()},
            {key: (complex(v[node]) - drop) * share for key, node, drop, share in coils},
            {path: sum((complex(v[0] - v[b]) / z for b, z in f), 0j) for path, f in feeds.items()},
        )

    def _source(self, output: Output, mains: float) -> tuple[float, complex]:
        rated_v = output.rated_voltage_v
        if output.open_circuit_voltage_v is not None:
            open_v = output.open_circuit_voltage_v
            ohm = complex(output.source_resistance_ohm or 0.0, output.source_reactance_ohm)
        else:
            open_v = rated_v * (1 + (output.regulation or 0.0))
            ohm = complex((open_v - rated_v) / ((output.rating_va or 0.0) / rated_v))
        return open_v * mains * self.source[output.id], ohm * self.zs[output.id]

    def _on(self, output: Output) -> list[Station]:
        paths = {path.id for path in self.site.path if path.output == output.id}
        return [station for station in self.site.station if station.path in paths]

    def _with_always(self, output: Output, running: Iterable[Station]) -> list[Station]:
        chosen = {station.id: station for station in running}
        if chosen:
            chosen |= {s.id: s for s in self._on(output) if s.runs_with_every_station}
        return list(chosen.values())

    def _standby(
        self,
        output: Output,
        nodes: dict[tuple[str, str], int],
        y: np.ndarray[tuple[int, int], np.dtype[np.complex128]],
        drawn: np.ndarray[tuple[int], np.dtype[np.complex128]],
    ) -> np.ndarray[tuple[int], np.dtype[np.float64]]:
        """Put every decoder at rest into the equations; what draws constant power is returned."""
        watt = np.zeros(len(drawn))
        for station in self._on(output):
            kind, node = self.site.decoder_kind[station.decoder], nodes[station.path, station.box]
            ampere = kind.standby_current_a * self.standby[station.decoder]
            if kind.standby_model == "current":
                drawn[node] += ampere
            elif kind.standby_model == "resistance":
                y[node, node] += ampere / output.rated_voltage_v
            else:
                watt[node] += ampere * output.rated_voltage_v
        return watt

    def _coils(
        self,
        running: Iterable[Station],
        nodes: dict[tuple[str, str], int],
        y: np.ndarray[tuple[int, int], np.dtype[np.complex128]],
        drawn: np.ndarray[tuple[int], np.dtype[np.complex128]],
        *,
        inrush: bool,
    ) -> list[tuple[tuple[str, str], int, float, complex]]:
        """Put running coils into the equations; each with its node, drop and share of the rest."""
        found = []
        for station in running:
            kind, node = self.site.decoder_kind[station.decoder], nodes[station.path, station.box]
            for one in station.solenoid:
                z = self.coil_ohm(one.id, one.kind, inrush=inrush)
                whole = z + kind.output_resistance_ohm
                y[node, node] += 1 / whole
                drawn[node] -= kind.output_drop_v / whole
                found.append(((station.id, one.id), node, kind.output_drop_v, z / whole))
        return found


def _around(draw: Random, half_width: float) -> float:
    return draw.uniform(-half_width, half_width)
