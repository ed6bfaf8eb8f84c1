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

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from commission.electrical.network import Coil, Network, Solution


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

    def per_branch_ohm(self, node: int) -> complex:
        """Slope over the impedance of the branch that feeds a node; node 0: of the source."""
        return -self.sign * self.working.branch_a[node] * self.branch_a[node]

    def per_coil_ohm(self, coil: int) -> complex:
        """Slope over the impedance of a coil."""
        return -self.sign * self.working.coil_a[coil] * self.coil_a[coil]

    @property
    def per_source_volt(self) -> complex:
        """Slope over the source's voltage."""
        return self.sign * self.branch_a[0]

    def per_ampere(self, node: int) -> complex:
        """Slope over a current drawn at a node."""
        return self.sign * self.node_v[node]


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
    net, coils = working.network, working.coils
    node_v, branch_a = _rest(net, coils, drawn, against)
    coil_a = tuple(node_v[coil.node] / coil.total_z_ohm for coil in coils)
    return Answer(working, tuple(node_v), tuple(branch_a), coil_a, sign)


def _rest(
    net: Network, coils: Sequence[Coil], drawn: dict[int, complex], against: frozenset[int]
) -> tuple[list[complex], list[complex]]:
    """Node voltages and branch currents: ends to terminals, and back, as `network.solve` does."""
    size = len(net.parent)
    load_s, load_a = list(net.standby_s), [0j] * size
    for coil in coils:
        load_s[coil.node] += 1 / coil.total_z_ohm
    for node, current in drawn.items():
        load_a[node] += current
    parent, z_ohm = net.parent, net.z_ohm
    factor = [0j] * size
    for i in range(size - 1, 0, -1):
        factor[i] = 1 / (1 + load_s[i] * z_ohm[i])
        if i in against:
            load_a[i] -= load_s[i]  # one volt less at the far side of the segment
        load_s[parent[i]] += load_s[i] * factor[i]
        load_a[parent[i]] += load_a[i] * factor[i]
    branch_a, node_v = [0j] * size, [0j] * size
    opposed = -1 if 0 in against else 0
    branch_a[0] = (load_a[0] + load_s[0] * opposed) / (1 + load_s[0] * z_ohm[0])
    node_v[0] = opposed - z_ohm[0] * branch_a[0]
    for i in range(1, size):
        above = node_v[parent[i]]
        branch_a[i] = (load_s[i] * above + load_a[i]) * factor[i]
        node_v[i] = above - z_ohm[i] * branch_a[i] - (1 if i in against else 0)
    return node_v, branch_a
