"""The set of stations that, run at once, leaves some solenoid the least voltage for its minimum.

Exact but for constant-power standby, by branch and bound. For one solenoid (the *target*) the
voltage with a set running is what it has with the stations chosen so far, less a drop for every
station still to be chosen. A magnitude is bounded through a projection: |V| ≥ Re(u*·V) for any
unit phasor u, so that drops add up as real numbers. Where even the largest drops that may still
be chosen cannot bring the target below the best set known, nothing beyond needs to be looked at.
The last station's drop is exact.

What the bound assumes:

* **One station more raises no voltage.**  A station's drop x at the target, computed with it alone
  added, becomes at most x - x·m when others are chosen too, with m the part of its voltage that
  they take.  Mostly that is less; where m turns x farther along u, the difference is added.
* **Voltage does not rise away from the terminals.**  So a station fed through the target's box that
  needs no less voltage is worse off than the target in any set with both, and is left to its own
  search.

The second holds for passive copper and solenoids that lag; capacitors across a path would break it.
The first is no theorem: behind a source that is mostly reactance, mostly resistive coils turn one
another's current, and a voltage may rise a little (0.08 % seen at 1 Ω).  Against every permitted
set of random trees of up to nine boxes at 22 V: with at most 1 Ω of source reactance the set found
was the lowest in all of 30 000 trees, with 2 to 4 Ω in all but 3 of 49 000, there within 0.3 %.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import partial
from heapq import nlargest
from typing import Final

from commission.electrical.companions import (
    Best,
    SearchCancelled,
    Target,
    extremes,
    projected,
    target_of,
)
from commission.electrical.network import Network, freeze_power
from commission.electrical.running import (
    Load,
    Station,
    active_coils,
    load_of,
    set_ratio,
    with_loads,
)
from commission.electrical.transfer import Transfer

__all__ = ["SearchCancelled", "Station", "WorstSet", "find_worst_set"]

TIE: Final = 1e-9
"""Relative difference of two ratios below which they count as equal."""

_MAX_FREEZES: Final = 6


@dataclass(frozen=True, slots=True)
class WorstSet:
    """The worst set, its worst solenoid, and how low that one gets.

    `stations` are numbers in order, those that always run included; `ratio` is the coil's voltage
    over its minimum; `examined` counts the sets that were computed.
    """

    stations: tuple[int, ...]
    station: int
    coil: int
    coil_v: complex
    ratio: float
    examined: int
    proven: bool = True  # False: ended early, or with constant power; a worse set may exist


def find_worst_set(
    net: Network,
    stations: Sequence[Station],
    *,
    max_per_output: int,
    max_per_path: Mapping[int, int] | None = None,
    cancelled: Callable[[], bool] = lambda: False,
    max_steps: float = float("inf"),
    enough: float = 0.0,
) -> WorstSet | None:
    """Worst permitted set of an output; None when nothing may run.

    A path missing in `max_per_path` has no limit of its own.  Sets of equal ratio: the fuller one,
    then the lower station numbers.  After `max_steps` the lowest set seen so far stands, not
    `proven`; far below every minimum bounds are loose and a search could take hours.  So does the
    first one with a ratio below `enough`, for whoever asks only whether there is one.  With
    constant-power standby no set is `proven`: see `_with_power`.  Raises `SearchCancelled` when
    `cancelled` says so.
    """
    ends = _Ends(cancelled, max_steps, enough)
    search = _with_power if any(net.standby_w) else _search
    return search(net, stations, max_per_output, max_per_path or {}, ends)


@dataclass(frozen=True, slots=True)
class _Ends:
    """What ends a search early."""

    cancelled: Callable[[], bool]
    max_steps: float
    enough: float


def _with_power(
    net: Network,
    stations: Sequence[Station],
    max_per_output: int,
    max_per_path: Mapping[int, int],
    ends: _Ends,
) -> WorstSet | None:
    """Worst set with constant-power standby, held at the current that it draws in the set found.

    Repeated until the set found is the one it was held at; of all that came up the lowest stands,
    solved to the end.  Every other set would draw a little less or more, so that one close to it
    may be lower: it is not proven.  (Against brute force on 300 invented trees of ten boxes, 1 W at
    each, it was the lowest but for four, and those within 0.05 %.)
    """
    running = [coil for station in stations if station.always for coil in station.coils]
    lowest: WorstSet | None = None
    seen: set[tuple[int, ...]] = set()
    for _ in range(_MAX_FREEZES):
        frozen = freeze_power(net, running)
        found = _search(frozen, stations, max_per_output, max_per_path, ends)
        if found is None:
            return None
        ratio, coil, coil_v = set_ratio(net, stations, found.stations, found.station)
        if lowest is None or ratio < lowest.ratio:
            lowest = replace(found, coil=coil, coil_v=coil_v, ratio=ratio, proven=False)
        if found.stations in seen:
            break
        seen.add(found.stations)
        running = active_coils(stations, found.stations, found.station)
    return lowest


def _search(
    net: Network,
    stations: Sequence[Station],
    max_per_output: int,
    max_per_path: Mapping[int, int],
    ends: _Ends,
) -> WorstSet | None:
    """Find the lowest ratio, then the first set by number that has it."""
    lowest = Best(max_steps=ends.max_steps, enough=ends.enough)
    targets = _targets(net, stations, max_per_output, max_per_path, ends.cancelled)
    for target in targets:
        target.search(lowest)
    if lowest.target is None:
        return None
    first = Best(lowest.threshold * (1 + TIE), by_number=True, max_steps=ends.max_steps)
    for target in () if lowest.threshold < ends.enough else targets:
        target.search(first)
    if first.target is None:  # ended early before it came to a set as low as the lowest
        first.numbers, first.target = lowest.numbers, lowest.target
    fixed = tuple(station.number for station in stations if station.always)
    numbers = tuple(sorted({*fixed, *first.numbers}))
    ratio, coil, coil_v = set_ratio(net, stations, numbers, first.target)
    examined = sum(target.examined for target in targets)
    proven = not (lowest.ended_early or first.ended_early)
    return WorstSet(numbers, first.target, coil, coil_v, ratio, examined, proven)


class _Target:
    """A station whose worst company is searched for, prepared once two first bounds ask for it.

    The first takes each drop as if its station ran alone, as large as the others could turn it,
    and all directions alike: one multiplication for each pair of stations. The closer one counts
    what lies along the target's voltage.
    """

    def __init__(
        self,
        number: int,
        bound: float,
        closer: Callable[[], float],
        prepare: Callable[[], Target],
    ) -> None:
        self.number, self.bound = number, bound
        self._closer, self._prepare = closer, prepare
        self._prepared: Target | None = None

    @property
    def examined(self) -> int:
        """How many sets were computed."""
        return self._prepared.examined if self._prepared else 0

    def search(self, best: Best) -> None:
        """Offer every set that could be better than the best one known."""
        if best.out_of_reach(self.bound):
            return
        if self._prepared is None:
            self.bound = max(self.bound, self._closer())
            if best.out_of_reach(self.bound):
                return
            self._prepared = self._prepare()
        self._prepared.search(best)


def _targets(
    net: Network,
    stations: Sequence[Station],
    max_per_output: int,
    max_per_path: Mapping[int, int],
    cancelled: Callable[[], bool],
) -> list[_Target]:
    """One search per station that may run, the most promising first."""
    fixed = [load_of(station, station.coils) for station in stations if station.always]
    free = [
        load_of(station, station.coils)
        for station in stations
        if not station.always and max_per_output > 0 and max_per_path.get(station.path, 1) > 0
    ]
    free.sort(key=lambda load: load.number)
    base = Transfer(with_loads(net, fixed))
    lower, alone = _Lower(net, free), _Alone(base, free)
    targets = []
    seen = set()
    for load in sorted((*fixed, *free), key=lambda load: load.number):
        if cancelled():
            raise SearchCancelled
        station, room, max_others = load.station, dict(max_per_path), max_per_output
        same = (load.twin, station.judged, station.min_v)
        ground, bound, closer = base, float("-inf"), _no_bound
        judged = load_of(station, station.judged)
        if station.always:
            ground = Transfer(with_loads(net, [other for other in fixed if other is not load]))
        elif same in seen:
            continue
        else:
            seen.add(same)
            max_others -= 1
            if station.path in room:
                room[station.path] -= 1
            bound = alone.least_ratio(judged, max_others)
            closer = partial(alone.closer_ratio, judged, max_others)
        prepare = partial(_prepared, lower, ground, judged, max_others, room, cancelled)
        targets.append(_Target(station.number, bound, closer, prepare))
    targets.sort(key=lambda target: (target.bound, target.number))
    return targets


def _prepared(
    lower: _Lower,
    ground: Transfer,
    judged: Load,
    max_others: int,
    room: dict[int, int],
    cancelled: Callable[[], bool],
) -> Target:
    others = lower.leave_out(judged.station)
    return target_of(ground, judged, others, max_others, room, cancelled)


def _no_bound() -> float:
    return float("-inf")


class _Alone:
    """What each free station takes off a target when it runs alone, and bounds from that.

    A drop x becomes x - x·m beside others; each of those adds at most its `share` to m.
    """

    def __init__(self, base: Transfer, free: Sequence[Load]) -> None:
        self._base = base
        self._nodes = [load.node for load in free]
        admittances = [load.y_s / (1 + base.driving_ohm[load.node] * load.y_s) for load in free]
        self._drawn_a = [
            (base.open_v[load.node] - load.drop_v) * y_s
            for load, y_s in zip(free, admittances, strict=True)
        ]
        self._sizes_a = [abs(current) for current in self._drawn_a]
        self._shares = [
            base.driving_ohm[load.node] * y_s for load, y_s in zip(free, admittances, strict=True)
        ]
        self._share = max(map(abs, self._shares), default=0.0)
        self._extremes: dict[int, tuple[complex, complex]] = {}

    def _target_v(self, judged: Load) -> complex:
        """The voltage of a target's node with the target alone running."""
        own = self._base.driving_ohm[judged.node]
        current = (self._base.open_v[judged.node] - judged.drop_v) * judged.y_s
        return self._base.open_v[judged.node] - own * current / (1 + own * judged.y_s)

    def least_ratio(self, judged: Load, max_others: int) -> float:
        """No set with this target in it leaves it a lower ratio [-]."""
        row, target_v = self._base.row_ohm(judged.node), self._target_v(judged)
        lost_v = nlargest(
            max_others,
            [abs(row[node]) * a for node, a in zip(self._nodes, self._sizes_a, strict=True)],
        )
        most_v = sum(lost_v) * (1 + max_others * self._share)
        return min(
            (abs(target_v - coil.drop_v) - most_v) * abs(coil.z_ohm / coil.total_z_ohm) / least
            for coil, least in zip(judged.station.judged, judged.station.min_v, strict=True)
        )

    def closer_ratio(self, judged: Load, max_others: int) -> float:
        """The same, with drops along the target's voltage; never above what a set leaves it [-]."""
        row, target_v = self._base.row_ohm(judged.node), self._target_v(judged)
        lost_v = [row[node] * a for node, a in zip(self._nodes, self._drawn_a, strict=True)]
        middle_v = target_v - sum(nlargest(max_others, lost_v, key=abs)) / 2
        toward = middle_v.conjugate() / abs(middle_v) if middle_v else 1 + 0j
        drops_v = projected(lost_v, toward, self._mutual(max_others))
        most_v = sum(nlargest(max_others, (drop for drop in drops_v if drop > 0)))
        return min(
            ((toward * (target_v - coil.drop_v)).real - most_v)
            * abs(coil.z_ohm / coil.total_z_ohm)
            / least
            for coil, least in zip(judged.station.judged, judged.station.min_v, strict=True)
        )

    def _mutual(self, others: int) -> tuple[complex, complex]:
        """Extremes of m beside as many others, the target among them."""
        if others not in self._extremes:
            self._extremes[others] = extremes(self._shares, others)
        return self._extremes[others]


class _Lower:
    """Which stations always have the lower ratio when they run beside a given one.

    Voltage does not rise away from the terminals.  So a station that is fed through the other's
    box, and needs no less of it, is worse off than the other in every set that has both: the search
    for that station finds the set, and the search for the other may leave it out.
    """

    def __init__(self, net: Network, free: Sequence[Load]) -> None:
        self._first, self._count = _walk(net)
        self._free = [(load, *self._needs(load.station)) for load in free]

    def _needs(self, station: Station) -> tuple[int, float, float | None]:
        """Place in the walk, ratio per volt at the box, and the common volt drop if there is one.

        A station that is judged otherwise than it runs compares with none.
        """
        per_volt = min(
            abs(coil.z_ohm / coil.total_z_ohm) / least
            for coil, least in zip(station.coils, station.min_v, strict=True)
        )
        drops_v = {coil.drop_v for coil in station.coils}
        comparable = len(drops_v) == 1 and not station.starting
        return self._first[station.node], per_volt, drops_v.pop() if comparable else None

    def leave_out(self, target: Station) -> list[Load]:
        """The free stations, less the target and those that are always worse off than it."""
        place, per_volt, drop_v = self._needs(target)
        end = place + self._count[target.node]
        return [
            load
            for load, other_place, other_per_volt, other_drop_v in self._free
            if load.station is not target
            and not (
                place <= other_place < end
                and drop_v is not None
                and other_drop_v == drop_v
                and other_per_volt <= per_volt
                and (other_place > place or load.number < target.number)
            )
        ]


def _walk(net: Network) -> tuple[list[int], list[int]]:
    """Place of each node in a walk branch by branch, and how many nodes it feeds with itself."""
    size = len(net.parent)
    count, first, free = [1] * size, [0] * size, [1] * size
    for i in range(size - 1, 0, -1):
        count[net.parent[i]] += count[i]
    for i in range(1, size):
        above = net.parent[i]
        first[i] = first[above] + free[above]
        free[above] += count[i]
    return first, count
