"""Many sets of coils on one output without solving it again for each: superposition.

Without any coil the output has *open* voltages.  A current drawn at node j lowers the voltage at
node i by the transfer impedance Z_ij times that current, and Z_ij = Z_ji.  So a set of coils is a
system of only as many equations as there are coils:

    (V_open,a - drop_a) = z_a·I_a + Σ_b Z_ab·I_b

The transfer impedances follow from one elimination: looking down a segment, the voltage is divided
by 1 + Y·Z, with Y the admittance of the subtree below; looking up, the same with everything above.
"""

from __future__ import annotations

from collections.abc import Sequence

from commission.electrical.network import Coil, Network, solve


class Transfer:
    """Open voltages and transfer impedances of one linear output.

    Constant-power standby is a ValueError: replace it by `network.freeze_power` first.
    """

    def __init__(self, net: Network) -> None:
        if any(net.standby_w):
            raise ValueError("constant-power standby has no transfer impedance: freeze it first")
        self.network = net
        self.open_v = solve(net).node_v
        self._down, self._up, self.driving_ohm = _ratios(net)
        self._rows: dict[int, list[complex]] = {}

    def row_ohm(self, node: int) -> list[complex]:
        """Voltage lost at every node per ampere drawn at `node` [Ω]; O(boxes), kept."""
        row = self._rows.get(node)
        if row is None:
            row = self._rows[node] = self._row(node)
        return row

    def between_ohm(self, one: int, other: int) -> complex:
        """Voltage lost at one node per ampere drawn at another [Ω]; no row is worked out twice."""
        if one == other:
            return self.driving_ohm[one]
        if one not in self._rows and other in self._rows:
            return self._rows[other][one]
        return self.row_ohm(one)[other]

    def _row(self, node: int) -> list[complex]:
        parent, down = self.network.parent, self._down
        row: list[complex] = [0j] * len(parent)
        on_route = bytearray(len(parent))
        value, here = self.driving_ohm[node], node
        while True:
            row[here], on_route[here] = value, 1
            if here == 0:
                break
            value *= self._up[here]
            here = parent[here]
        for i in range(1, len(parent)):
            if not on_route[i]:
                row[i] = row[parent[i]] * down[i]
        return row

    def coil_currents_a(self, coils: Sequence[Coil]) -> list[complex]:
        """Current of each coil while all of them run [A]; agrees with `network.solve`."""
        matrix = [
            [
                self.between_ohm(one.node, other.node) + (one.total_z_ohm if i == k else 0)
                for k, other in enumerate(coils)
            ]
            for i, one in enumerate(coils)
        ]
        return solve_dense(matrix, [self.open_v[coil.node] - coil.drop_v for coil in coils])


def _ratios(net: Network) -> tuple[list[complex], list[complex], list[complex]]:
    """Voltage ratio into each node from its parent and out of it, and its driving impedance."""
    parent, z_ohm, size = net.parent, net.z_ohm, len(net.parent)
    below_s = list(net.standby_s)
    seen_s = [0j] * size
    down = [1 + 0j] * size
    for i in range(size - 1, 0, -1):
        down[i] = 1 / (1 + below_s[i] * z_ohm[i])
        seen_s[i] = below_s[i] * down[i]
        below_s[parent[i]] += seen_s[i]
    up = [1 + 0j] * size
    driving_ohm = [z_ohm[0] / (1 + below_s[0] * z_ohm[0])] * size
    for i in range(1, size):
        parent_ohm = driving_ohm[parent[i]]
        # the parent's impedance without this branch: 1/(1/Z - Y), written so that Z = 0 is allowed
        rest_ohm = parent_ohm / (1 - parent_ohm * seen_s[i])
        feed_ohm = rest_ohm + z_ohm[i]
        up[i] = rest_ohm / feed_ohm if feed_ohm else 1 + 0j
        driving_ohm[i] = feed_ohm / (1 + feed_ohm * below_s[i])
    return down, up, driving_ohm


def solve_dense(matrix: list[list[complex]], right: list[complex]) -> list[complex]:
    """Solve a small dense system in place by elimination with pivoting."""
    size = len(right)
    for k in range(size):
        pivot = max(range(k, size), key=lambda row: abs(matrix[row][k]))
        matrix[k], matrix[pivot] = matrix[pivot], matrix[k]
        right[k], right[pivot] = right[pivot], right[k]
        for row in range(k + 1, size):
            factor = matrix[row][k] / matrix[k][k]
            if factor:
                for column in range(k, size):
                    matrix[row][column] -= factor * matrix[k][column]
                right[row] -= factor * right[k]
    for k in range(size - 1, -1, -1):
        known = sum(matrix[k][column] * right[column] for column in range(k + 1, size))
        right[k] = (right[k] - known) / matrix[k][k]
    return right
