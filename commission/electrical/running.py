"""Stations that run at once, and how low that leaves the voltage of one of them."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace

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


@dataclass(frozen=True, slots=True)
class Load:
    """A station as one load at its node, I = (V - drop)·y; equal `twin` means interchangeable."""

    station: Station
    node: int
    path: int
    number: int
    y_s: complex
    drop_v: complex

    @property
    def twin(self) -> tuple[object, ...]:
        """Equal for stations that are interchangeable as a load."""
        return (self.node, self.path, self.y_s, self.drop_v)


def load_of(station: Station, coils: Sequence[Coil]) -> Load:
    """The coils of a station as one load."""
    y_s = sum((1 / coil.total_z_ohm for coil in coils), 0j)
    through_a = sum((coil.drop_v / coil.total_z_ohm for coil in coils), 0j)
    return Load(station, station.node, station.path, station.number, y_s, through_a / y_s)


def with_loads(net: Network, loads: Iterable[Load]) -> Network:
    """The output with stations that are always on, taken into its standby."""
    standby_s, standby_a = list(net.standby_s), list(net.standby_a)
    for load in loads:
        standby_s[load.node] += load.y_s
        standby_a[load.node] -= load.y_s * load.drop_v
    return replace(net, standby_s=tuple(standby_s), standby_a=tuple(standby_a))


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
