"""Every fault that may be there, sized so that it explains the readings as well as it can.

A fault of unknown size or position is a few points, spread over what the readings leave open; each
has the weight of its prior times its likelihood. Resistances are read so exactly that they alone
decide where it is worth looking: what they exclude is not looked at any further.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import combinations

from commission.locate.at_stations import at_station
from commission.locate.cells import by_ratio, evenly
from commission.locate.evidence import Account, Evidence
from commission.locate.faults import (
    AT_STATION,
    BRIDGE_OHM,
    OPEN_OHM,
    Fault,
    FaultKind,
)
from commission.locate.readings import Reading
from commission.locate.spread import Spread

EXCLUDED = 14.0
"""Natural logarithm of the odds against a fault from which it is not looked at any further."""
_SEEDS = 3  # ways in which two joints share an excess
_OPENS = 2  # opens that a second fault is put beside
_AT_MOST = 5.0  # standard deviations that one reading counts at most, where a second may be there
_CELLS = 7
_ALONG = tuple((2 * i + 1) / 18 for i in range(9))
_COARSE_ALONG = (0.15, 0.5, 0.85)
_WIDTH = 3.0  # standard deviations looked at on either side


@dataclass(frozen=True, slots=True)
class Point:
    """One fault, or several at once, with the logarithm of prior times likelihood."""

    faults: tuple[Fault, ...]
    log_weight: float


@dataclass(frozen=True, slots=True)
class _Sized:
    """A fault with its most likely size by the resistances, how sure, and how well it explains."""

    fault: Fault
    ohm: float
    std: float
    log: float


class Hypotheses:
    """All faults beside those already taken as given."""

    def __init__(self, evidence: Evidence, given: tuple[Fault, ...] = ()) -> None:
        self.evidence, self.given = evidence, given
        self.scene, self.plant = evidence.scene, evidence.scene.plant
        self.priors = self.scene.priors
        self._dead = evidence.dead
        self._segments = list(self.plant.name_of.items())
        self._base = self._dead.account(given)
        self._dead_spread = self._dead.spread
        self._dead_log = self._dead_spread.log_density(self._base.residual) + self._base.log_seen

    def points(self) -> list[Point]:
        """Every fault that the readings leave possible, as weighted points."""
        series = [one for kind in ("joint", "cable") for one in self._series(kind)]
        opens = [self._dead_sized(self._open(*name)) for _, name in self._segments]
        bridges = [self._dead_sized(self._bridge(*name)) for _, name in self._segments]
        shorts = [self._coarse_short(node) for node, _ in self._segments]
        cable = [*series, *opens, *bridges, *shorts, *self._leaks()]
        best = max([self._dead_log, *(one.log for one in cable)])
        found: list[Point] = []
        for one in cable:
            if one.log >= best - EXCLUDED:
                found += self._in_full(one)
        if self._dead_log >= best - EXCLUDED:
            found += self._elsewhere()
        return found

    def _in_full(self, one: _Sized) -> list[Point]:
        kind = one.fault.kind
        if kind in ("joint", "cable"):
            return self._series_points(one)
        if kind == "short":
            return self._short_points(one)
        faults = (*self.given, one.fault)
        spread = self.evidence.spread_for(faults, self.evidence.account(faults))
        return [self._point(one.fault, 0.0, spread)]

    def _point(self, fault: Fault, log_part: float, spread: Spread | None = None) -> Point:
        """A fault weighed with its kind's prior, shared out evenly over its places."""
        faults = (*self.given, *(() if fault.kind == "none" else (fault,)))
        prior = self.priors.kinds.get(fault.kind, 0.0) / self._places(fault.kind)
        log = self.evidence.log_likelihood(faults, spread)
        return Point(faults, math.log(max(prior, 1e-12)) + log_part + log)

    def _places(self, kind: FaultKind) -> int:
        if kind in ("none", "low supply"):
            return 1
        if kind == "leak":
            return 2 * len(self._segments)
        if kind in AT_STATION or kind in ("same address", "swapped"):
            return max(1, len(self.plant.coils))
        return len(self._segments)

    # in series: joints, another cable, opens

    def _open(self, path: str, box: str) -> Fault:
        return Fault("open", path, box, ohm=OPEN_OHM)

    def _bridge(self, path: str, box: str) -> Fault:
        return Fault("bridge", path, box, ohm=BRIDGE_OHM)

    def _dead_sized(self, fault: Fault) -> _Sized:
        account = self._dead.account((*self.given, fault))
        log = self._dead_spread.log_density(account.residual) + account.log_seen
        return _Sized(fault, fault.ohm, 0.0, log)

    def _series(self, kind: FaultKind) -> Iterator[_Sized]:
        """A joint or another cable in every segment, as large as the loops ask for.

        Segments that the same loops pass are told apart by no loop, and sized once.
        """
        known: dict[tuple[float, ...], tuple[float, float]] = {}
        for node, (path, box) in self._segments:
            low, high = self._series_range(kind, node)
            slope = self._slope(path, node)
            if slope not in known:
                known[slope] = self._fitted(slope)
            ohm, std = known[slope]
            sized = min(max(ohm, low), high)
            residual = [r - g * sized for r, g in zip(self._base.residual, slope, strict=True)]
            log = self._dead_spread.log_density(residual) + self._base.log_seen
            yield _Sized(Fault(kind, path, box, ohm=sized), ohm, std, log)

    def one_of_two_joints(self) -> list[Fault]:
        """The larger of two joints that explain the resistances best together, in a few ways.

        Sized together: two joints on one way each take a part of what the loops show too much.
        """
        groups: dict[tuple[float, ...], tuple[str, str]] = {}
        for node, (path, box) in self._segments:
            groups.setdefault(self._slope(path, node), (path, box))
        slopes = [slope for slope in groups if any(slope)]
        spread, residual = self._dead_spread, self._base.residual
        excess = [spread.product(slope, residual) for slope in slopes]
        found: list[tuple[float, Fault]] = []
        for i, k in combinations(range(len(slopes)), 2):
            a, b = slopes[i], slopes[k]
            aa, ab, bb = spread.product(a, a), spread.product(a, b), spread.product(b, b)
            det = aa * bb - ab * ab
            if det <= 1e-9 * aa * bb:
                continue
            first = (bb * excess[i] - ab * excess[k]) / det
            second = (aa * excess[k] - ab * excess[i]) / det
            if min(first, second) > self.priors.joint_ohm[0]:
                gain = first * excess[i] + second * excess[k]
                ohm, slope = max((first, a), (second, b))
                found.append((gain, Fault("joint", *groups[slope], ohm=ohm)))
        found.sort(key=lambda one: -one[0])
        return [fault for _, fault in found[:_SEEDS]]

    def opens(self) -> list[Fault]:
        """The opens that explain most of all readings, whatever the resistances exclude.

        A resistance over range where a value is predicted counts with fixed odds: beside a second
        fault one that explains next to nothing may fit the resistances better than the right one.
        """
        found = [self._open(*name) for _, name in self._segments]
        return sorted(found, key=lambda fault: -self._mostly(fault))[:_OPENS]

    def _mostly(self, fault: Fault) -> float:
        """How much of everything a fault explains; what it does not, counts up to a limit."""
        account = self.evidence.account((*self.given, fault))
        return self.evidence.spread.log_mostly(account.residual, _AT_MOST) + account.log_seen

    def _slope(self, path: str, node: int) -> tuple[float, ...]:
        """What an ohm more in a segment does to each resistance."""
        return tuple(
            float(math.isfinite(r.value) and self._passes(r, path, node))
            for r in self._dead.facts.measured
        )

    def _passes(self, reading: Reading, path: str, node: int) -> bool:
        test = reading.test
        if test.kind != "loop" or test.path != path:
            return False
        return node in self.plant.above[self.plant.node(path, test.box)]

    def _fitted(self, slope: Sequence[float]) -> tuple[float, float]:
        """The size that residuals linear in it ask for, and its standard deviation."""
        seen = self._dead_spread.product(slope, slope) if any(slope) else 0.0
        if seen <= 0:
            return 0.0, math.inf
        return self._dead_spread.product(slope, self._base.residual) / seen, 1 / math.sqrt(seen)

    def _series_range(self, kind: FaultKind, node: int) -> tuple[float, float]:
        if kind == "joint":
            return self.priors.joint_ohm
        low, high = self.priors.cable_shorter
        return -high * self.plant.z_ohm[node].real, -low * self.plant.z_ohm[node].real

    def _series_points(self, one: _Sized) -> list[Point]:
        low, high = self._series_range(one.fault.kind, self._node(one.fault))
        span = _WIDTH * one.std
        start, end = max(low, one.ohm - span), min(high, max(one.ohm + span, 1.5 * low))
        if not start < end:
            return []
        if one.fault.kind == "cable":
            return self._swept(one.fault, (start, end), lambda _: 1 / (high - low))

        def density(ohm: float) -> float:
            return 1 / (ohm * math.log(high / low))

        if end > max(3 * start, 3.0):
            return [
                self._point(replace(one.fault, ohm=ohm), math.log(width * density(ohm)))
                for ohm, width in by_ratio(start, end, _CELLS)
            ]
        return self._swept(one.fault, (start, end), density)

    def _swept(
        self,
        fault: Fault,
        within: tuple[float, float],
        density: Callable[[float], float],
        spread: Spread | None = None,
    ) -> list[Point]:
        """A fault in all its sizes between two limits, its effect taken as proportional there."""
        spread = spread or self.evidence.spread
        start, end = within
        middle, step = (start + end) / 2, max((end - start) / 4, 1e-4)
        here = self.evidence.account((*self.given, replace(fault, ohm=middle)))
        there = self.evidence.account((*self.given, replace(fault, ohm=middle + step)))
        slope = [(a - b) / step for a, b in zip(here.residual, there.residual, strict=True)]
        log = spread.log_density(here.residual) + here.log_seen
        bend = max(spread.product(slope, slope), 1e-12)
        tilt = spread.product(slope, here.residual)
        best, span = middle + tilt / bend, _WIDTH / math.sqrt(bend)
        start, end = max(start, min(best - span, end)), min(end, max(best + span, start))
        if end - start < 1e-9:
            start, end = within
        prior = math.log(self.priors.kinds[fault.kind] / self._places(fault.kind))
        found = []
        for ohm, width in evenly(start, end, _CELLS):
            away = ohm - middle
            part = prior + math.log(width * density(ohm)) + tilt * away - bend * away * away / 2
            found.append(Point((*self.given, replace(fault, ohm=ohm)), log + part))
        return found

    def _node(self, fault: Fault) -> int:
        return self.plant.node(fault.path, fault.box)

    # to earth

    def _leaks(self) -> Iterator[_Sized]:
        """A leak of either conductor at every box, once anything was read against earth.

        How large it is shows in no reading but one of ohms: one size stands for all.
        """
        if not any(r.test.kind in ("earth", "insulation") for r in self.evidence.facts.measured):
            return
        low, high = self.priors.leak_ohm
        for _, (path, box) in self._segments:
            for conductor in ("first", "second"):
                leak = Fault("leak", path, box, ohm=math.sqrt(low * high), conductor=conductor)
                yield self._dead_sized(leak)

    # across: shorts

    def _coarse_short(self, node: int) -> _Sized:
        path, box = self.plant.name_of[node]
        return max(
            (
                self._fitted_short(Fault("short", path, box, along=x, ohm=1.0))
                for x in _COARSE_ALONG
            ),
            key=lambda one: one.log,
        )

    def _fitted_short(self, fault: Fault, spread: Spread | None = None) -> _Sized:
        """A short at one position with the ohms that the resistances ask for (Gauss and Newton)."""
        spread = spread or self._dead_spread
        low, high = self.priors.short_ohm
        ohm, std = fault.ohm, high - low
        for _ in range(6):
            here = self._dead.account((*self.given, replace(fault, ohm=ohm)))
            step = 1e-3
            there = self._dead.account((*self.given, replace(fault, ohm=ohm + step)))
            slope = [(a - b) / step for a, b in zip(here.residual, there.residual, strict=True)]
            seen = spread.product(slope, slope) if any(slope) else 0.0
            if seen <= 0:
                break
            std = 1 / math.sqrt(seen)
            wanted = ohm + spread.product(slope, here.residual) / seen
            before, ohm = ohm, min(max(wanted, low + 1e-3), high)
            if abs(ohm - before) < 0.1 * std:
                break
        at = replace(fault, ohm=ohm)
        account = self._dead.account((*self.given, at))
        log = spread.log_density(account.residual) + account.log_seen
        return _Sized(at, ohm, min(std, high - low), log)

    def _short_points(self, one: _Sized) -> list[Point]:
        low, high = self.priors.short_ohm
        faults = (*self.given, one.fault)
        dead_spread = self._dead.spread_for(faults, self._dead.account(faults))
        spread = self.evidence.spread_for(faults, self.evidence.account(faults))
        share = 1 / (len(_ALONG) * (high - low))
        found: list[Point] = []
        for along in _ALONG:
            sized = self._fitted_short(replace(one.fault, along=along), dead_spread)
            span = _WIDTH * sized.std
            within = max(low, sized.ohm - span), min(high, sized.ohm + span)
            found += self._swept(sized.fault, within, lambda _: share, spread)
        return found

    # at stations, and what lies nowhere

    def _elsewhere(self) -> list[Point]:
        found = [self._point(Fault("none"), 0.0)]
        low, high = self.priors.supply_lost
        for part, width in evenly(low, high, 5):
            found.append(self._point(Fault("low supply", ohm=part), math.log(width / (high - low))))
        known = self.evidence.account(self.given)
        for station in self.plant.coils:
            for fault, log_part in at_station(self.evidence, self.given, station):
                found.append(self._local_point(known, fault, log_part))
        return found

    def _local_point(self, known: Account, fault: Fault, log_part: float) -> Point:
        """A fault that shows only when its own stations are called."""
        called = {fault.station, fault.other}
        if called & set(self.plant.always):
            called = set(self.evidence.facts.calls)
        faults = (*self.given, fault)
        account = self.evidence.account_beside(known, faults, called)
        prior = self.priors.kinds[fault.kind] / self._places(fault.kind)
        log = self.evidence.spread.log_density(account.residual) + account.log_seen
        return Point(faults, math.log(prior) + log_part + log)
