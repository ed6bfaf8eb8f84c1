"""What is wrong, and how sure that is: faults ranked by place and by kind."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from functools import cached_property

from commission.locate.evidence import Evidence
from commission.locate.faults import Fault, Place
from commission.locate.hypotheses import Hypotheses, Point
from commission.locate.pairs import explained, pairs
from commission.locate.readings import Reading
from commission.locate.scene import Scene

SURE = 0.95
"""Probability of one place from which it is named as the answer."""


@dataclass(frozen=True, slots=True)
class Weighted:
    """Faults that may be there together, with their probability."""

    faults: tuple[Fault, ...]
    probability: float

    @property
    def places(self) -> frozenset[Place]:
        """Where these faults are."""
        return frozenset(fault.place for fault in self.faults)


@dataclass(frozen=True)
class Posterior:
    """Everything that is still believed after the readings."""

    evidence: Evidence
    points: tuple[Weighted, ...]
    explained: bool  # whether the most likely faults explain all readings

    @cached_property
    def by_places(self) -> dict[frozenset[Place], float]:
        """Probability of every set of places, most likely first; no place where nothing is."""
        found: dict[frozenset[Place], float] = {}
        for point in self.points:
            found[point.places] = found.get(point.places, 0.0) + point.probability
        return dict(sorted(found.items(), key=lambda item: -item[1]))

    @property
    def best(self) -> tuple[frozenset[Place], float]:
        """The most likely places, and their probability."""
        return next(iter(self.by_places.items()))

    @property
    def sure(self) -> bool:
        """Whether one answer is likely enough to be named, and is not that nothing is wrong."""
        places, probability = self.best
        return bool(places) and probability >= SURE and self.explained

    def at(self, places: frozenset[Place]) -> list[Weighted]:
        """The points at a set of places, most likely first."""
        found = [point for point in self.points if point.places == places]
        return sorted(found, key=lambda point: -point.probability)

    def kinds(self, places: frozenset[Place]) -> dict[tuple[str, ...], float]:
        """What may be wrong at places, with its probability among all, most likely first."""
        found: dict[tuple[str, ...], float] = {}
        for point in self.at(places):
            kinds = tuple(sorted(fault.kind for fault in point.faults))
            found[kinds] = found.get(kinds, 0.0) + point.probability
        return dict(sorted(found.items(), key=lambda item: -item[1]))


def posterior(
    scene: Scene, readings: Iterable[Reading], given: tuple[Fault, ...] = ()
) -> Posterior:
    """All single faults that explain the readings; pairs where none does alone.

    `given` are faults that are known and still there.
    """
    evidence = Evidence(scene, readings)
    points = Hypotheses(evidence, given).points()
    fits = explained(evidence, points)
    if not fits:
        points += pairs(evidence, points, given)
        fits = explained(evidence, points)
    return Posterior(evidence, _normalised(points), fits)


def _normalised(points: Sequence[Point]) -> tuple[Weighted, ...]:
    top = max(point.log_weight for point in points)
    weights = [math.exp(point.log_weight - top) for point in points]
    total = sum(weights)
    return tuple(
        Weighted(point.faults, weight / total)
        for point, weight in zip(points, weights, strict=True)
        if weight > 1e-9 * total
    )
