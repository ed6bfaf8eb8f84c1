"""Which test to make next: what it is expected to tell of the place, against what it costs.

Under each hypothesis a test's reading is predicted with its spread, given everything read so far.
How well readings tell hypotheses apart is measured pair by pair (Bhattacharyya distance D), and
the information about the place follows as

    I = -Σ p_i · ln Σ_k p_k · exp(-D_ik)

with D = 0 between hypotheses of one place: a lower bound of the expected drop of entropy, in closed
form (Kolchinsky and Tracey 2017). A box that must be opened anyway is worth what all tests there
tell together.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from commission.electrical.cholesky import cholesky, dot, forward
from commission.electrical.distributions import rectangular_u
from commission.expected.causes import OWN_ERROR
from commission.locate.candidates import Candidates
from commission.locate.faults import ACROSS, Fault, Place
from commission.locate.posterior import Posterior
from commission.locate.readings import DEAD_KINDS, FieldTest
from commission.locate.scene import value
from commission.locate.situation import CoilState, Situation
from commission.site.schema import ROOT

MIN_INFORMATION = 0.02
"""Expected information below which a test is not worth making [nat] (judgement)."""
_KEPT = 24  # hypotheses that tests are judged by
_LEAST = 0.002  # probability from which a hypothesis is kept
_COIL_LEFT = 0.3  # of a coil's own variance once its current was read (judgement)
_APART = 12.0  # distance between a value and over range


@dataclass(frozen=True, slots=True)
class Costs:
    """What tests cost, in minutes of two people (judgement)."""

    open_box: float = 10.0  # find it, open it, close it again
    walk_m_per_minute: float = 50.0  # along the cable, from the nearest open box or the controller
    remake_joint: float = 15.0  # a sealed joint opened for a test is remade with new connectors
    dead: float = 5.0  # conductors off the terminals, bridge on, reading, bridge off
    live: float = 1.5  # call a station, read


@dataclass(frozen=True, slots=True)
class Suggestion:
    """The test to make next; `box` must be opened for it when it is not open yet."""

    test: FieldTest
    information: float  # of the box or the test, in nat
    minutes: float
    opens: bool


@dataclass(frozen=True, slots=True)
class _Guess:
    """One hypothesis that tests are judged by."""

    place: frozenset[Place]
    faults: tuple[Fault, ...]
    probability: float
    situation: Situation
    causes: list[float]


class Advisor:
    """Judges tests by a posterior. Pure."""

    def __init__(
        self, posterior: Posterior, open_boxes: Iterable[str] = (), costs: Costs | None = None
    ) -> None:
        self.posterior, self.evidence = posterior, posterior.evidence
        self.scene, self.plant = self.evidence.scene, self.evidence.scene.plant
        self.open, self.costs = frozenset(open_boxes), costs or Costs()
        self._guesses = self._kept()
        self._candidates = Candidates(
            self.scene,
            [(guess.probability, guess.faults) for guess in self._guesses],
            {reading.test for reading in self.evidence.facts.measured},
            self.open,
        )
        self._means: dict[FieldTest, list[float]] = {}
        self._noises: dict[FieldTest, tuple[float, list[float]]] = {}

    def best(self, without: frozenset[str] = frozenset()) -> Suggestion | None:
        """The test worth most for its cost; None when no available test tells enough.

        Kinds of test in `without` are not considered.
        """
        if len({guess.place for guess in self._guesses}) < 2:
            return None
        found: list[tuple[float, float, float, list[FieldTest]]] = []
        for tests in self._candidates.bundles(without):
            information = self.information(tests)
            if information < MIN_INFORMATION:
                continue
            minutes = sum(self.cost(test) for test in tests) + self.way(tests[0])
            found.append((information / minutes, information, minutes, tests))
        if not found:
            return None
        _, information, minutes, tests = max(found, key=lambda one: one[0])
        first = max(tests, key=lambda test: self.information([test]))
        return Suggestion(first, information, minutes, self.way(first) > 0)

    def cost(self, test: FieldTest) -> float:
        """Minutes for a test at a box that is open."""
        if test.kind in ("side", "insulation") and test.opens:
            return self.costs.dead + self.costs.remake_joint
        return self.costs.dead if test.kind in DEAD_KINDS else self.costs.live

    def way(self, test: FieldTest) -> float:
        """Minutes until the box of a test is open; none for an open box and for the terminals."""
        if not test.opens or test.opens in self.open:
            return 0.0
        near = [box for box in self.open if (test.path, box) in self.plant.model.nodes]
        away_m = min(self._apart_m(test.path, test.opens, box) for box in (ROOT, *near))
        return self.costs.open_box + away_m / self.costs.walk_m_per_minute

    def _apart_m(self, path: str, a: str, b: str) -> float:
        """Cable between two boxes of a path."""
        tree = self.scene.model.drawing.trees[path]
        ways = ({one.to_box for one in tree.route(box)} for box in (a, b))
        shared = set.intersection(*ways)
        meeting_m = max((tree.distance_m(box) for box in shared), default=0.0)
        return tree.distance_m(a) + tree.distance_m(b) - 2 * meeting_m

    # hypotheses

    def _kept(self) -> list[_Guess]:
        """The likeliest point of each place and kind, with what that place and kind weigh."""
        best: dict[tuple[frozenset[Place], tuple[str, ...]], tuple[float, tuple[Fault, ...]]] = {}
        weight: dict[tuple[frozenset[Place], tuple[str, ...]], float] = {}
        for point in self.posterior.points:
            key = (point.places, tuple(fault.kind for fault in point.faults))
            weight[key] = weight.get(key, 0.0) + point.probability
            best[key] = max(best.get(key, (0.0, ())), (point.probability, point.faults), key=_first)
        kept = sorted(weight, key=lambda key: -weight[key])[:_KEPT]
        kept = [key for key in kept if weight[key] >= _LEAST]
        total = sum(weight[key] for key in kept)
        return [self._guess(key[0], best[key][1], weight[key] / total) for key in kept]

    def _guess(
        self, place: frozenset[Place], faults: tuple[Fault, ...], probability: float
    ) -> _Guess:
        account = self.evidence.account(faults)
        causes = self.evidence.spread.causes(account.residual)
        return _Guess(place, faults, probability, self.scene.situation(faults), causes)

    # information

    def information(self, tests: Sequence[FieldTest]) -> float:
        """Expected information about the place from some tests made together [nat]."""
        guesses = self._guesses
        seen = [test for test in tests if test.kind == "indicator"]
        read = [test for test in tests if test.kind != "indicator"]
        columns = [self._means_of(test) for test in read]
        means = [[column[i] for column in columns] for i in range(len(guesses))]
        lower = cholesky(self._covariance(read)) if read else []
        white = [forward(lower, [x if math.isfinite(x) else 0.0 for x in row]) for row in means]
        chances = [
            [self.evidence.signs.indicator(g.situation, t.station) for t in seen] for g in guesses
        ]
        total = 0.0
        for i, one in enumerate(guesses):
            alike = 0.0
            for k, other in enumerate(guesses):
                if one.place == other.place:
                    alike += other.probability
                    continue
                distance = _distance(white[i], white[k]) + _ranges_apart(means[i], means[k])
                distance += sum(map(_unlike, chances[i], chances[k]))
                alike += other.probability * math.exp(-distance)
            total -= one.probability * math.log(alike)
        return total

    def expectations(
        self, test: FieldTest, wide: float
    ) -> list[tuple[frozenset[Place], float, float, float]]:
        """For each hypothesis its places, its probability, and the range that a test would read.

        The range is `wide` standard deviations to either side; of an indicator it is 0 or 1.
        """
        found = []
        spread = 0.0
        if test.kind != "indicator":
            spread = wide * math.sqrt(self._covariance([test])[0][0])
        for place, guess in enumerate(self._guesses):
            if test.kind == "indicator":
                chance = self.evidence.signs.indicator(guess.situation, test.station)
                middle = float(round(chance))
            else:
                middle = self._means_of(test)[place]
            low = max(0.0, middle - spread)
            found.append((guess.place, guess.probability, low, middle + spread))
        return found

    def _state(self, situation: Situation, test: FieldTest) -> CoilState:
        if not test.station:
            return "holding"
        seen = self.evidence.facts.water.get(test.station)
        if seen is not None and test.station in seen:
            return "holding"
        return self.evidence.signs.likely_state(situation, test.station)

    def _means_of(self, test: FieldTest) -> list[float]:
        """What a test would read under every hypothesis; kept."""
        found = self._means.get(test)
        if found is None:
            found = self._means[test] = [self._mean(guess, test) for guess in self._guesses]
        return found

    def _mean(self, guess: _Guess, test: FieldTest) -> float:
        """What a test would read under a hypothesis, the causes as the readings have them."""
        situation = guess.situation
        if test.kind not in DEAD_KINDS and _may_trip(guess.faults):
            drawn_a = situation.output_a(situation.run(test.station))
            if self.evidence.signs.trip(drawn_a) > 0.5:
                return 0.0
        predicted = value(situation, test, self._state(situation, test))
        if not math.isfinite(predicted):
            return predicted
        slopes = self._slopes(test, predicted)
        return predicted + sum(s * c for s, c in zip(slopes, guess.causes, strict=False))

    def _slopes(self, test: FieldTest, reads: float) -> list[float]:
        """What shared causes, and the meter's common errors, do to a test that reads so much."""
        like = test
        if test.kind in ("unbridged", "side"):
            like = self.scene.longest_loop(test.path)
        common = self.scene.noise(test, reads)[1]
        gains = self.scene.gain_columns([test], [common])
        columns = self.scene.slopes([(like, "holding")])
        if test.kind == "earth":  # its causes are in its own noise
            columns = [[0.0] for _ in columns]
        return [c[0] for c in (*columns, *gains)]

    def _covariance(self, tests: Sequence[FieldTest]) -> list[list[float]]:
        """Covariance of the readings of tests, given what was read so far."""
        noises = [self._noise_of(test) for test in tests]
        return [
            [dot(x, y) + (own if i == k else 0.0) for k, (_, y) in enumerate(noises)]
            for i, (own, x) in enumerate(noises)
        ]

    def _noise_of(self, test: FieldTest) -> tuple[float, list[float]]:
        """A test's own variance, and the half of a form that its shared causes leave; kept."""
        found = self._noises.get(test)
        if found is None:
            expected = self._expected(test)
            variance = self.scene.noise(test, expected)[0]
            if test.station and test.kind != "earth":
                own_coil = self.scene.sound.own_slope(test, "holding") * rectangular_u(OWN_ERROR)
                variance += _COIL_LEFT * own_coil**2
            form = self.evidence.spread.left_over(self._slopes(test, expected))
            found = self._noises[test] = variance, form
        return found

    def _expected(self, test: FieldTest) -> float:
        """What a test reads on average, as far as it reads anything."""
        total = weights = 0.0
        for guess, mean in zip(self._guesses, self._means_of(test), strict=True):
            if math.isfinite(mean):
                total += guess.probability * mean
                weights += guess.probability
        return total / weights if weights else 0.0


def _may_trip(faults: Sequence[Fault]) -> bool:
    """Whether faults may draw so much that the output gives up."""
    return any(fault.kind in ACROSS or fault.kind == "solenoid shorted" for fault in faults)


def _first(pair: tuple[float, tuple[Fault, ...]]) -> float:
    return pair[0]


def _distance(a: Sequence[float], b: Sequence[float]) -> float:
    """Bhattacharyya distance of two normals of one covariance, their means in its units."""
    return sum((x - y) ** 2 for x, y in zip(a, b, strict=True)) / 8


def _ranges_apart(a: Sequence[float], b: Sequence[float]) -> float:
    """Over range is far from any value."""
    known = zip(map(math.isfinite, a), map(math.isfinite, b), strict=True)
    return _APART * sum(x != y for x, y in known)


def _unlike(p: float, q: float) -> float:
    """Bhattacharyya distance of two yes-or-no answers."""
    return -math.log(math.sqrt(p * q) + math.sqrt((1 - p) * (1 - q)))
