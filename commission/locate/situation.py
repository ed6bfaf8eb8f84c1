"""An output with faults in it: what each test would read there."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

from commission.electrical.transfer import solve_dense
from commission.locate.faults import ACROSS, IN_SERIES, Fault
from commission.locate.plant import Coils, Plant
from commission.locate.readings import FieldTest
from commission.locate.view import Port, View, across, across_segment, in_series

CoilState = Literal["holding", "inrush", "off"]
OVER_RANGE_OHM = 2e5
"""From here a loop counts as open: input capacitors make a sound path read kilohms and climb."""


@dataclass(frozen=True, slots=True)
class _Across:
    """A short or bridge: the segment it lies in, how far along, its ohms, and its live port."""

    path: str
    node: int
    along: float
    ohm: float
    port: Port


@dataclass(frozen=True, slots=True)
class Run:
    """An output while stations run: the view before the last coil, and that coil's current."""

    view: View
    node: int
    last_a: complex
    coils: tuple[Coils, ...]
    ohms: tuple[complex, ...]
    cut: frozenset[int]

    def voltage_v(self, node: int) -> complex:
        """Voltage between the conductors at a node; none beyond an open conductor."""
        if node in self.cut:
            return 0j
        if not self.coils:
            return self.view.open_v[node]
        return self.view.open_v[node] - self.view.z_ohm(node, self.node) * self.last_a

    def coil_a(self, path: str) -> complex:
        """Current of all coils of a path."""
        total = 0j
        for coils, ohm in zip(self.coils, self.ohms, strict=True):
            if coils.path == path:
                last = coils is self.coils[-1]
                volts = 0j if last else self.voltage_v(coils.node) - coils.drop_v
                total += self.last_a if last else volts / ohm
        return total


class Situation:
    """A plant with faults. Pure; runs are kept."""

    def __init__(self, plant: Plant, faults: Sequence[Fault]) -> None:
        self.faults = tuple(f for f in faults if f.kind != "none")
        self._series = [f for f in self.faults if f.kind in IN_SERIES]
        opens = [plant.node(f.path, f.box) for f in self._series if f.kind == "open"]
        self._cut = frozenset[int]().union(*(plant.below(node) for node in opens))
        self.plant = plant.without(self._cut) if opens else plant
        self._runs: dict[tuple[str, CoilState], Run] = {}
        self._across = [self._lies_across(f) for f in self.faults if f.kind in ACROSS]
        self._idle: View | None = None

    def _segment_ohm(self, fault: Fault) -> complex:
        """The impedance of a fault's segment, other faults in series there included."""
        extra = sum(f.ohm for f in self._series if (f.path, f.box) == (fault.path, fault.box))
        return self.plant.z_ohm[self.plant.node(fault.path, fault.box)] + extra

    def _lies_across(self, fault: Fault) -> _Across:
        node = self.plant.node(fault.path, fault.box)
        if fault.kind == "bridge":
            return _Across(fault.path, node, 1.0, fault.ohm, across(node, fault.ohm))
        above = self.plant.parent[node]
        segment, ohm = self._segment_ohm(fault), max(fault.ohm, 1e-3)
        port = across_segment(above, node, fault.along, segment, ohm)
        return _Across(fault.path, node, fault.along, ohm, port)

    @property
    def idle(self) -> View:
        """The output with its faults and nothing running."""
        if self._idle is None:
            view = self.plant.view
            low = [fault.ohm for fault in self.faults if fault.kind == "low supply"]
            if low:
                view = self._lowered(view, math.prod(1 - part for part in low))
            for fault in self._series:
                node = self.plant.node(fault.path, fault.box)
                if fault.kind != "open":
                    segment = self.plant.z_ohm[node]
                    port = in_series(self.plant.parent[node], node, segment, fault.ohm)
                    view = view.attach(port)
            for one in self._across:
                if one.node not in self._cut:
                    view = view.attach(one.port)
            self._idle = view
        return self._idle

    def _lowered(self, view: View, factor: float) -> View:
        """With less source voltage: what standby draws stays, what E gives shrinks.

        A volt less of E is a volt less at every node, but for what follows the voltage.
        """
        source_ohm, lost_v = self.plant.z_ohm[0], self.plant.network.source_v * (1 - factor)
        row = self.plant.transfer.row_ohm(0)
        part = [z / source_ohm for z in row] if source_ohm else [1 + 0j] * len(row)
        lower = [v - lost_v * share for v, share in zip(view.open_v, part, strict=True)]
        return View(self.plant.transfer, lower, view.drive_ohm)

    # what a call energises

    def answering(self, station: str) -> tuple[str, ...]:
        """The stations whose coils are switched when one is called; those that always run last."""
        if not station:
            return ()
        found = [station]
        for fault in self.faults:
            if fault.kind == "swapped":
                other = {fault.station: fault.other, fault.other: fault.station}
                found = [other.get(one, one) for one in found]
            elif fault.kind == "same address":  # `station` has the address of `other`
                found = [one for one in found if one != fault.station]
                found += [fault.station] if fault.other in found else []
        silent = {f.station for f in self.faults if f.kind in ("decoder dead", "wrong address")}
        both = (*found, *(one for one in self.plant.always if one not in found))
        return tuple(one for one in both if one not in silent)

    def coil_ohm(self, coils: Coils, state: CoilState) -> complex | None:
        """The impedance of a station's coils in a state; None when no current can flow."""
        value = coils.inrush_ohm if state == "inrush" else coils.holding_ohm
        for fault in self.faults:
            if fault.station == coils.station:
                if fault.kind == "solenoid open":
                    return None
                if fault.kind == "solenoid shorted":
                    return complex(max(fault.ohm, 0.01))
                if fault.kind == "solenoid joint":
                    value += fault.ohm
        return value

    def run(self, station: str, state: CoilState = "holding") -> Run:
        """The output while a station is called and its coils are in a state."""
        key = (station, state)
        found = self._runs.get(key)
        if found is None:
            found = self._runs[key] = self._run(station, state)
        return found

    def _run(self, station: str, state: CoilState) -> Run:
        view, chosen, ohms = self.idle, [], []
        for name in () if state == "off" else reversed(self.answering(station)):
            coils = self.plant.coils[name]
            ohm = self.coil_ohm(coils, state)
            if ohm is not None and coils.node not in self._cut:
                chosen.append(coils)
                ohms.append(ohm)
        if not chosen:
            return Run(view, 0, 0j, (), (), self._cut)
        for coils, ohm in zip(chosen[:-1], ohms[:-1], strict=True):
            view = view.attach(across(coils.node, ohm, coils.drop_v))
        last, node = chosen[-1], chosen[-1].node
        last_a = (view.open_v[node] - last.drop_v) / (view.drive_ohm[node] + ohms[-1])
        return Run(view, node, last_a, tuple(chosen), tuple(ohms), self._cut)

    # live readings

    def path_a(self, path: str, run: Run) -> complex:
        """Current of a path at the terminals."""
        total = self.plant.standby_a.get(path, 0j) + run.coil_a(path)
        for node, admittance in self.plant.standby_s.get(path, ()):
            total += admittance * run.voltage_v(node)
        for one in self._across:
            if one.path == path and one.node not in self._cut:
                volts = sum(w * run.voltage_v(n) for n, w in one.port.weights)
                total += volts / one.port.z_ohm
        return total

    def output_a(self, run: Run) -> float:
        """Current of the whole output."""
        return abs(sum((self.path_a(path, run) for path in self.plant.standby_a), 0j))

    def pull_in_v(self, name: str, station: str) -> float:
        """Voltage at a station's coil in inrush while `station` is called; 0 when none is there."""
        coils = self.plant.coils[name]
        ohm = self.coil_ohm(coils, "inrush")
        shorted = any(f.station == name and f.kind == "solenoid shorted" for f in self.faults)
        if ohm is None or shorted:
            return 0.0
        run = self.run(station, "inrush")
        at_box_v = run.voltage_v(coils.node) - coils.drop_v
        return abs(at_box_v * coils.inrush_ohm / ohm) * coils.share

    def idle_v(self, node: int) -> float:
        """Voltage at a node with nothing running."""
        return 0.0 if node in self._cut else abs(self.idle.open_v[node])

    def live(self, test: FieldTest, state: CoilState = "holding") -> float:
        """A current or a voltage that a test would read while the output stays on."""
        run = self.run(test.station, state)
        if test.kind == "current":
            return abs(self.path_a(test.path, run))
        if test.kind == "earth":
            return self._earth_v(test, run)
        return abs(run.voltage_v(self.plant.node(test.path, test.box)))

    def leak(self, path: str) -> Fault | None:
        """The leak to earth of a path, if there is one."""
        return next((f for f in self.faults if f.kind == "leak" and f.path == path), None)

    def _earth_v(self, test: FieldTest, run: Run) -> float:
        """Volts from one conductor to earth at the terminals of a floating output.

        One leak draws nothing; it holds its conductor at earth where it lies, so that the terminal
        of that conductor shows what is lost on the way there. Without one it is half and half.
        """
        whole_v, leak = run.voltage_v(0), self.leak(test.path)
        if leak is None:
            return abs(whole_v) / 2
        lost_v, plant = 0j, self.plant
        for node in plant.above[plant.node(leak.path, leak.box)]:
            share = plant.first_share[node]
            share = share if leak.conductor == "first" else 1 - share
            lost_v += share * (run.voltage_v(plant.parent[node]) - run.voltage_v(node))
        return abs(lost_v if test.conductor == leak.conductor else whole_v - lost_v)

    def own_slope(self, test: FieldTest, state: CoilState) -> float:
        """How far a live reading moves when the impedance of the called coil grows by all of it.

        Of several coils at once the last attached one, the station's own, stands for all.
        """
        run = self.run(test.station, state)
        if not run.coils:
            return 0.0
        ohm = run.ohms[-1]
        change_a = -run.last_a * ohm / (run.view.drive_ohm[run.node] + ohm)
        if test.kind == "current":
            whole, change = self.path_a(test.path, run), change_a
        else:
            node = self.plant.node(test.path, test.box)
            whole, change = run.voltage_v(node), -run.view.z_ohm(node, run.node) * change_a
        return (whole.conjugate() * change).real / abs(whole) if whole else 0.0

    # dead readings

    def dead(self, test: FieldTest) -> float:
        """A resistance that a test would read, infinite for over-range."""
        bridged = self.plant.node(test.path, test.box) if test.kind == "loop" else 0
        lying = [one for one in self._across if one.path == test.path]
        if test.kind == "insulation":
            return self._insulation_ohm(test)
        if test.kind == "side":
            return self._side_ohm(self.plant.node(test.path, test.beyond), lying)
        points = [(bridged, 1.0, 0.0)] if bridged else []
        points += [(one.node, one.along, one.ohm) for one in lying]
        if not points:
            return math.inf
        return _over_range(self._joined_ohm(points) * self.plant.loop_part[bridged])

    def _joined_ohm(self, points: list[tuple[int, float, float]], before_ohm: float = 0.0) -> float:
        """Ohms with bridges or shorts at some points (node, along, ohm), at the terminals.

        Or at a box: then the ohms before it, which the ways to all points share, are left out.
        """
        if len(points) == 1:
            node, along, ohm = points[0]
            return self._shared_ohm(node, along, node, along) + ohm - before_ohm
        matrix = [
            [
                complex(self._shared_ohm(*a[:2], *b[:2]) - before_ohm + (a[2] if a is b else 0.0))
                for b in points
            ]
            for a in points
        ]
        if len(points) == 2:
            (p, q), (_, r) = matrix
            return ((p * r - q * q) / (p + r - 2 * q)).real if p + r != 2 * q else p.real
        return 1 / sum(solve_dense(matrix, [1 + 0j] * len(points))).real

    def _shared_ohm(self, a: int, a_along: float, b: int, b_along: float) -> float:
        """Ohms that the ways to two points share, faults in series included."""
        plant = self.plant
        if a == b:
            along = min(a_along, b_along)
        elif a in plant.above[b]:
            along = a_along
        elif b in plant.above[a]:
            a, along = b, b_along
        else:
            return self._meeting_ohm(a, b)
        segment = plant.route_ohm[a] - plant.route_ohm[plant.parent[a]]
        own = plant.route_ohm[a] - (1 - along) * segment
        return own + self._extra_ohm(a, along)

    def _meeting_ohm(self, a: int, b: int) -> float:
        """The same for two points on different branches."""
        value = self.plant.common_ohm(a, b)
        both = self.plant.above[a] & self.plant.above[b] if self._series else frozenset()
        for fault in self._series:
            if self.plant.node(fault.path, fault.box) in both:
                value += fault.ohm
        return value

    def _extra_ohm(self, node: int, along: float) -> float:
        """Ohms of faults in series on the way to a point; in its own segment in proportion."""
        total = 0.0
        for fault in self._series:
            at = self.plant.node(fault.path, fault.box)
            if at == node:
                total += along * fault.ohm
            elif at in self.plant.above[node]:
                total += fault.ohm
        return total

    def _insulation_ohm(self, test: FieldTest) -> float:
        """Ohms to earth of one conductor, of the whole path or of one cable and what it feeds.

        Without a leak there it is over range.
        """
        leak = self.leak(test.path)
        if leak is None or leak.conductor != test.conductor:
            return math.inf
        if not test.beyond:
            return leak.ohm
        node, at = (self.plant.node(test.path, box) for box in (test.beyond, leak.box))
        return leak.ohm if node in self.plant.above[at] else math.inf

    def _side_ohm(self, node: int, lying: list[_Across]) -> float:
        """Ohms seen into the cable that feeds a node, away from the terminals."""
        points = [
            (one.node, one.along, one.ohm) for one in lying if node in self.plant.above[one.node]
        ]
        if not points:
            return math.inf
        return _over_range(self._joined_ohm(points, self._shared_ohm(node, 0.0, node, 0.0)))


def _over_range(ohm: float) -> float:
    return math.inf if ohm > OVER_RANGE_OHM else ohm
