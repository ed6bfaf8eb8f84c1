"""The loop of a tree whose boxes hold decoders that conduct at an ohmmeter's voltage.

Most do not: a rectifier input blocks below a few tenths of a volt. A kind that states a d.c.
resistance lies across the pair at its box, and draws a part of the meter's current away.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Loop:
    """What a meter at the terminals reads, and how that moves.

    Per node: `per_ohm` with the resistance of the branch that feeds it, `per_siemens` [Ω²] with
    what lies across the pair there. With one ampere from the meter these are i² and -v², by
    Tellegen's theorem.
    """

    r_ohm: float
    per_ohm: tuple[float, ...]
    per_siemens: tuple[float, ...]


def loop(
    parent: Sequence[int],
    r_ohm: Sequence[float],
    across_s: Sequence[float],
    bridged: int | None = None,
) -> Loop:
    """The resistance [Ω] of a tree seen from node 0, its pair bridged at one node or nowhere.

    Parents come before their children; the branch that feeds node 0 is not part of it. `across_s`
    is the conductance across the pair at each node [S]. Raises ZeroDivisionError when nothing is
    bridged and nothing conducts. Source: Ohm's law, series and parallel.
    """
    seen_s = list(across_s)  # into each node and what it feeds
    into_s = list(across_s)  # into the branch that feeds it
    for node in range(len(parent) - 1, 0, -1):
        if node == bridged:
            into_s[node] = 1 / r_ohm[node]
        else:
            into_s[node] = seen_s[node] / (1 + r_ohm[node] * seen_s[node])
        seen_s[parent[node]] += into_s[node]
    total_ohm = 1 / seen_s[0]
    volt = [total_ohm] * len(parent)  # per ampere
    current = [1.0] * len(parent)
    for node in range(1, len(parent)):
        current[node] = volt[parent[node]] * into_s[node]
        volt[node] = volt[parent[node]] - r_ohm[node] * current[node]
    return Loop(total_ohm, tuple(i * i for i in current), tuple(-v * v for v in volt))
