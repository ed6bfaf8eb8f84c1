"""Budgets: which cause contributes how much to an expected value, and how wide it is.

A *cause* is one variable of the world: the tape's scale, the soil's temperature, the copper of one
drum.  Everywhere it acts it is the same variable, so what it does along a route is added with its
sign before it is squared; only different causes are independent (JCGM 100 5.1 and 5.2).
"""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass
from functools import cached_property
from typing import Final, Literal

from commission.electrical.distributions import ErrorSum, rectangular_u

Distribution = Literal["rectangular", "normal"]

COVERAGE_FACTOR: Final = 2.0
"""k = 2: about 95 % for a sum of many causes (JCGM 100)."""


@dataclass(frozen=True, slots=True)
class Contribution:
    """Effect of one cause on a value: signed, in the value's unit.

    `effect` is sensitivity times half width for a rectangular cause, sensitivity times standard
    deviation for a normal one.
    """

    cause: str
    effect: float
    distribution: Distribution = "rectangular"

    @property
    def u(self) -> float:
        """Standard uncertainty that this cause gives the value."""
        size = abs(self.effect)
        return rectangular_u(size) if self.distribution == "rectangular" else size


@dataclass(frozen=True)
class Budget:
    """A best estimate with what each cause contributes to its uncertainty, largest first."""

    value: float
    contributions: tuple[Contribution, ...]

    @cached_property
    def u(self) -> float:
        """Combined standard uncertainty, root of the sum of squares (JCGM 100 5.1.2)."""
        return math.sqrt(sum(part.u**2 for part in self.contributions))

    @cached_property
    def errors(self) -> ErrorSum:
        """Distribution of value minus estimate, as the causes are stated."""
        rectangular = tuple(
            part.effect for part in self.contributions if part.distribution == "rectangular"
        )
        normal = [part.effect for part in self.contributions if part.distribution == "normal"]
        return ErrorSum(rectangular, math.hypot(*normal) if normal else 0.0)

    def expanded(self) -> tuple[float, float]:
        """Interval value ± k·u with k = 2 (JCGM 100 6.2)."""
        return (self.value - COVERAGE_FACTOR * self.u, self.value + COVERAGE_FACTOR * self.u)

    def interval(self, coverage: float = 0.95) -> tuple[float, float]:
        """Interval that holds the value with a probability, by its distributions (JCGM 101)."""
        half_width = self.errors.half_interval(coverage)
        return (self.value - half_width, self.value + half_width)


def budget(value: float, contributions: Iterable[Contribution]) -> Budget:
    """Gather contributions into a budget, those of one cause as one variable.

    One cause with two distributions is a ValueError: it would be two variables under one name.
    """
    effects: dict[str, float] = {}
    kinds: dict[str, Distribution] = {}
    for part in contributions:
        if kinds.setdefault(part.cause, part.distribution) != part.distribution:
            raise ValueError(f"cause {part.cause!r} cannot be rectangular and normal at once")
        effects[part.cause] = effects.get(part.cause, 0.0) + part.effect
    merged = [Contribution(cause, effect, kinds[cause]) for cause, effect in effects.items()]
    merged.sort(key=lambda part: (-part.u, part.cause))
    return Budget(value, tuple(merged))
