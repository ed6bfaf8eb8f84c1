"""Stations that run at once, and how low that leaves the voltage of one of them."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from commission.electrical.network import Coil, Network, solve


@dataclass(frozen=True, slots=True)
class Station:
    """A station as the search sees it: one decoder at one node, switching one or more coils.

    `coils` are in the state in which they load the others; `starting`, when given, in the state in
    which this station itself is judged (inrush while the others hold).  `min_v` has one entry per
    coil.  A station that runs with every other (`always`) is in every set and counts against no
    limit.
    """

    number: int
    path: int
    coils: tuple[Coil, ...]
    min_v: tuple[float, ...]
    starting: tuple[Coil, ...] = ()
    always: bool = False

    def __post_init__(self) -> None:
        if not self.coils or len({coil.node for coil in self.coils}) != 1:
            raise ValueError(f"station {self.number} has its coils at one node")
        if len(self.min_v) != len(self.coils) or (
            self.starting and len(self.starting) != len(self.coils)
        ):
            raise ValueError(f"station {self.number} has one minimum and one state per coil")

    @property
    def node(self) -> int:
        """The box at which the decoder is spliced in."""
        return self.coils[0].node

    @property
    def judged(self) -> tuple[Coil, ...]:
        """The coils in the state in which this station is judged."""
        return self.starting or self.coils


def active_coils(
    stations: Iterable[Station], running: Iterable[int], judged: int | None = None
) -> list[Coil]:
    """Coils of the stations that run, in order; those of the `judged` station as it starts."""
    numbers = set(running)
    return [
        coil
        for station in stations
        if station.number in numbers
        for coil in (station.judged if station.number == judged else station.coils)
    ]


def set_ratio(
    net: Network, stations: Sequence[Station], running: Iterable[int], judged: int
) -> tuple[float, int, complex]:
    """Lowest ratio of voltage to minimum over the judged station's coils: ratio, coil, voltage."""
    coils = active_coils(stations, running, judged)
    target = next(station for station in stations if station.number == judged)
    first = next(i for i, coil in enumerate(coils) if coil is target.judged[0])
    coil_v = solve(net, coils).coil_v[first : first + len(target.judged)]
    ratios = [abs(v) / least for v, least in zip(coil_v, target.min_v, strict=True)]
    worst = min(range(len(ratios)), key=lambda i: ratios[i])
    return ratios[worst], worst, coil_v[worst]
