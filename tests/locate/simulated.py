"""An invented site with hidden faults, read by a simulated person with a simulated meter.

Independent of the program: its own numbers for cable and coils, its own circuit (dense nodal
analysis with numpy), its own people. Conductor resistance: 14 AWG solid copper at 20 °C, 8.2855
ohm/km (standard wire tables, NBS Handbook 100); temperature coefficient 0.00393 /K (IEC 60028);
reactance 0.058 ohm/1000 ft (NEC chapter 9 table 9). How decoders, valves and outputs behave at low
voltage and overload is this simulation's own choice.
"""

from __future__ import annotations

import math
import random
from dataclasses import dataclass, field
from typing import Any

import numpy as np

from commission.expected.inputs import Drawing
from commission.expected.model import OutputModel, on_test_day
from commission.locate.readings import FieldTest, Reading
from commission.shapes import validate
from commission.site.schema import Site
from commission.site.tree import build_trees

R20_OHM_PER_M = 8.2855e-3
X_OHM_PER_M = 0.058 / 304.8
SOIL_C = 15.0
E_V, RATED_V, RATED_A = 24.0 * 1.15, 24.0, 2.5
ZS_OHM = 24.0 * 0.15 / RATED_A
STANDBY_A = 0.0035
COIL_R_OHM, INRUSH_OHM, HOLDING_OHM = 30.0, 24.0 / 0.40, 24.0 / 0.20
MIN_V = 20.0
KINDS = (
    "joint",
    "short",
    "open",
    "decoder dead",
    "address",
    "solenoid open",
    "solenoid shorted",
)


def box_name(node: int) -> str:
    """What a node is called on the drawing."""
    return f"B{node}"


def station_name(node: int) -> str:
    """The station in a box."""
    return f"S{node}"


@dataclass(frozen=True)
class Truth:
    """What is really wrong: kind, the node of its segment or station, and its size."""

    kind: str
    node: int
    other: int = 0
    ohm: float = 0.0
    along: float = 0.0

    @property
    def place(self) -> tuple[str, ...]:
        """The place that the program should name."""
        if self.kind in ("joint", "short", "open"):
            return ("segment", "A", box_name(self.node))
        if self.other:
            return ("pair", *map(station_name, sorted((self.node, self.other))))
        return ("station", station_name(self.node))


@dataclass
class World:
    """One site with its true, hidden numbers."""

    parent: list[int]
    drawn_m: list[float]
    faults: tuple[Truth, ...]
    rng: random.Random
    r_ohm: list[float] = field(init=False)
    x_ohm: list[float] = field(init=False)
    opened: set[str] = field(default_factory=set)

    def __post_init__(self) -> None:
        rng, size = self.rng, len(self.parent)
        length = 1 + rng.uniform(-0.02, 0.02)
        copper = 1 + rng.uniform(-0.02, 0.02)
        soil_c = SOIL_C + rng.uniform(-4, 4)
        self.r_ohm, self.x_ohm = [0.0] * size, [0.0] * size
        for i in range(1, size):
            warm = 1 + 0.00393 * (soil_c + rng.uniform(-2, 2) - 20)
            joints = rng.uniform(0, 0.01) + rng.uniform(0, 0.01)
            metres = self.drawn_m[i] * length
            self.r_ohm[i] = 2 * metres * R20_OHM_PER_M * copper * warm + joints
            self.x_ohm[i] = 2 * metres * X_OHM_PER_M
        self.e_v = E_V * (1 + rng.uniform(-0.02, 0.02))
        self.zs_ohm = ZS_OHM * (1 + rng.uniform(-0.2, 0.2))
        self.standby_a = STANDBY_A * (1 + rng.uniform(-0.2, 0.2))
        common = 1 + rng.uniform(-0.03, 0.03)
        self.coil = [common * (1 + rng.uniform(-0.05, 0.05)) for _ in range(size)]
        self.pull_in_v = [MIN_V * rng.uniform(0.6, 0.9) for _ in range(size)]
        self.least_v = [rng.uniform(8.5, 11.5) for _ in range(size)]
        self.trip_a = 1.5 * RATED_A * rng.uniform(0.9, 1.1)
        self.gain = {
            unit: 1 + rng.uniform(-1, 1) * percent / 100 * 2 / 3
            for unit, percent in (("ohm", 0.5), ("volt", 1.0), ("amp", 1.5))
        }
        self._dead_draws = [rng.random() < 0.5 for _ in range(size)]
        self._connect()

    def _connect(self) -> None:
        """Which decoders draw standby: a dead one may, one beyond an open conductor does not."""
        size = len(self.parent)
        self.draws_standby = [True] * size
        for fault in self.faults:
            if fault.kind == "decoder dead":
                self.draws_standby[fault.node] = self._dead_draws[fault.node]
        cut = {fault.node for fault in self.faults if fault.kind == "open"}
        for i in range(1, size):
            if i in cut or self.parent[i] in cut:
                cut.add(i)
                self.draws_standby[i] = False

    def repair(self, places: frozenset[tuple[str, ...]]) -> None:
        """Set right what lies at some places."""
        self.faults = tuple(fault for fault in self.faults if fault.place not in places)
        self._connect()

    # the circuit

    def _branches(self, bridged: int, opened: int) -> tuple[list[list[complex]], int]:
        """Rows of (from, to, impedance): cable with its faults in it; and the number of nodes."""
        size = len(self.parent)
        rows: list[list[complex]] = []
        for i in range(1, size):
            z = complex(self.r_ohm[i], self.x_ohm[i])
            here = [f for f in self.faults if f.node == i and f.kind in ("joint", "open", "short")]
            start = self.parent[i]
            if i == opened:  # its joint in the box before it is open: a loose end
                start, size = size, size + 1
            short = next((f for f in here if f.kind == "short"), None)
            extra = sum(f.ohm if f.kind == "joint" else 1e12 for f in here if f.kind != "short")
            if short:
                rows.append([start, size, z * max(short.along, 1e-6)])
                rows.append([size, -1, max(short.ohm, 1e-3)])
                start, z, size = size, z * (1 - min(short.along, 1 - 1e-6)), size + 1
            rows.append([start, i, z + extra])
        if bridged:
            rows.append([bridged, -1, 1e-4])
        return rows, size

    def _matrix(self, rows: list[list[complex]], size: int) -> Any:
        matrix = np.zeros((size, size), dtype=complex)
        for a, b, z in rows:
            i, k = int(a.real), int(b.real)
            matrix[i, i] += 1 / z
            if k >= 0:
                matrix[k, k] += 1 / z
                matrix[i, k] -= 1 / z
                matrix[k, i] -= 1 / z
        return matrix

    def ohms(self, bridged: int = 0, opened: int = 0) -> float:
        """Resistance between the conductors at the terminals, or into a cable opened before a box.

        The loose end is a node of its own.
        """
        rows, size = self._branches(bridged, opened)
        real = [[a, b, complex(z.real)] for a, b, z in rows]
        matrix = self._matrix(real, size) + np.eye(size) * 1e-9  # input circuits: far above ohms
        right = np.zeros(size, dtype=complex)
        at = self._loose(opened) if opened else 0
        right[at] = 1.0
        value = float(np.linalg.solve(matrix, right)[at].real)
        return value if value < 2e5 else math.inf

    def _loose(self, opened: int) -> int:
        """The node of the loose end: those of shorts in segments before it come first."""
        before = {f.node for f in self.faults if f.kind == "short" and f.node < opened}
        return len(self.parent) + len(before)

    def answering(self, called: int) -> list[int]:
        """The stations whose decoders switch when a number is called."""
        found = [called] if called else []
        for f in self.faults:
            if f.kind == "swapped" and called in (f.node, f.other):
                found = [f.other if called == f.node else f.node]
            elif f.kind == "same address":
                if called == f.node:
                    found = []
                elif called == f.other:
                    found.append(f.node)
        silent = {f.node for f in self.faults if f.kind in ("decoder dead", "wrong address")}
        return [node for node in found if node not in silent]

    def _coil_ohm(self, node: int, magnitude_ohm: float) -> complex | None:
        z = complex(COIL_R_OHM, math.sqrt(magnitude_ohm**2 - COIL_R_OHM**2)) * self.coil[node]
        for f in self.faults:
            if f.node == node and f.kind == "solenoid open":
                return None
            if f.node == node and f.kind == "solenoid shorted":
                return complex(f.ohm)
            if f.node == node and f.kind == "solenoid joint":
                z += f.ohm
        return z

    def _live(self, coils: dict[int, complex]) -> tuple[Any, float]:
        """Node voltages and the current of the path; nothing once the output has given up."""
        rows, size = self._branches(0, 0)
        matrix = self._matrix(rows, size) + np.eye(size) * 1e-7  # what a meter draws
        right = np.zeros(size, dtype=complex)
        matrix[0, 0] += 1 / self.zs_ohm
        right[0] = self.e_v / self.zs_ohm
        for i in range(1, len(self.parent)):
            if self.draws_standby[i]:
                right[i] -= self.standby_a
        for node, z in coils.items():
            matrix[node, node] += 1 / z
        volts = np.linalg.solve(matrix, right)
        current = abs((self.e_v - volts[0]) / self.zs_ohm)
        if current > self.trip_a:
            return volts * 0, 0.0
        return volts, current

    def call(self, called: int) -> tuple[Any, float, frozenset[str]]:
        """Voltages, path current and valves that open when a station is called."""
        idle, _ = self._live({})
        acting = [n for n in self.answering(called) if abs(idle[n]) > self.least_v[n]]
        first = {n: z for n in acting if (z := self._coil_ohm(n, INRUSH_OHM)) is not None}
        volts, _ = self._live(first)
        shorted = {f.node for f in self.faults if f.kind == "solenoid shorted"}
        open_now = {n for n in first if abs(volts[n]) > self.pull_in_v[n] and n not in shorted}
        settled = {
            n: z
            for n in first
            if (z := self._coil_ohm(n, HOLDING_OHM if n in open_now else INRUSH_OHM)) is not None
        }
        volts, current = self._live(settled)
        return volts, current, frozenset(station_name(n) for n in open_now)

    # the meter and the person

    def measured(self, true: float, unit: str) -> float:
        """What the meter shows: gain, new error, counts."""
        if not math.isfinite(true):
            return true
        percent, count = {"ohm": (0.5, 2 * 0.01), "volt": (1.0, 3 * 0.01), "amp": (1.5, 3e-4)}[unit]
        own = 1 + self.rng.uniform(-1, 1) * percent / 100 / 3
        shown = true * self.gain[unit] * own + self.rng.uniform(-1, 1) * count
        step = {"ohm": 0.01, "volt": 0.01, "amp": 1e-4}[unit]
        return max(0.0, round(shown / step) * step)

    def read(self, test: FieldTest) -> Reading:
        """Make a test."""
        node = int(test.box[1:]) if test.opens else 0
        called = int(test.station[1:]) if test.station else 0
        if test.opens:
            self.opened.add(test.box)
        if test.kind == "loop":
            return Reading(test, self.measured(self.ohms(bridged=node), "ohm"))
        if test.kind == "unbridged":
            return Reading(test, self.measured(self.ohms(), "ohm"))
        if test.kind == "side":
            return Reading(test, self.measured(self.ohms(opened=int(test.beyond[1:])), "ohm"))
        volts, current, water = self.call(called)
        if test.kind == "current":
            return Reading(test, self.measured(current, "amp"))
        if test.kind == "voltage":
            return Reading(test, self.measured(abs(volts[node]), "volt"))
        if test.kind == "water":
            return Reading(test, seen=water)
        dead = {f.node for f in self.faults if f.kind == "decoder dead"}
        acts = called in self.answering(called) and called not in dead
        lit = acts and abs(self._live({})[0][called]) > self.least_v[called]
        return Reading(test, seen=frozenset({test.station} if lit else ()))

    def known_at_start(self) -> list[Reading]:
        """Loops at the ends, standby current, a current and the valves for each station."""
        size = len(self.parent)
        ends = [i for i in range(1, size) if i not in self.parent]
        tests = [FieldTest("loop", "A", box_name(i)) for i in ends]
        tests.append(FieldTest("current", "A"))
        for i in range(1, size):
            tests.append(FieldTest("current", "A", station=station_name(i)))
            tests.append(FieldTest("water", "A", station=station_name(i)))
        opened = set(self.opened)
        readings = [self.read(test) for test in tests]
        self.opened = opened
        return readings


def random_tree(rng: random.Random, boxes: int, straight: float = 0.85) -> list[int]:
    """Parents of a tree: a box goes on from the one before, or else branches off an earlier one."""
    parent = [-1, 0]
    for i in range(2, boxes + 1):
        parent.append(i - 1 if rng.random() < straight else rng.randrange(1, i))
    return parent


def site_of(parent: list[int], drawn_m: list[float]) -> Site:
    """The drawing of a tree as the program reads it, one station in each box."""
    boxes = range(1, len(parent))
    data = {
        "kind": "commission site",
        "format": 1,
        "site": {"name": "Invented", "invented": True, "units": "SI", "frequency": "60 Hz"},
        "soil": {"test_day": "15 °C", "test_day_uncertainty": "4 K"},
        "controller": {"description": "Invented"},
        "supply": {"nominal_voltage": "120 V"},
        "output": [{"id": "1", "rating": "60 VA", "regulation": "15 %"}],
        "earth": {"conductor": "6 AWG"},
        "solenoid_kind": {
            "coil": {
                "inrush_current": "0.40 A",
                "holding_current": "0.20 A",
                "coil_resistance": "30 ohm",
            }
        },
        "decoder_kind": {"D1": {"standby_current": "3.5 mA"}},
        "cable_kind": {"main": {"conductor": "14 AWG"}},
        "path": [
            {
                "id": "A",
                "output": "1",
                "cable": "main",
                "length_by": "wheel",
                "segment": [
                    {
                        "from": box_name(parent[i]) if parent[i] else "output",
                        "to": box_name(i),
                        "length": f"{drawn_m[i]} m",
                    }
                    for i in boxes
                ],
            }
        ],
        "station": [
            {
                "id": station_name(i),
                "number": i,
                "address": i,
                "path": "A",
                "box": box_name(i),
                "decoder": "D1",
                "solenoid": [{"id": "V", "kind": "coil"}],
            }
            for i in boxes
        ],
    }
    return validate(Site, data)


def model_of(parent: list[int], drawn_m: list[float]) -> OutputModel:
    """The output of a drawing on the test day."""
    site = site_of(parent, drawn_m)
    return on_test_day(Drawing(site, build_trees(site)), "1", None)


def drawn_fault(rng: random.Random, kind: str, boxes: int) -> Truth:
    """A fault of a kind at a place drawn at random."""
    node = rng.randrange(1, boxes + 1)
    other = rng.choice([i for i in range(1, boxes + 1) if i != node])
    if kind == "joint":
        return Truth("joint", node, ohm=math.exp(rng.uniform(math.log(2), math.log(50))))
    if kind == "small joint":
        return Truth("joint", node, ohm=math.exp(rng.uniform(math.log(0.3), math.log(2))))
    if kind == "short":
        return Truth("short", node, ohm=rng.uniform(0, 5), along=rng.random())
    if kind == "address":
        which = rng.choice(["wrong address", "same address", "swapped"])
        return Truth(which, node, other=0 if which == "wrong address" else other)
    if kind == "solenoid shorted":
        return Truth(kind, node, ohm=rng.uniform(0.5, 10))
    return Truth(kind, node)


def world(rng: random.Random, boxes: int, *kinds: str) -> World:
    """A random tree with one fault of each kind given, at different places."""
    parent = random_tree(rng, boxes)
    drawn = [0.0] + [round(rng.uniform(10, 60), 1) for _ in range(boxes)]
    faults: list[Truth] = []
    for kind in kinds:
        fault = drawn_fault(rng, kind, boxes)
        while any({fault.node, fault.other} & {f.node, f.other or f.node} for f in faults):
            fault = drawn_fault(rng, kind, boxes)
        faults.append(fault)
    return World(parent, drawn, tuple(faults), rng)
