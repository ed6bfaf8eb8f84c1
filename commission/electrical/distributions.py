"""The sum of independent errors: rectangular ones and one normal one.

A specification or a tolerance is rectangular (each value in its interval equally likely); many
small errors together are normal.  JCGM 101 asks for the interval that the *sum* really has.  Its
characteristic function is the product

    φ(t) = Π sin(aᵢ·t)/(aᵢ·t) · exp(-σ²·t²/2)

and its cumulative probability follows from φ as a Fourier series over an interval that holds the
whole distribution (Gil-Pelaez 1951, on a lattice).
"""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass
from functools import cached_property
from typing import Final

_KEPT: Final = 8
"""Rectangulars taken one by one; smaller ones join the normal part (central limit)."""

_NORMAL_SPAN: Final = 8.5
_MAX_TERMS: Final = 4000
_SMALL: Final = 2e-6


def normal_cdf(z: float) -> float:
    """Probability that a standard normal variable is at most z."""
    return 0.5 * math.erfc(-z / math.sqrt(2))


def rectangular_u(half_width: float) -> float:
    """Standard uncertainty of a rectangular interval ±a: a/√3 (JCGM 100 4.3.7)."""
    return half_width / 3**0.5


@dataclass(frozen=True)
class ErrorSum:
    """Zero-mean sum of rectangulars (their half widths) and a normal of a standard deviation."""

    half_widths: tuple[float, ...]
    normal_std: float = 0.0

    @property
    def std(self) -> float:
        """Standard deviation of the sum: √(Σa²/3 + σ²)."""
        return math.sqrt(sum(a * a for a in self.half_widths) / 3 + self.normal_std**2)

    def cdf(self, x: float) -> float:
        """Probability that the sum is at most x."""
        widths, std = self._parts
        if not widths:
            return normal_cdf(x / std) if std else float(x >= 0)
        if len(widths) == 1 and not std:
            return min(1.0, max(0.0, 0.5 + x / (2 * widths[0])))
        if abs(x) >= self._reach:
            return float(x > 0)
        step = math.pi / self._reach
        total = 0.5 + x / (2 * self._reach)
        for k, weight in enumerate(self._weights, start=1):
            total += weight * math.sin(k * step * x)
        return min(1.0, max(0.0, total))

    def quantile(self, probability: float) -> float:
        """Value that the sum stays below with this probability, 0 < p < 1."""
        if not 0 < probability < 1:
            raise ValueError("a quantile has a probability between 0 and 1")
        widths, std = self._parts
        if not widths and not std:
            return 0.0
        if probability < 0.5:
            return -self.quantile(1 - probability)
        if len(widths) == 1 and not std:
            return (2 * probability - 1) * widths[0]
        low, high = 0.0, self._reach if widths else _NORMAL_SPAN * std
        for _ in range(40):
            middle = (low + high) / 2
            if self.cdf(middle) < probability:
                low = middle
            else:
                high = middle
        return (low + high) / 2

    def half_interval(self, coverage: float = 0.95) -> float:
        """Half width of the symmetric interval that holds the sum with this probability."""
        return self.quantile((1 + coverage) / 2)

    @cached_property
    def _parts(self) -> tuple[tuple[float, ...], float]:
        """Largest rectangulars, and a normal part that takes in the others."""
        ordered = sorted((abs(a) for a in self.half_widths if a), reverse=True)
        rest = sum(a * a for a in ordered[_KEPT:]) / 3
        return tuple(ordered[:_KEPT]), math.sqrt(self.normal_std**2 + rest)

    @cached_property
    def _reach(self) -> float:
        widths, std = self._parts
        return (sum(widths) + _NORMAL_SPAN * std) * 1.0001

    @cached_property
    def _weights(self) -> list[float]:
        """Fourier weights φ(kπ/L)/(kπ) of the cumulative probability."""
        widths, std = self._parts
        step = math.pi / self._reach
        weights = []
        for k in range(1, _MAX_TERMS + 1):
            t = k * step
            value = math.exp(-0.5 * (std * t) ** 2)
            limit = value
            for a in widths:
                value *= math.sin(a * t) / (a * t)
                limit /= max(1.0, a * t)
            weights.append(value / (k * math.pi))
            if limit < _SMALL:
                break
        return weights


def error_sum(half_widths: Iterable[float] = (), normal_std: float = 0.0) -> ErrorSum:
    """Sum of independent rectangular errors and a normal one."""
    return ErrorSum(tuple(half_widths), normal_std)
