"""An output as it is seen from its nodes while something is attached to it: superposition.

What is attached (a coil, a short, the change of one segment) is a *port*. Attaching one of
impedance z changes every voltage and every transfer impedance by a product of two numbers:

    I = U_j / (Z_jj + z),   U_x ← U_x - Z_xj·I,   Z_xy ← Z_xy - Z_xj·Z_jy / (Z_jj + z)

so that nothing is ever solved again. Source: superposition and Thevenin's theorem.
"""

from __future__ import annotations

from dataclasses import dataclass

from commission.electrical.transfer import Transfer


@dataclass(frozen=True, slots=True)
class Port:
    """Two points of the output with an impedance between them.

    `weights` says which part of the current is drawn at which node: one node for what lies across
    the pair there, two with parts of one for a point along a segment, +1 and -1 for a change of the
    segment between two nodes.
    """

    weights: tuple[tuple[int, float], ...]
    z_ohm: complex
    drop_v: float = 0.0


def across(node: int, z_ohm: complex, drop_v: float = 0.0) -> Port:
    """Something across the pair at a node."""
    return Port(((node, 1.0),), z_ohm, drop_v)


def across_segment(above: int, node: int, along: float, segment: complex, ohm: float) -> Port:
    """Something across the pair part of the way along a segment of impedance `segment`.

    Seen from its two boxes the segment is loaded in proportion, behind the two parts in parallel.
    """
    parts = ((above, 1.0 - along), (node, along))
    return Port(parts, ohm + along * (1.0 - along) * segment)


def in_series(above: int, node: int, segment: complex, ohm: float) -> Port:
    """`ohm` more in a segment of impedance `segment`, as what must be put in parallel with it."""
    return Port(((above, 1.0), (node, -1.0)), -segment * (segment + ohm) / ohm)


class View:
    """Open voltages and transfer impedances of an output with some ports attached."""

    __slots__ = ("_attached", "_transfer", "drive_ohm", "open_v")

    def __init__(
        self,
        transfer: Transfer,
        open_v: list[complex],
        drive_ohm: list[complex],
        attached: tuple[tuple[list[complex], complex], ...] = (),
    ) -> None:
        self._transfer, self.open_v, self.drive_ohm = transfer, open_v, drive_ohm
        self._attached = attached

    def z_ohm(self, a: int, b: int) -> complex:
        """Voltage lost at node a per ampere drawn at node b [Ω]."""
        value = self._transfer.row_ohm(b)[a]
        for row, total in self._attached:
            value -= row[a] * row[b] / total
        return value

    def attach(self, port: Port) -> View:
        """The output with one more port."""
        row = self._row(port)
        total = sum(w * row[n] for n, w in port.weights) + port.z_ohm
        drawn = (sum(w * self.open_v[n] for n, w in port.weights) - port.drop_v) / total
        return View(
            self._transfer,
            [v - z * drawn for v, z in zip(self.open_v, row, strict=True)],
            [d - z * z / total for d, z in zip(self.drive_ohm, row, strict=True)],
            (*self._attached, (row, total)),
        )

    def _row(self, port: Port) -> list[complex]:
        """Voltage lost at every node per ampere through a port."""
        (first, w), *rest = port.weights
        row = [w * z for z in self._transfer.row_ohm(first)]
        for node, part in rest:
            row = [z + part * y for z, y in zip(row, self._transfer.row_ohm(node), strict=True)]
        for attached, total in self._attached:
            share = sum(w * attached[n] for n, w in port.weights) / total
            row = [z - share * y for z, y in zip(row, attached, strict=True)]
        return row
