"""The worst company of one station: branch and bound over the others, one added at a time.

The station looked at is the *target*.  A `View` holds what the stations still to choose see once
some are chosen: their voltages and their transfer impedances to the target.  Taking one more in is
an update of rank one.  See `worst_set` for the bound and what it assumes.
"""

from __future__ import annotations

import cmath
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from typing import Final

from commission.electrical.running import Load, Station
from commission.electrical.transfer import Transfer

# Directions to project on, from the target's voltage so far to the lowest one in sight.
_PARTS: Final = (0.0, 0.5, 1.0)

_ANGLE_MARGIN: Final = 0.1  # allowed on how far stations turn one another's current [rad]


class SearchCancelled(Exception):
    """The search was given up because its caller asked for it."""


@dataclass(slots=True)
class Best:
    """The best set so far: first by ratio alone, then among equals by station number.

    After `max_steps`, or with a ratio below `enough`, the search ends with what it has.
    """

    threshold: float = float("inf")
    by_number: bool = False
    numbers: tuple[int, ...] = ()
    target: int | None = None
    max_steps: float = float("inf")
    enough: float = 0.0
    steps: int = 0

    @property
    def ended_early(self) -> bool:
        """Whether the search was given up before it had seen all."""
        return self.steps > self.max_steps or self.threshold < self.enough

    def key(self, numbers: Sequence[int]) -> tuple[int, tuple[int, ...]]:
        """Order among equals: fuller sets first, then lower numbers."""
        return (-len(numbers), tuple(sorted(numbers)))

    def offer(self, ratio: float, numbers: tuple[int, ...], target: int) -> None:
        """Take a set if it is better."""
        if self.by_number:
            if ratio > self.threshold:
                return
            new = (*self.key(numbers), target)
            old = (*self.key(self.numbers), self.target or 0)
            if self.target is None or new < old:
                self.numbers, self.target = numbers, target
        elif ratio < self.threshold:
            self.threshold, self.numbers, self.target = ratio, numbers, target

    def out_of_reach(self, bound: float) -> bool:
        """Whether a ratio at best at this bound can't be better, whatever the numbers."""
        return bound > self.threshold if self.by_number else bound >= self.threshold

    def hopeless(
        self, bound: float, chosen: Sequence[int], view: View, candidates: Sequence[Load]
    ) -> bool:
        """Whether nothing with `chosen` in it, at best at this bound, can be better."""
        if self.out_of_reach(bound):
            return True
        if not self.by_number or self.target is None:
            return False
        return self.key(view.lowest_numbers(chosen, candidates)) > self.key(self.numbers)


@dataclass(slots=True)
class Added:
    """A station taken into the set: its transfer impedances just before, and its admittance."""

    u_ohm: list[complex]
    g_s: complex


@dataclass(slots=True)
class View:
    """What the stations still to choose see, at the set chosen so far.

    Per candidate from `start` on: its voltage, own and transfer impedance to the target.
    """

    start: int
    target_v: complex
    own_v: list[complex]
    own_ohm: list[complex]
    cross_ohm: list[complex]
    added: tuple[Added, ...]
    room: dict[int, int]
    left: int
    chosen: tuple[int, ...]

    def lowest_numbers(self, chosen: Sequence[int], candidates: Sequence[Load]) -> list[int]:
        """The chosen numbers with the lowest that may still join: no completion sorts before."""
        numbers, room = list(chosen), dict(self.room)
        full = len(self.chosen) + self.left
        rest = candidates[self.start :]
        for load in sorted(rest, key=lambda load: load.number):
            number, path = load.number, load.path
            if len(numbers) < full and room.get(path, 1) > 0 and number not in numbers:
                if path in room:
                    room[path] -= 1
                numbers.append(number)
        return numbers


def projected(
    lost_v: Sequence[complex], toward: complex, mutual: tuple[complex, complex]
) -> list[float]:
    """Largest projections that drops can have when the others still to choose run as well [V].

    The others change a drop x to x - x·m, with m a fraction between the two extremes of `mutual`.
    Mostly that makes it smaller; it counts only where it turns more of it along the projection.
    """
    low, high = mutual
    drops_v = []
    for lost in lost_v:
        along = lost * toward
        drops_v.append(along.real + max(0.0, -(along * low).real, -(along * high).real))
    return drops_v


def extremes(shares: Sequence[complex], others: int) -> tuple[complex, complex]:
    """The largest of some fractions times the number of others, at the least and largest angle."""
    if not shares:
        return 0j, 0j
    size = others * max(map(abs, shares))
    angles = [cmath.phase(share) for share in shares]
    return (
        cmath.rect(size, min(angles) - _ANGLE_MARGIN),
        cmath.rect(size, max(angles) + _ANGLE_MARGIN),
    )


def largest_after(drops_v: Sequence[float], count: int) -> list[float]:
    """For each place, the sum of the `count` largest positive drops behind it [V]."""
    sums_v, largest = [0.0] * len(drops_v), [0.0] * count
    for k in range(len(drops_v) - 1, -1, -1):
        sums_v[k] = sum(largest)
        if drops_v[k] > largest[0]:
            largest[0] = drops_v[k]
            largest.sort()
    return sums_v


@dataclass(slots=True)
class Target:
    """The search for the worst company of one station."""

    station: Station
    candidates: list[Load]
    twins: list[bool]
    base: Transfer
    view: View
    cancelled: Callable[[], bool]
    bound: float = 0.0
    examined: int = 0
    least: float = float("inf")  # of all ratios and bounds that a search has met

    def search(self, best: Best) -> None:
        """Offer every set that could be better than the best one known."""
        if best.hopeless(self.bound, self.view.chosen, self.view, self.candidates):
            return
        self.least = float("inf")
        self._descend(self.view, best)
        if not best.ended_early:
            self.bound = max(self.bound, self.least)  # what was looked at need not be again

    def _given_up(self, bound: float, chosen: Sequence[int], view: View, best: Best) -> bool:
        """Whether nothing with `chosen` in it can be better; remembers the bound of what is not."""
        if best.hopeless(bound, chosen, view, self.candidates):
            self.least = min(self.least, bound)
            return True
        return False

    def ratio(self, target_v: complex) -> float:
        """Lowest ratio of the target's coils at a voltage of its node."""
        return min(
            abs((target_v - coil.drop_v) * coil.z_ohm / coil.total_z_ohm) / least
            for coil, least in zip(self.station.judged, self.station.min_v, strict=True)
        )

    def _descend(self, view: View, best: Best) -> None:
        if self.cancelled():
            raise SearchCancelled
        best.steps += 1
        if best.ended_early:
            return
        self.examined += 1
        ratio = self.ratio(view.target_v)
        self.least = min(self.least, ratio)
        best.offer(ratio, view.chosen, self.station.number)
        if view.left == 0:
            return
        lost_v = self.lost_v(view)
        if view.left == 1:
            self._last(view, lost_v, best)
            return
        bound, toward, drops_v = self.look_ahead(view, lost_v)
        if self._given_up(bound, view.chosen, view, best):
            return
        company_v = largest_after(drops_v, view.left - 1)
        for i in self._choices(view):
            k = i - view.start
            bound = self.least_ratio(view, toward, drops_v[k] + company_v[k])
            number = self.candidates[i].number
            if not self._given_up(bound, (*view.chosen, number), view, best):
                self._descend(self._take(view, i), best)

    def _choices(self, view: View) -> Iterator[int]:
        """Candidates that may join: with room on their path, of twins only the first."""
        for i in range(view.start, len(self.candidates)):
            new = i == view.start or not self.twins[i]
            if new and view.room.get(self.candidates[i].path, 1) > 0:
                yield i

    def _last(self, view: View, lost_v: Sequence[complex], best: Best) -> None:
        """One station is left to choose: its drop at the target is exact."""
        self.examined += len(lost_v)
        ratios = self._ratios(view.target_v, lost_v)
        self.least = min((self.least, *ratios))
        for k, ratio in enumerate(ratios):
            if ratio > best.threshold:  # nearly all, so first and cheaply
                continue
            i = view.start + k
            load = self.candidates[i]
            if (k == 0 or not self.twins[i]) and view.room.get(load.path, 1) > 0:
                best.offer(ratio, (*view.chosen, load.number), self.station.number)

    def _ratios(self, target_v: complex, lost_v: Sequence[complex]) -> list[float]:
        """Lowest ratio of the target's coils after each of some drops."""
        found: list[float] = []
        for coil, least in zip(self.station.judged, self.station.min_v, strict=True):
            above_v, per_volt = target_v - coil.drop_v, abs(coil.z_ohm / coil.total_z_ohm) / least
            own = [abs(above_v - lost) * per_volt for lost in lost_v]
            found = list(map(min, found, own)) if found else own
        return found

    def lost_v(self, view: View) -> list[complex]:
        """Drop at the target of each candidate if it alone joined the set chosen so far [V]."""
        return [
            cross * (own_v - load.drop_v) * load.y_s / (1 + own * load.y_s)
            for load, own_v, own, cross in zip(
                self.candidates[view.start :],
                view.own_v,
                view.own_ohm,
                view.cross_ohm,
                strict=True,
            )
        ]

    def most_v(self, view: View, drops_v: Sequence[float], count: int) -> float:
        """Sum of the largest drops of as many candidates as may join together [V]."""
        room, total_v = dict(view.room), 0.0
        order = sorted(range(len(drops_v)), key=drops_v.__getitem__, reverse=True)
        for k in order:
            if count == 0 or drops_v[k] <= 0:
                break
            path = self.candidates[view.start + k].path
            if room.get(path, 1) > 0:
                if path in room:
                    room[path] -= 1
                count -= 1
                total_v += drops_v[k]
        return total_v

    def look_ahead(
        self, view: View, lost_v: Sequence[complex]
    ) -> tuple[float, complex, list[float]]:
        """Best of several bounds: lowest ratio, the phasor projected on, and projected drops."""
        largest = sorted(lost_v, key=abs, reverse=True)[: view.left]
        lowest_v = view.target_v - sum(largest)
        mutual = self.mutual(view)
        found = []
        for part in _PARTS:
            along_v = view.target_v + part * (lowest_v - view.target_v)
            toward = along_v.conjugate() / abs(along_v) if along_v else 1 + 0j
            drops_v = projected(lost_v, toward, mutual)
            bound = self.least_ratio(view, toward, self.most_v(view, drops_v, view.left))
            found.append((bound, toward, drops_v))
        return max(found, key=lambda one: one[0])

    def mutual(self, view: View) -> tuple[complex, complex]:
        """Extremes of the fraction that the others still to choose take off a voltage."""
        shares = [
            own * load.y_s / (1 + own * load.y_s)
            for load, own in zip(self.candidates[view.start :], view.own_ohm, strict=True)
        ]
        return extremes(shares, view.left - 1)

    def least_ratio(self, view: View, toward: complex, lost_v: float) -> float:
        """Lowest ratio of the target if the projections of further drops sum to this [-]."""
        return min(
            ((toward * (view.target_v - coil.drop_v)).real - lost_v)
            * abs(coil.z_ohm / coil.total_z_ohm)
            / least
            for coil, least in zip(self.station.judged, self.station.min_v, strict=True)
        )

    def sort(self) -> None:
        """Put the candidates in order of their drop at the target, and find the first bound."""
        view = self.view
        lost_v = self.lost_v(view)
        order = sorted(range(len(lost_v)), key=lambda k: (-_rounded(lost_v[k]), k))
        self.candidates = [self.candidates[k] for k in order]
        for values in (view.own_v, view.own_ohm, view.cross_ohm, view.added[0].u_ohm):
            values[:] = [values[k] for k in order]
        self.twins = [
            i > 0 and load.twin == self.candidates[i - 1].twin
            for i, load in enumerate(self.candidates)
        ]
        lost_v = [lost_v[k] for k in order]
        if view.left == 1:
            toward = view.target_v.conjugate() / abs(view.target_v)
            self.bound = self.least_ratio(view, toward, max(map(abs, lost_v), default=0.0))
        else:
            self.bound = self.look_ahead(view, lost_v)[0]

    def _take(self, view: View, i: int) -> View:
        """The view after candidate `i` has joined the set: one rank-one update."""
        load, k = self.candidates[i], i - view.start
        row = self.base.row_ohm(load.node)
        g_s = load.y_s / (1 + view.own_ohm[k] * load.y_s)
        current = (view.own_v[k] - load.drop_v) * g_s
        u_ohm = [row[other.node] for other in self.candidates[i + 1 :]]
        for earlier in view.added:
            behind = earlier.u_ohm[len(earlier.u_ohm) - len(u_ohm) :]
            scale = earlier.g_s * earlier.u_ohm[len(earlier.u_ohm) - len(u_ohm) - 1]
            u_ohm = [z - scale * e for z, e in zip(u_ohm, behind, strict=True)]
        to_target = view.cross_ohm[k]
        room = dict(view.room)
        if load.path in room:
            room[load.path] -= 1
        rest, cross = k + 1, g_s * to_target
        return View(
            start=i + 1,
            target_v=view.target_v - to_target * current,
            own_v=[v - u * current for v, u in zip(view.own_v[rest:], u_ohm, strict=True)],
            own_ohm=[z - u * u * g_s for z, u in zip(view.own_ohm[rest:], u_ohm, strict=True)],
            cross_ohm=[z - u * cross for z, u in zip(view.cross_ohm[rest:], u_ohm, strict=True)],
            added=(*view.added, Added(u_ohm, g_s)),
            room=room,
            left=view.left - 1,
            chosen=(*view.chosen, load.number),
        )


def target_of(
    base: Transfer,
    judged: Load,
    others: list[Load],
    max_others: int,
    room: dict[int, int],
    cancelled: Callable[[], bool],
) -> Target:
    """Prepare the search for one target: itself in the set, the others in order of their drop.

    `base` is the output with what always runs, less the target; `room` what each limited path may
    still run beside it.
    """
    station = judged.station
    row = base.row_ohm(station.node)
    own = row[station.node]
    g_s = judged.y_s / (1 + own * judged.y_s)
    current = (base.open_v[station.node] - judged.drop_v) * g_s
    nodes = [load.node for load in others]
    u_ohm = [row[node] for node in nodes]
    left_over = 1 - own * g_s
    view = View(
        start=0,
        target_v=base.open_v[station.node] - own * current,
        own_v=[base.open_v[node] - row[node] * current for node in nodes],
        own_ohm=[
            base.driving_ohm[node] - u * u * g_s for node, u in zip(nodes, u_ohm, strict=True)
        ],
        cross_ohm=[u * left_over for u in u_ohm],
        added=(Added(u_ohm, g_s),),
        room=room,
        left=max_others,
        chosen=() if station.always else (station.number,),
    )
    target = Target(station, others, [], base, view, cancelled)
    target.sort()
    return target


def _rounded(lost_v: complex) -> float:
    """Size of a drop without its last digits, so that equal ones keep the order of numbers."""
    return round(abs(lost_v), 9)
