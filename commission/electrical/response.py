"""How an output answers one small change: all slopes of one voltage or current at once.

Reciprocity: whatever changes in a branch or a load acts as a small source of its own there. What it
does to the quantity watched equals what one unit *at that quantity* does there, in the same network
with its sources at rest. So one more solution gives every slope.

Watching the voltage of a node, one ampere is drawn from it; watching a current, one volt is put in
series with its branches. With I and V the working state, i and v the answer, the quantity moves

    by  -I·i·dz          when a branch or a coil gains dz in impedance,
    by  (+ or -) i·dE    when the source gains dE,
    by  (+ or -) v·dI    when a node draws dI more,

the upper sign for a voltage, the lower for a current: see `Answer`. Standby of constant power is
held at the current that it draws. Source: reciprocity theorem of linear passive networks.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from commission.electrical.network import Solution


@dataclass(frozen=True, slots=True)
class Answer:
    """Voltages and currents of a network at rest but for one unit at the quantity watched.

    The slopes over an impedance, the source voltage and a drawn current follow from it.
    """

    working: Solution
    node_v: tuple[complex, ...]
    branch_a: tuple[complex, ...]
    coil_a: tuple[complex, ...]
    sign: int  # +1: the voltage of a node is watched; -1: a current

    @property
    def per_branch_ohm(self) -> list[complex]:
        """Slope over the impedance of the branch that feeds each node; node 0: of the source."""
        by = -self.sign
        return [by * a * b for a, b in zip(self.working.branch_a, self.branch_a, strict=True)]

    def per_coil_ohm(self, coil: int) -> complex:
        """Slope over the impedance of a coil."""
        return -self.sign * self.working.coil_a[coil] * self.coil_a[coil]

    @property
    def per_source_volt(self) -> complex:
        """Slope over the source's voltage."""
        return self.sign * self.branch_a[0]

    @property
    def per_ampere(self) -> list[complex]:
        """Slope over a current drawn at each node."""
        return [self.sign * v for v in self.node_v]


def of_voltage(working: Solution, node: int) -> Answer:
    """The answer for the voltage of a node."""
    return _answer(working, {node: 1 + 0j}, frozenset(), 1)


def of_current(working: Solution, branches: Iterable[int]) -> Answer:
    """The answer for the sum of the currents in the branches that feed these nodes."""
    return _answer(working, {}, frozenset(branches), -1)


def _answer(
    working: Solution, drawn: dict[int, complex], against: frozenset[int], sign: int
) -> Answer:
    """One ampere drawn at nodes, or one volt against the current of branches; nothing drives."""
    node_v, branch_a = _rest(working, drawn, against)
    coil_a = tuple(node_v[coil.node] / coil.total_z_ohm for coil in working.coils)
    return Answer(working, tuple(node_v), tuple(branch_a), coil_a, sign)


def _rest(
    working: Solution, drawn: dict[int, complex], against: frozenset[int]
) -> tuple[list[complex], list[complex]]:
    """Node voltages and branch currents: from what is drawn up to the terminals, and all back.

    The admittances are those of the working state: they were added up when it was solved.
    """
    net, seen_s, shares = working.network, working.seen_s, working.shares
    parent, z_ohm = net.parent, net.z_ohm
    branch_a = [0j] * len(parent)
    climbing = [(node, current * shares[node]) for node, current in drawn.items()]
    # One volt less at the far side of a branch: all that hangs there draws so much less.
    climbing += [(branch, -seen_s[branch]) for branch in against if branch]
    for at, passed in climbing:
        while at:
            branch_a[at] += passed
            at = parent[at]
            passed *= shares[at]
        branch_a[0] += passed
    opposed = -1 if 0 in against else 0
    branch_a[0] = (branch_a[0] + seen_s[0] * opposed) / (1 + seen_s[0] * z_ohm[0])
    node_v = [opposed - z_ohm[0] * branch_a[0]]
    for i in range(1, len(parent)):
        above = node_v[parent[i]]
        branch_a[i] += seen_s[i] * above
        node_v.append(above - z_ohm[i] * branch_a[i] - (1 if i in against else 0))
    return node_v, branch_a
