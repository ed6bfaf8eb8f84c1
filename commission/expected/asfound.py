"""The output as it was found: what readings teach about it, and whether the worst set will work.

The causes of `OutputModel.causes` are one variable each; so are every segment's own resistance at
20 °C, the coils of every station, and the gain of every range of an instrument. A reading is linear
in them near the best estimate. Readings that are as drawn move them, all at once; then the worst
set is solved again at the lowest mains and in the warmest soil, and the probability that *all* its
coils stay above their minimum, jointly, is the verdict.

A reading that is not as drawn never moves anything. Until it is explained by a repair or a change
of the drawing, what it shows too much is put into the first segment of its route, what it shows too
little earns nothing, and the verdict is at best marginal.
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from itertools import repeat

from commission.electrical.cholesky import dot
from commission.electrical.conformance import verdict
from commission.electrical.distributions import rectangular_u
from commission.electrical.joint import probability_all_above
from commission.electrical.update import (
    Believed,
    Independent,
    Observation,
    hold_within,
    independent,
    learn,
    taken_in,
)
from commission.expected.causes import OWN_ERROR, segment_u_ohm
from commission.expected.model import OutputModel
from commission.expected.slopes import Slope, Slopes, loop, own, settled
from commission.site.schema import Station

_RULES_FROM = 0.3  # part of the variance from which one cause is not drowned by the others
_NEWTON = 6  # steps towards a voltage that was read
_POINTS = 9
_REACH = 4.0  # standard deviations to either side that a likelihood is followed
PASS, MARGINAL = "pass", "marginal"


@dataclass(frozen=True, slots=True)
class Taken:
    """One settled reading of an output, in SI.

    `name` is what it was compared with; one that is not `as_drawn` lies `excess` beyond what was
    expected, a loop above it and a voltage below it (0 on the other side, which earns nothing).
    The gain error of a range is one variable for all its readings; the counts are new each time.
    """

    name: str
    value: float
    as_drawn: bool = True
    excess: float = 0.0
    path: str = ""
    box: str = ""
    station: str = ""
    gain: str = ""  # instrument, quantity and range
    gain_error: float = 0.0  # half-width, a fraction
    counts_error: float = 0.0  # half-width, SI
    mains_v: float | None = None  # as measured before it; None: as on the test day
    since: str = ""  # what became of a fail with nothing put right: "passed" or "was left"


@dataclass(frozen=True, slots=True)
class Works:
    """Whether the worst set will work: how sure, and what kept it from being surer.

    `lowest_v` and `minimum_v` belong to the coil nearest to its minimum.
    """

    verdict: str
    probability: float
    lowest_v: float
    minimum_v: float
    readings: int  # that moved the estimate
    unexplained: tuple[str, ...]  # readings that are not as drawn, or do not fit together

    @property
    def words(self) -> str:
        """The verdict in words that a tradesperson understands."""
        chance = f"{in_words(self.probability)} that every solenoid of the worst set pulls in"
        low = f"lowest {self.lowest_v:.1f} V, needs {self.minimum_v:.1f} V"
        words = f"{self.verdict}: {chance} ({low}, at lowest mains and in the warmest soil)"
        if self.unexplained:
            words += f"; not explained: {', '.join(self.unexplained)}"
        return words


def in_words(probability: float) -> str:
    """A probability as a tradesperson says it."""
    if probability >= 0.999:
        return "practically certain"
    if probability <= 0.001:
        return "practically excluded"
    return f"{probability * 100:.0f} in 100"


class AsFound:
    """What is believed of one output before any reading; `works` after some."""

    def __init__(self, day: OutputModel, work: OutputModel, running: Sequence[Station]) -> None:
        """`day` as on the test day, `work` at the worst (best estimates, not sizing values)."""
        self.day, self.work = day, work
        self._running = tuple(running)

    @cached_property
    def _stds(self) -> dict[str, float]:
        """Standard deviation of every variable by its key."""
        found = {
            cause.key: rectangular_u(cause.half_width)
            for cause in self.day.causes
            if not cause.key.startswith("own/")
        }
        soil_k = self.day.drawing.site.soil.segment_uncertainty_k
        for (path, box), node in self.day.nodes.items():
            if node:
                r_ohm = self.day.network.z_ohm[node].real
                found[f"segment/{path}/{box}"] = segment_u_ohm(r_ohm, soil_k)
        for station in self.day.stations:
            found[f"own/{station.id}"] = rectangular_u(OWN_ERROR)
        return found

    def works(self, readings: Iterable[Taken]) -> Works:
        """Whether the worst set will work, given readings of this output."""
        taken = tuple(readings)
        as_drawn = [one for one in taken if one.as_drawn]
        unexplained = [_named(one) for one in taken if not one.as_drawn]
        belief, keys, fits = self._learn(as_drawn)
        if not fits:
            unexplained.append("the readings do not fit together (99 %)")
        shifts = dict(zip(keys, belief.mean, strict=True)) if fits else {}
        spread: Believed = belief if fits else self._prior(keys)
        # The warmest soil is a given: how warm it was on the test day is no part of it.
        lasting = {key: shift for key, shift in _no_gains(shifts).items() if key != "soil"}
        work = _shifted(self.work, lasting | self._misplaced(taken, shifts))
        means, gradients, minima = self._coils(work, keys)
        probability = self._all_above(means, gradients, minima, spread, keys)
        reached: str = verdict(probability)
        if unexplained and reached == PASS:
            reached = MARGINAL
        worst = min(range(len(means)), key=lambda i: means[i] / minima[i])
        used = len(as_drawn) if fits else 0
        return Works(reached, probability, means[worst], minima[worst], used, tuple(unexplained))

    def _all_above(
        self,
        means: Sequence[float],
        gradients: Sequence[Sequence[float]],
        minima: Sequence[float],
        spread: Believed,
        keys: Sequence[str],
    ) -> float:
        """Probability that every coil stays above its minimum.

        The sum of many causes is close to normal, but one cause may rule it (the source, before
        anything was read). That one is taken as what it was stated to be, evenly likely within its
        half-width, times what the readings say of it; the others are normal around it.
        """
        covariance = spread.covariances(gradients)
        weakest = min(range(len(means)), key=lambda i: means[i] - minima[i])
        ruling, share = self._ruling(gradients[weakest], covariance[weakest][weakest], spread, keys)
        if share < _RULES_FROM:
            return probability_all_above(means, covariance, minima)
        unit = [float(i == ruling) for i in range(len(keys))]
        *_, with_it = spread.covariances([*gradients, unit])
        variance = with_it.pop()
        rest = [
            [c - a * b / variance for c, b in zip(row, with_it, strict=True)]
            for row, a in zip(covariance, with_it, strict=True)
        ]
        total = weights = 0.0
        for at, weight in self._spread_of(keys[ruling], spread.mean[ruling], variance):
            moved = (at - spread.mean[ruling]) / variance
            there = [mean + a * moved for mean, a in zip(means, with_it, strict=True)]
            total += weight * probability_all_above(there, rest, minima)
            weights += weight
        return total / weights

    def _ruling(
        self, gradient: Sequence[float], variance: float, spread: Believed, keys: Sequence[str]
    ) -> tuple[int, float]:
        """The shared cause with the largest part of a voltage's variance, and that part."""
        parts = [
            (g * g * spread.variance(i) / variance if variance > 0 else 0.0, i)
            for i, (g, key) in enumerate(zip(gradient, keys, strict=True))
            if g and key in self._stds and not key.startswith("segment/")
        ]
        share, place = max(parts, default=(0.0, 0))
        return place, share

    def _spread_of(self, key: str, mean: float, variance: float) -> list[tuple[float, float]]:
        """Points within a cause's half-width with their weights: even prior times likelihood.

        They lie where the likelihood is: readings may know a cause far better than its half-width.
        """
        prior = self._stds[key] ** 2
        low, high = -math.sqrt(3.0 * prior), math.sqrt(3.0 * prior)
        known = 1 / variance - 1 / prior  # by readings alone, one over their variance
        if known > 0:
            at, reach = min(max(mean / variance / known, low), high), _REACH / math.sqrt(known)
            low, high = max(low, at - reach), min(high, at + reach)
        points = [low + (high - low) * (2 * i + 1) / (2 * _POINTS) for i in range(_POINTS)]
        logs = [x * x / (2 * prior) - (x - mean) ** 2 / (2 * variance) for x in points]
        return [(x, math.exp(log - max(logs))) for x, log in zip(points, logs, strict=True)]

    def _prior(self, keys: Sequence[str]) -> Independent:
        stds = [self._stds.get(key, 0.0) for key in keys]
        return independent([0.0] * len(keys), stds)

    def _learn(self, taken: Sequence[Taken]) -> tuple[Believed, list[str], bool]:
        """The belief after the readings, the keys of its variables, and whether they fit."""
        gains = {one.gain: one.gain_error for one in taken if one.gain}
        alone = self._seen_once(taken)
        stds_by_key = {key: std for key, std in self._stds.items() if key not in alone}
        keys = [*stds_by_key, *(f"gain/{name}" for name in gains)]
        stds = [*stds_by_key.values(), *(rectangular_u(error) for error in gains.values())]
        prior = independent([0.0] * len(keys), stds)
        if not taken:
            return prior, keys, True
        first = taken_in(prior, self._observations(taken, keys, None))
        near = dict(zip(keys, self._held(first, keys).mean, strict=True))
        belief, test = learn(prior, self._observations(taken, keys, _no_gains(near)))
        return self._held(belief, keys), keys, test.passed

    def _observations(
        self, taken: Sequence[Taken], keys: Sequence[str], near: Mapping[str, float] | None
    ) -> list[Observation]:
        """Readings as linear observations near an estimate of the site's causes, if there is one.

        f(x) = f(x0) + g·(x - x0): each tells of x itself. A coil that is not among the causes is
        noise of the one reading that sees it.
        """
        predictions = _Predictions(_shifted(self.day, near) if near else self.day)
        known, moved = set(keys), [near.get(key, 0.0) for key in keys] if near else []
        noisy = {key: std for key, std in self._stds.items() if key not in known}
        found = []
        for one in taken:
            value, slope = predictions.of(one, self._running_for(one))
            row = list(map(slope.get, keys, repeat(0.0)))
            already = dot(row, moved)
            if one.gain:
                row[keys.index(f"gain/{one.gain}")] = value
            noise = one.counts_error**2 / 3.0
            for key in own(self._running_for(one)):
                noise += (slope.get(key, 0.0) * noisy.get(key, 0.0)) ** 2
            found.append(Observation(tuple(row), one.value - value + already, noise))
        return found

    def _seen_once(self, taken: Sequence[Taken]) -> frozenset[str]:
        """Coils of stations that one reading at most sees: their spread is its noise."""
        readings = Counter(key for one in taken for key in own(self._running_for(one)))
        worst = {*own(self._running), *own(self.day.always)}
        return frozenset(
            key
            for key in self._stds
            if key.startswith("own/") and readings[key] <= 1 and key not in worst
        )

    def _held(self, belief: Believed, keys: Sequence[str]) -> Believed:
        """No shared cause and no gain ends outside its stated half-width."""
        widths = [
            math.inf if key.startswith("segment/") else math.sqrt(3.0) * self._width(key, i, belief)
            for i, key in enumerate(keys)
        ]
        return hold_within(belief, [-w for w in widths], widths)

    def _width(self, key: str, place: int, belief: Believed) -> float:
        std = self._stds.get(key)
        return std if std is not None else max(1.0, belief.variance(place))

    def _running_for(self, one: Taken) -> tuple[Station, ...]:
        """The stations that run while a reading is taken."""
        if one.name.startswith("together-"):
            return self._running
        station = self.day.drawing.stations.get(one.station)
        return (station,) if station else ()

    def _misplaced(self, taken: Iterable[Taken], shifts: Mapping[str, float]) -> dict[str, float]:
        """What unexplained readings show too much: ohms in the first segment of their routes.

        A voltage too low at the terminals is put down to the source.
        """
        found: dict[str, float] = {}
        for one in taken:
            if one.as_drawn or one.excess <= 0.0:
                continue
            if one.name.startswith("loop-"):
                key, more = self._first(one), one.excess
            elif one.name.endswith("voltage"):
                key = self._first(one) if one.box else "E"
                more = self._lost(one, key)
            else:
                continue
            total = shifts.get(key, 0.0) + more
            if key not in found or abs(total) > abs(found[key]):
                found[key] = total
        return found

    def _first(self, one: Taken) -> str:
        """The variable of the first segment of a reading's route."""
        first = self.day.drawing.route(one.path, one.box)[0].segment.to_box
        return f"segment/{one.path}/{first}"

    def _lost(self, one: Taken, key: str) -> float:
        """How far a variable has to move for a voltage to be as much lower as was read."""
        moved, target_v = 0.0, 0.0
        for step in range(_NEWTON):
            value_v, slope = _Predictions(self.day.shifted(key, moved)).of(
                one, self._running_for(one)
            )
            target_v = target_v if step else max(0.0, value_v - one.excess)
            if not slope[key]:
                return 0.0
            moved += (target_v - value_v) / slope[key]
        return moved

    def _coils(
        self, work: OutputModel, keys: Sequence[str]
    ) -> tuple[list[float], list[list[float]], list[float]]:
        """Voltage, gradient and minimum of every coil of the worst set, in inrush."""
        slopes = Slopes(work, self._running, "inrush")
        kinds = work.drawing.site.solenoid_kind
        means, gradients = [], []
        for number in range(len(slopes.coils)):
            volts, slope = slopes.coil(number)
            slope["soil"] = 0.0  # the warmest soil is a given
            means.append(volts)
            gradients.append([slope.get(key, 0.0) for key in keys])
        minima = [kinds[c.kind].min_voltage_v for s in slopes.running for c in s.solenoid]
        return means, gradients, minima


class _Predictions:
    """What readings should be with one model, each at the mains of then."""

    def __init__(self, model: OutputModel) -> None:
        self._model = model
        self._nominal_v = model.drawing.site.supply.nominal_voltage_v
        self._at_mains = {model.mains: model}

    def of(self, one: Taken, running: Sequence[Station]) -> tuple[float, Slope]:
        """The value that a reading should have, and its slope over every variable."""
        if one.name.startswith("loop-"):
            return loop(self._model, one.path, one.box)
        mains = one.mains_v / self._nominal_v if one.mains_v else self._model.mains
        if mains not in self._at_mains:
            self._at_mains[mains] = self._model.at_mains(mains)
        model = self._at_mains[mains]
        if one.name == "together-current":
            return settled(model, running, "current")
        if one.name in ("standby-current", "station-current"):
            return settled(model, running, "current", one.path)
        return settled(model, running, "voltage" if one.box else "terminals", one.path, one.box)


def _no_gains(shifts: Mapping[str, float]) -> dict[str, float]:
    """The shifts of the site itself; an instrument's gain is none of it."""
    return {key: shift for key, shift in shifts.items() if not key.startswith("gain/")}


def _shifted(model: OutputModel, shifts: Mapping[str, float]) -> OutputModel:
    return replace(model, shifts=dict(shifts))


def _named(one: Taken) -> str:
    where = one.box or one.station or one.path or "terminals"
    since = f" (failed, then {one.since} with nothing put right)" if one.since else ""
    return f"{one.name} at {where}{since}"
