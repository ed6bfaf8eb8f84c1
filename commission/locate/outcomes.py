"""What each outcome of a test would mean, said before it is made."""

from __future__ import annotations

from dataclasses import dataclass

from commission.locate.faults import Place
from commission.locate.next_test import Advisor
from commission.locate.readings import FieldTest

_WIDE = 2.0  # standard deviations on either side that belong to an outcome
_WORTH = 0.01  # probability from which a place is mentioned


@dataclass(frozen=True, slots=True)
class Outcome:
    """One range of readings, or one answer, and the places it speaks for, likeliest first.

    `low` and `high` in SI, both infinite for over range; for an indicator 1 is "answers", 0 "dark".
    """

    low: float
    high: float
    probability: float
    places: tuple[frozenset[Place], ...]


def outcomes(advisor: Advisor, test: FieldTest) -> list[Outcome]:
    """The ranges that a reading may fall in, the lowest first; ranges that touch are one."""
    ranges = sorted(
        (one for one in advisor.expectations(test, _WIDE) if one[1] >= _WORTH),
        key=lambda one: one[2:],
    )
    found: list[Outcome] = []
    weights: dict[frozenset[Place], float] = {}
    for place, probability, low, high in ranges:
        touches = bool(found) and low <= found[-1].high
        before = found.pop() if touches else None
        weights = weights if before else {}
        weights[place] = weights.get(place, 0.0) + probability
        found.append(
            Outcome(
                low=before.low if before else low,
                high=max(before.high, high) if before else high,
                probability=sum(weights.values()),
                places=tuple(sorted(weights, key=lambda one: -weights[one])),
            )
        )
    return found
