"""Conductor-to-earth voltages of an output, and what leaks to earth do to it.

Each box has two voltages, one per conductor, both against earth; the loads sit between them.  A
subtree then draws I = Y·V + J with V and I pairs and Y a matrix of two by two, and the same
elimination as in `network` solves the tree exactly.

On a floating output one leak draws nearly nothing and drops no voltage: only the conductor-to-earth
voltages move, from about half and half to nothing on the leaking conductor and everything on the
other.  Two leaks on opposite conductors load the path.  What little holds a floating output in
place is the insulation of its sound cable, so that is part of the model.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final, Literal

from commission.electrical.network import Coil, Network, freeze_power

Pair = tuple[complex, complex]
Square = tuple[complex, complex, complex, complex]
"""A matrix of two by two, row by row."""

SOUND_INSULATION_OHM: Final = 100e6
"""Each conductor's insulation to earth at each box of sound cable [Ω] (judgement)."""


@dataclass(frozen=True, slots=True)
class Leak:
    """A path from one conductor to earth at one box."""

    node: int
    conductor: Literal["first", "second"]
    r_ohm: float


@dataclass(frozen=True, slots=True)
class EarthSolution:
    """Voltages of both conductors against earth; `leak_a` and `coil_v` in the order given.

    `earthing_a` is the current that comes back from earth into the second conductor's terminal.
    """

    first_v: tuple[complex, ...]
    second_v: tuple[complex, ...]
    leak_a: tuple[complex, ...]
    coil_v: tuple[complex, ...]
    earthing_a: complex

    def between_v(self, node: int) -> complex:
        """Voltage between the two conductors at a node [V]."""
        return self.first_v[node] - self.second_v[node]


def solve_with_earth(
    net: Network,
    coils: Sequence[Coil] = (),
    leaks: Sequence[Leak] = (),
    *,
    earthing_ohm: float | None = None,
    first_share: Sequence[float] | None = None,
    insulation_ohm: float = SOUND_INSULATION_OHM,
) -> EarthSolution:
    """Solve an output with its earth node.

    `earthing_ohm` lies between the second conductor's terminal and earth: None when the output is
    floating, 0 when it is solidly earthed.  `first_share[i]` is the first conductor's part of the
    loop impedance into node i (half of it when not given).  A leak without resistance is a
    ValueError.  Constant-power standby draws what it draws without leaks.
    """
    if any(leak.r_ohm <= 0 for leak in leaks):
        raise ValueError("a leak has a resistance above zero")
    net = freeze_power(net, coils)
    share = first_share or [0.5] * len(net.parent)
    loads, drawn = _pair_loads(net, coils, leaks, insulation_ohm)
    passed = _pass_up(net, share, loads, drawn)
    root_v = _terminals(net, loads[0], drawn[0], earthing_ohm)
    root_a = _currents(loads[0], drawn[0], root_v)
    voltages, currents = [root_v], [root_a]
    for i in range(1, len(net.parent)):
        above = voltages[net.parent[i]]
        current = _currents(*passed[i], above)
        first_z, second_z = net.z_ohm[i] * share[i], net.z_ohm[i] * (1 - share[i])
        currents.append(current)
        voltages.append((above[0] - first_z * current[0], above[1] - second_z * current[1]))
    return _earth_solution(coils, leaks, voltages, currents)


def _pair_loads(
    net: Network, coils: Sequence[Coil], leaks: Sequence[Leak], insulation_ohm: float
) -> tuple[list[Square], list[Pair]]:
    """Admittance matrix and fixed current pair of every node."""
    between_s, between_a = list(net.standby_s), list(net.standby_a)
    for coil in coils:
        between_s[coil.node] += 1 / coil.total_z_ohm
        between_a[coil.node] -= coil.drop_v / coil.total_z_ohm
    to_earth = [[1 / insulation_ohm + 0j, 1 / insulation_ohm + 0j] for _ in net.parent]
    for leak in leaks:
        to_earth[leak.node][leak.conductor == "second"] += 1 / leak.r_ohm
    loads = [
        (s + first, -s, -s, s + second)
        for s, (first, second) in zip(between_s, to_earth, strict=True)
    ]
    return loads, [(a, -a) for a in between_a]


def _pass_up(
    net: Network, share: Sequence[float], loads: list[Square], drawn: list[Pair]
) -> list[tuple[Square, Pair]]:
    """Add every subtree to its parent; returns what each looks like from its parent."""
    passed = [(load, pair) for load, pair in zip(loads, drawn, strict=True)]
    for i in range(len(net.parent) - 1, 0, -1):
        a, b, c, d = loads[i]
        j, k = drawn[i]
        first_z, second_z = net.z_ohm[i] * share[i], net.z_ohm[i] * (1 - share[i])
        # inverse of 1 + Y·Z, with Z = diag(first_z, second_z)
        m11, m12, m21, m22 = 1 + a * first_z, b * second_z, c * first_z, 1 + d * second_z
        det = m11 * m22 - m12 * m21
        load = (
            (m22 * a - m12 * c) / det,
            (m22 * b - m12 * d) / det,
            (m11 * c - m21 * a) / det,
            (m11 * d - m21 * b) / det,
        )
        pair = ((m22 * j - m12 * k) / det, (m11 * k - m21 * j) / det)
        passed[i] = (load, pair)
        above = net.parent[i]
        w, x, y, z = loads[above]
        loads[above] = (w + load[0], x + load[1], y + load[2], z + load[3])
        drawn[above] = (drawn[above][0] + pair[0], drawn[above][1] + pair[1])
    return passed


def _terminals(net: Network, load: Square, drawn: Pair, earthing_ohm: float | None) -> Pair:
    """Both terminal voltages: all current returns, and E drives the first conductor's current."""
    a, b, c, d = load
    j, k = drawn
    source_z = net.z_ohm[0]
    if earthing_ohm == 0:
        return ((net.source_v - source_z * j) / (1 + source_z * a), 0j)
    earthing_s = 0.0 if earthing_ohm is None else 1 / earthing_ohm
    # (V1 - V2) + Zs·(a·V1 + b·V2 + j) = E   and   the current to earth is nothing in total
    p, q, right = 1 + source_z * a, source_z * b - 1, net.source_v - source_z * j
    r, s, none = a + c, b + d + earthing_s, -(j + k)
    det = p * s - q * r
    return ((right * s - q * none) / det, (p * none - r * right) / det)


def _currents(load: Square, drawn: Pair, voltage: Pair) -> Pair:
    a, b, c, d = load
    return (
        a * voltage[0] + b * voltage[1] + drawn[0],
        c * voltage[0] + d * voltage[1] + drawn[1],
    )


def _earth_solution(
    coils: Sequence[Coil],
    leaks: Sequence[Leak],
    voltages: Sequence[Pair],
    currents: Sequence[Pair],
) -> EarthSolution:
    return EarthSolution(
        first_v=tuple(v[0] for v in voltages),
        second_v=tuple(v[1] for v in voltages),
        leak_a=tuple(voltages[k.node][k.conductor == "second"] / k.r_ohm for k in leaks),
        coil_v=tuple(
            (voltages[c.node][0] - voltages[c.node][1] - c.drop_v) / c.total_z_ohm * c.z_ohm
            for c in coils
        ),
        earthing_a=currents[0][0] + currents[0][1],
    )
