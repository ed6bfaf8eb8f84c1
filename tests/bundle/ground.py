"""A section of an old bundle in the ground, solved node by node with numpy.

Independent of the program: conductors are chains of resistors with whatever is wrong along them,
and a reading is the voltage that one ampere leaves between the meter's two leads.
"""

from __future__ import annotations

import math
import random
from dataclasses import dataclass, field
from itertools import pairwise

import numpy as np

from commission.bundle.section import Conductor, Section, Test

EARTH = "earth"
SOUND_S = 1e-9  # of good insulation, each conductor to earth, at its near and far end
NOTHING_S = 1e-12  # keeps what hangs on nothing solvable
OVER_RANGE_OHM = 2e8
HIGH = 1.25  # the most that a conductor should have, over what it has
MIN_INSULATION_OHM = 5e5


@dataclass
class Ground:
    """Conductors by name with their resistance, and what is wrong at which part of the way."""

    ohm: dict[str, float]
    breaks: dict[str, float] = field(default_factory=dict)  # name: where, 0 near to 1 far
    poor: dict[str, tuple[float, float]] = field(default_factory=dict)  # where, ohm too many
    leaks: dict[str, tuple[float, float]] = field(default_factory=dict)  # where, ohm to earth
    shorts: list[tuple[str, str, float, float]] = field(default_factory=list)  # where, ohm

    @property
    def section(self) -> Section:
        """What is known of it beforehand, the thickest conductors first."""
        order = sorted(self.ohm, key=lambda name: self.ohm[name])
        listed = tuple(Conductor(name, HIGH * self.ohm[name]) for name in order)
        return Section(listed, MIN_INSULATION_OHM)

    def read(self, test: Test) -> float:
        """What a meter reads in this test; infinite where it shows no end."""
        one, others = test.first, [name for name in self.ohm if name != test.first]
        near = {name: f"{name} near" for name in self.ohm}
        far = {name: f"{name} far" for name in self.ohm}
        if test.kind == "loop":
            joined = [(far[one], far[test.second])]
            return self._between(near[one], near[test.second], joined)
        bunch = [(near[others[0]], near[name]) for name in others[1:]]
        bunch += [(far[others[0]], far[name]) for name in others[1:]]
        if test.kind == "insulation":
            return self._between(near[one], near[others[0]], [*bunch, (near[others[0]], EARTH)])
        return self._between(near[one], near[others[0]], [*bunch, (far[one], far[others[0]])])

    def sound(self, name: str) -> bool:
        """Whether it goes through as it should and touches nothing: the truth, not a reading."""
        through = name not in self.breaks
        excess = self.poor.get(name, (0.0, 0.0))[1]
        return through and self.insulated(name) and excess <= (HIGH - 1) * self.ohm[name]

    def insulated(self, name: str) -> bool:
        """Whether what the near box sees of it touches nothing."""
        return self.read(Test("insulation", name)) >= MIN_INSULATION_OHM

    def _between(self, lead: str, other: str, joined: list[tuple[str, str]]) -> float:
        """Ohms between two nodes, with these pairs of nodes joined into one."""
        merged: dict[str, str] = {}
        for keep, gone in joined:
            root = merged.get(keep, keep)
            merged.update({node: root for node, at in merged.items() if at == gone})
            merged[gone] = root
        edges = [(merged.get(a, a), merged.get(b, b), s) for a, b, s in self._edges()]
        lead, other = merged.get(lead, lead), merged.get(other, other)
        names = sorted({node for a, b, _ in edges for node in (a, b)})
        index = {node: number for number, node in enumerate(names)}
        matrix = np.diag(np.full(len(names), NOTHING_S))
        for a, b, siemens in edges:
            i, j = index[a], index[b]
            matrix[i, i] += siemens
            matrix[j, j] += siemens
            matrix[i, j] -= siemens
            matrix[j, i] -= siemens
        amperes = np.zeros(len(names))
        amperes[index[lead]] += 1.0
        amperes[index[other]] -= 1.0
        volts = np.linalg.solve(matrix, amperes)
        ohm = float(volts[index[lead]] - volts[index[other]])
        return math.inf if ohm > OVER_RANGE_OHM else ohm

    def _edges(self) -> list[tuple[str, str, float]]:
        """All resistors as two nodes and a conductance."""
        edges, node_at = [], {}
        for name, ohm in self.ohm.items():
            marks = {0.0: f"{name} near", 1.0: f"{name} far"}
            for where in self._places(name):
                marks[where] = f"{name} {where}"
            node_at[name] = marks
            stops = sorted(marks)
            for start, end in pairwise(stops):
                excess = sum(
                    more for where, more in [self.poor.get(name, (-1, 0.0))] if start <= where < end
                )
                if not start <= self.breaks.get(name, -1.0) < end:
                    edges.append((marks[start], marks[end], 1 / (ohm * (end - start) + excess)))
            edges += [(marks[0.0], EARTH, SOUND_S), (marks[1.0], EARTH, SOUND_S)]
        edges += [(node_at[n][w], EARTH, 1 / ohm) for n, (w, ohm) in self.leaks.items()]
        edges += [(node_at[a][w], node_at[b][w], 1 / ohm) for a, b, w, ohm in self.shorts]
        return edges

    def _places(self, name: str) -> list[float]:
        found = [w for n, (w, _) in {**self.leaks}.items() if n == name]
        return found + [w for a, b, w, _ in self.shorts if name in (a, b)]


def random_ground(rng: random.Random, count: int, ill: float) -> Ground:
    """So many conductors, some thicker, each of them ill in some way with a probability."""
    length_ohm = rng.uniform(0.2, 3.0)
    names = [str(number) for number in range(1, count + 1)]
    ground = Ground({name: length_ohm * rng.choice((0.6, 1.0)) for name in names})

    def place() -> float:
        return rng.uniform(0.02, 0.98)

    for name in names:
        if rng.random() < ill:
            ground.breaks[name] = place()
        if rng.random() < ill / 2:
            ground.poor[name] = place(), 10 ** rng.uniform(-0.3, 2)
        if rng.random() < ill:
            ground.leaks[name] = place(), 10 ** rng.uniform(0, 5)
        if rng.random() < ill and count > 1:
            other = rng.choice([one for one in names if one != name])
            ground.shorts.append((name, other, place(), 10 ** rng.uniform(-1, 4)))
    return ground
