"""Voltages and currents of a whole output: all its paths behind one source, solved as phasors.

The output is one tree.  Node 0 is the pair of output terminals, fed by the source voltage E through
the source impedance; every other node is a valve box, fed from its parent through a segment.  At a
node hang the decoders' standby loads and, while stations run, coils.

Each subtree looks from its parent like a load that draws I = Y·V + J.  Passing through the segment
that feeds it, of impedance Z, this becomes I = (Y·V + J)/(1 + Y·Z).  One pass from the ends to the
terminals adds up these loads, one pass back gives every voltage: two visits per box, no iteration.
Only standby of constant power (I = P/V*) is not of that form and is repeated until it settles.

Voltages and currents are r.m.s. phasors, with E as the zero of angles.  Source: Kirchhoff's laws.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Final, NamedTuple

MAX_ROUNDS: Final = 200
"""Repetitions allowed to constant-power standby before the network counts as collapsed."""

SETTLED: Final = 1e-13
"""Relative change of voltage at which constant-power standby has settled."""


COLLAPSE_REMEDY: Final = "look at standby_current and standby_model of the decoder kinds"


class CollapseError(ValueError):
    """Standby asks for more than the cable can carry: no voltage satisfies it."""


@dataclass(frozen=True, slots=True)
class Coil:
    """An active solenoid, behind the output of its decoder.

    `output_ohm` is the decoder's output resistance; `drop_v` its fixed volt drop, taken in phase
    with E so that the network stays linear (conservative: it takes its full size off the coil).
    """

    node: int
    z_ohm: complex
    output_ohm: float = 0.0
    drop_v: float = 0.0

    @property
    def total_z_ohm(self) -> complex:
        """Coil and output resistance in series [Ω]."""
        return self.z_ohm + self.output_ohm


@dataclass(frozen=True, slots=True)
class Network:
    """One output as arrays over its nodes; a parent always stands before its children.

    `parent[0]` is -1 and `z_ohm[0]` the source impedance.  Standby per node: `standby_a` drawn at a
    fixed current (in phase with E when real), `standby_s` as admittance [S], `standby_w` as
    constant power.
    """

    source_v: float
    parent: tuple[int, ...]
    z_ohm: tuple[complex, ...]
    standby_a: tuple[complex, ...]
    standby_s: tuple[complex, ...]
    standby_w: tuple[float, ...]

    def __post_init__(self) -> None:
        size = len(self.parent)
        arrays = (self.z_ohm, self.standby_a, self.standby_s, self.standby_w)
        if size == 0 or any(len(array) != size for array in arrays):
            raise ValueError("every array of a network has one entry per node")
        if self.parent[0] != -1 or any(not 0 <= self.parent[i] < i for i in range(1, size)):
            raise ValueError("node 0 has parent -1 and every parent stands before its children")


def network(
    source_v: float,
    parent: Sequence[int],
    z_ohm: Sequence[complex],
    *,
    standby_a: Sequence[complex] = (),
    standby_s: Sequence[complex] = (),
    standby_w: Sequence[float] = (),
) -> Network:
    """Describe an output; a standby that is left out is zero everywhere."""
    none = (0.0,) * len(parent)
    return Network(
        source_v=source_v,
        parent=tuple(parent),
        z_ohm=tuple(z_ohm),
        standby_a=tuple(standby_a) or none,
        standby_s=tuple(standby_s) or none,
        standby_w=tuple(standby_w) or none,
    )


@dataclass(frozen=True, slots=True)
class Solution:
    """A solved output.

    `branch_a[i]` flows from the parent into node i, `branch_a[0]` out of the source.  `coil_v` is
    the voltage at each coil itself, behind the decoder's output.  `seen_s[i]` is the admittance of
    all that hangs behind branch i, its own impedance included (at node 0: without the source's);
    `shares[i]` is the part of a current drawn at node i that a parent at rest gives.
    """

    network: Network
    coils: tuple[Coil, ...]
    node_v: tuple[complex, ...]
    branch_a: tuple[complex, ...]
    coil_v: tuple[complex, ...]
    coil_a: tuple[complex, ...]
    seen_s: tuple[complex, ...]
    shares: tuple[complex, ...]

    @property
    def source_a(self) -> complex:
        """Current of the whole output [A]."""
        return self.branch_a[0]

    @property
    def source_va(self) -> complex:
        """Complex power that the ideal source gives, S = E·I* [VA]."""
        return self.network.source_v * self.branch_a[0].conjugate()


def solve(net: Network, coils: Sequence[Coil] = ()) -> Solution:
    """Solve an output with a set of coils active.

    Linear standby takes one elimination; constant power repeats it until voltages settle, and is a
    `CollapseError` when they never do.
    """
    load_s, load_a = _loads(net, coils)
    if not any(net.standby_w):
        return _solution(net, coils, _eliminate(net, load_s, load_a))
    node_v: Sequence[complex] = [net.source_v + 0j] * len(net.parent)
    for _ in range(MAX_ROUNDS):
        total_a = _with_power(net, load_a, node_v)
        before, found = node_v, _eliminate(net, load_s, total_a)
        node_v = found.node_v
        change = max(abs(new - old) for new, old in zip(node_v, before, strict=True))
        if change <= SETTLED * net.source_v:
            return _solution(net, coils, found)
    raise CollapseError("the standby power asked for is more than the cable can carry")


def freeze_power(net: Network, coils: Sequence[Coil] = ()) -> Network:
    """The same output with constant power replaced by the currents it draws while `coils` run.

    The result is linear, and exact in that state.
    """
    if not any(net.standby_w):
        return net
    node_v = solve(net, coils).node_v
    currents = tuple(_with_power(net, list(net.standby_a), node_v))
    return replace(net, standby_a=currents, standby_w=(0.0,) * len(net.parent))


def _loads(net: Network, coils: Sequence[Coil]) -> tuple[list[complex], list[complex]]:
    """Admittance and fixed current drawn at each node, without constant power."""
    load_s, load_a = list(net.standby_s), list(net.standby_a)
    for coil in coils:
        admittance_s = 1 / coil.total_z_ohm
        load_s[coil.node] += admittance_s
        load_a[coil.node] -= coil.drop_v * admittance_s
    return load_s, load_a


def _with_power(
    net: Network, load_a: Sequence[complex], node_v: Sequence[complex]
) -> list[complex]:
    """Fixed currents plus what constant power draws at these voltages, I = P/V* = P·V/|V|²."""
    if not all(node_v):
        raise CollapseError("a node with constant-power standby has no voltage")
    return [
        current + power * voltage / abs(voltage) ** 2
        for current, power, voltage in zip(load_a, net.standby_w, node_v, strict=True)
    ]


class _Eliminated(NamedTuple):
    node_v: list[complex]
    branch_a: list[complex]
    seen_s: list[complex]
    shares: list[complex]


def _eliminate(net: Network, load_s: Sequence[complex], load_a: Sequence[complex]) -> _Eliminated:
    """A linear tree: ends to terminals, and back."""
    parent, z_ohm = net.parent, net.z_ohm
    sum_s, sum_a = list(load_s), list(load_a)
    shares = [1 + 0j] * len(parent)
    for i in range(len(parent) - 1, 0, -1):
        shares[i] = share = 1 / (1 + sum_s[i] * z_ohm[i])
        sum_s[i] *= share
        sum_a[i] *= share
        above = parent[i]
        sum_s[above] += sum_s[i]
        sum_a[above] += sum_a[i]
    source_a = (sum_s[0] * net.source_v + sum_a[0]) / (1 + sum_s[0] * z_ohm[0])
    node_v, branch_a = [net.source_v - z_ohm[0] * source_a], [source_a]
    for i in range(1, len(parent)):
        above_v = node_v[parent[i]]
        current = sum_s[i] * above_v + sum_a[i]
        branch_a.append(current)
        node_v.append(above_v - z_ohm[i] * current)
    return _Eliminated(node_v, branch_a, sum_s, shares)


def _solution(net: Network, coils: Sequence[Coil], found: _Eliminated) -> Solution:
    node_v = found.node_v
    coil_a = tuple((node_v[coil.node] - coil.drop_v) / coil.total_z_ohm for coil in coils)
    return Solution(
        network=net,
        coils=tuple(coils),
        node_v=tuple(node_v),
        branch_a=tuple(found.branch_a),
        coil_v=tuple(a * coil.z_ohm for a, coil in zip(coil_a, coils, strict=True)),
        coil_a=coil_a,
        seen_s=tuple(found.seen_s),
        shares=tuple(found.shares),
    )


@dataclass(frozen=True, slots=True)
class Balance:
    """How well a solution obeys the laws: errors relative to the source's current and power."""

    current_error: float
    power_error: float


def check_balance(solution: Solution) -> Balance:
    """Largest current left over at a node, and power of the source that nothing takes up.

    Kirchhoff's current law holds at every node, and the source's complex power is what segments,
    standby, decoder outputs and coils take together (Tellegen's theorem).  A source that gives
    nothing is compared absolutely.
    """
    net, node_v, branch_a = solution.network, solution.node_v, solution.branch_a
    drawn_a = [
        admittance * voltage + current + (power / voltage.conjugate() if power else 0)
        for admittance, voltage, current, power in zip(
            net.standby_s, node_v, net.standby_a, net.standby_w, strict=True
        )
    ]
    for coil, coil_a in zip(solution.coils, solution.coil_a, strict=True):
        drawn_a[coil.node] += coil_a
    taken_va = sum(
        (v * a.conjugate() for v, a in zip(node_v, drawn_a, strict=True)),
        sum(z * abs(a) ** 2 for z, a in zip(net.z_ohm, branch_a, strict=True)),
    )
    left_a = [into - drawn for into, drawn in zip(branch_a, drawn_a, strict=True)]
    for i in range(1, len(net.parent)):
        left_a[net.parent[i]] -= branch_a[i]
    scale_a = abs(solution.source_a) or 1.0
    scale_va = abs(solution.source_va) or 1.0
    return Balance(
        current_error=max(abs(current) for current in left_a) / scale_a,
        power_error=abs(solution.source_va - taken_va) / scale_va,
    )
