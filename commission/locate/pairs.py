"""Two faults at once: a second one beside the best single ones, each sized beside the other."""

from __future__ import annotations

import math
from collections.abc import Sequence

from commission.locate.evidence import Evidence
from commission.locate.faults import Fault, Place
from commission.locate.hypotheses import Hypotheses, Point

_TRIED = 5  # single faults that a second one is put beside
_PAIRS = 3  # pairs whose sizes are worked out again in every round
_ROUNDS = 3
_BETTER = 1.0  # what a round must gain, a logarithm, for another one
_NEAR = 10.0  # odds (a logarithm) within which pairs are crossed
_CROSSED = 8


def explained(evidence: Evidence, points: Sequence[Point]) -> bool:
    """Whether the most likely faults explain the readings."""
    return evidence.explains(max(points, key=lambda point: point.log_weight).faults)


def pairs(evidence: Evidence, singles: Sequence[Point], given: tuple[Fault, ...]) -> list[Point]:
    """A second fault beside each of the best single ones, each place once.

    A single fault was sized to explain everything alone; so for the best pairs each is sized again
    beside the other, in turn.
    """
    firsts: dict[Place, Fault] = {}
    for point in sorted(singles, key=lambda one: -one.log_weight):
        if len(point.faults) == len(given) + 1:
            firsts.setdefault(point.faults[-1].place, point.faults[-1])
    alone = Hypotheses(evidence, given)
    found: list[Point] = []
    for first in (*list(firsts.values())[:_TRIED], *alone.one_of_two_joints()):
        found += _beside(evidence, given, first)
    found += _sized_again(evidence, given, found)
    if not found or not explained(evidence, found):
        for first in alone.opens():
            found += _beside(evidence, given, first)
    found = _each_once(found)
    return _each_once([*found, *_crossed(evidence, found)])


def _sized_again(
    evidence: Evidence, given: tuple[Fault, ...], found: Sequence[Point]
) -> list[Point]:
    """The best pairs with each of the two sized beside the other, for as long as that helps."""
    everything, best = list(found), -math.inf
    for turn in range(_ROUNDS):
        now = max((point.log_weight for point in everything), default=-math.inf)
        if not everything or (turn and (explained(evidence, everything) or now < best + _BETTER)):
            break
        best = now
        for pair in _best_pairs(everything, len(given) + 2):
            for fault in pair[-2:]:
                everything += _beside(evidence, given, fault)
    return everything[len(found) :]


def _crossed(evidence: Evidence, pairs: Sequence[Point]) -> list[Point]:
    """Every likely first of the best pair beside every likely second.

    So far one of the two was always that of the best pair. The weight of size and prior is taken
    from the two pairs that a crossed one comes from.
    """
    if not pairs:
        return []
    best = max(pairs, key=lambda point: point.log_weight)
    *given, a, b = best.faults
    near = [p for p in pairs if p.log_weight > best.log_weight - _NEAR]
    with_a = {_other(p, a): p for p in near if _other(p, a) is not None}
    with_b = {_other(p, b): p for p in near if _other(p, b) is not None}
    likely = {p: evidence.log_likelihood(p.faults) for p in (*with_a.values(), *with_b.values())}
    found = []
    for second, seconds in sorted(with_a.items(), key=_weight)[:_CROSSED]:
        for first, firsts in sorted(with_b.items(), key=_weight)[:_CROSSED]:
            if first is None or second is None or first.place == second.place:
                continue
            faults = (*given, first, second)
            more = seconds.log_weight + firsts.log_weight - best.log_weight
            more -= likely[seconds] + likely[firsts] - evidence.log_likelihood(best.faults)
            found.append(Point(faults, more + evidence.log_likelihood(faults)))
    return found


def _weight(item: tuple[Fault | None, Point]) -> float:
    return -item[1].log_weight


def _other(point: Point, fault: Fault) -> Fault | None:
    """The other fault of a pair in which one is where, and of the kind that, `fault` is."""
    a, b = point.faults[-2:]
    if (a.kind, a.place) == (fault.kind, fault.place):
        return b
    return a if (b.kind, b.place) == (fault.kind, fault.place) else None


def _beside(evidence: Evidence, given: tuple[Fault, ...], first: Fault) -> list[Point]:
    """Every fault beside a first one, with the prior of both."""
    kinds = evidence.scene.priors.kinds
    prior = evidence.scene.priors.second * kinds[first.kind]
    prior /= max(1, len(evidence.scene.plant.name_of))
    return [
        Point(point.faults, point.log_weight + math.log(prior))
        for point in Hypotheses(evidence, (*given, first)).points()
        if len(point.faults) == len(given) + 2 and point.faults[-1].place != first.place
    ]


def _best_pairs(points: Sequence[Point], size: int) -> list[tuple[Fault, ...]]:
    """The faults of the best pairs, each pair of places once."""
    best: dict[frozenset[Place], tuple[Fault, ...]] = {}
    for point in sorted(points, key=lambda one: -one.log_weight):
        if len(point.faults) == size:
            best.setdefault(frozenset(f.place for f in point.faults), point.faults)
        if len(best) == _PAIRS:
            break
    return list(best.values())


def _each_once(points: Sequence[Point]) -> list[Point]:
    """Of points that are the same pair of kinds and places, sized in different ways, the best.

    They stand for one another: adding them up would count the same pair several times.
    """
    best: dict[frozenset[tuple[str, Place]], Point] = {}
    for point in points:
        key = frozenset((fault.kind, fault.place) for fault in point.faults)
        if key not in best or point.log_weight > best[key].log_weight:
            best[key] = point
    return list(best.values())
