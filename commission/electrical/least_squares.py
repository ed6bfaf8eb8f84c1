"""All readings at once: the belief that taking them in one after the other would give.

With the prior P₀ and readings z = H·x + noise of covariance R, the normal equations are

    Λ = P₀⁻¹ + Hᵀ·R⁻¹·H,   P = Λ⁻¹,   x = x₀ + P·b,   b = Hᵀ·R⁻¹·ν,   ν = z - H·x₀

and the joint χ² of the innovations is νᵀ·R⁻¹·ν - bᵀ·P·b. This costs a fraction of a Kalman step
for each. Source: Gauss and Markov's theorem with prior information; the same as Kalman 1960 for
independent noise.

A cause that a few readings see, and these see no other such cause, is `Local`: one station's coil.
It is first counted as noise that its readings share (R is then made of small blocks, and each block
is one of independent readings after its own Cholesky factor), and found afterwards from what the
other causes leave unexplained. That is elimination by blocks: the same numbers, of fewer unknowns.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import cached_property
from itertools import compress
from math import sqrt
from operator import mul
from typing import Final

from commission.electrical.cholesky import (
    Matrix,
    backward,
    cholesky,
    column_of_inverse,
    dot,
    forward,
    inverse,
    inverse_from,
)

FINEST: Final = 1e-6
"""No reading is taken as finer than this part of itself: an exact one would rule all others."""

_FEW = 4  # readings of a local cause, at most


@dataclass(frozen=True, slots=True)
class Reading:
    """A reading beside what was believed: its sensitivities, innovation, and variance of noise."""

    sensitivity: Sequence[float]
    innovation: float
    variance: float


@dataclass(frozen=True, slots=True)
class Local:
    """A cause that only these readings see; with what it is known by once the others are."""

    cause: int
    variance: float  # before them
    readings: tuple[Reading, ...]

    @property
    def information(self) -> float:
        """One over its variance once all other causes are known."""
        seen = (one.sensitivity[self.cause] ** 2 / one.variance for one in self.readings)
        return 1 / self.variance + sum(seen)

    def row(self, causes: Sequence[int]) -> list[float]:
        """What its readings make of it and of each other cause together: a row of Λ."""
        weights = [one.sensitivity[self.cause] / one.variance for one in self.readings]
        return [
            sum(w * one.sensitivity[i] for w, one in zip(weights, self.readings, strict=True))
            for i in causes
        ]


class Posterior:
    """How far readings move the causes, how well they are known then, and the joint χ².

    A cause without variance stays as it is.
    """

    def __init__(
        self,
        mean: Sequence[float],
        variance: Sequence[float],
        readings: Sequence[tuple[Sequence[float], float, float]],
        covariance: Sequence[Sequence[float]] | None = None,
    ) -> None:
        """Of readings (sensitivities, value, variance); `covariance` of correlated causes."""
        taken = [
            Reading(
                sensitivity,
                value - dot(sensitivity, mean),
                max(noise, (FINEST * value) ** 2, 1e-300),
            )
            for sensitivity, value, noise in readings
        ]
        free = [i for i, part in enumerate(variance) if part > 0]
        self._size = len(mean)
        self._local = {} if covariance else {one.cause: one for one in _locals(variance, taken)}
        # From the last: the causes asked for by themselves stand first, and cost least at the end.
        self._shared = [i for i in reversed(free) if i not in self._local]
        seen = {id(one) for local in self._local.values() for one in local.readings}
        rows = [_row(one, self._shared) for one in taken if id(one) not in seen]
        for local in self._local.values():
            rows += _independent(local, self._shared)
        *columns, innovations = zip(*rows, strict=True) if rows else [()] * (len(self._shared) + 1)
        information = self._prior_information(variance, covariance)
        for k, (own, column) in enumerate(zip(information, columns, strict=True)):
            first, end = _span(column)
            within = column[first:end]
            for j, other in enumerate(columns[: k + 1]):
                own[j] += sum(map(mul, within, other[first:end]))
        self._lower = cholesky(information)
        pull = [dot(column, innovations) for column in columns]
        moved = backward(self._lower, forward(self._lower, pull))
        self.chi_square = max(0.0, dot(innovations, innovations) - dot(pull, moved))
        self.moved = self._all_moved(moved)

    def _prior_information(
        self, variance: Sequence[float], covariance: Sequence[Sequence[float]] | None
    ) -> Matrix:
        """P₀⁻¹ over the shared causes, its lower half."""
        if covariance:
            return inverse([[covariance[i][j] for j in self._shared] for i in self._shared])
        return [[0.0] * k + [1 / variance[i]] for k, i in enumerate(self._shared)]

    def _all_moved(self, shared: Sequence[float]) -> list[float]:
        """How far every cause moved, once it is known how far the shared ones did."""
        found = [0.0] * self._size
        for i, by in zip(self._shared, shared, strict=True):
            found[i] = by
        for cause, local in self._local.items():
            pull = sum(
                one.sensitivity[cause] * (one.innovation - dot(one.sensitivity, found))
                / one.variance
                for one in local.readings
            )  # fmt: skip
            found[cause] = pull / local.information
        return found

    @cached_property
    def _rows(self) -> dict[int, list[float]]:
        return {cause: local.row(self._shared) for cause, local in self._local.items()}

    def _solved(self, function: Sequence[float]) -> list[float]:
        """A linear function of the causes, local ones eliminated, before the factor."""
        right = [function[i] for i in self._shared]
        for cause, local in self._local.items():
            if function[cause]:
                by = function[cause] / local.information
                right = [x - by * y for x, y in zip(right, self._rows[cause], strict=True)]
        return forward(self._lower, right)

    def covariances(self, functions: Sequence[Sequence[float]]) -> Matrix:
        """The covariance of each two of some linear functions of the causes, a·P·b."""
        solved = [self._solved(one) for one in functions]
        return [
            [
                dot(x, y)
                + sum(a[i] * b[i] / one.information for i, one in self._local.items() if a[i])
                for b, y in zip(functions, solved, strict=True)
            ]
            for a, x in zip(functions, solved, strict=True)
        ]

    def variance(self, cause: int) -> float:
        """The variance of one cause."""
        if cause in self._local:
            alone = [float(i == cause) for i in range(self._size)]
            return self.covariances([alone])[0][0]
        if cause not in self._shared:
            return 0.0
        column = column_of_inverse(self._lower, self._shared.index(cause))
        return dot(column, column)

    @cached_property
    def covariance(self) -> Matrix:
        """P, of all causes."""
        shared, full = inverse_from(self._lower), [[0.0] * self._size for _ in range(self._size)]
        for i, row in zip(self._shared, shared, strict=True):
            for j, x in zip(self._shared, row, strict=True):
                full[i][j] = x
        for cause, local in self._local.items():
            by = [-x / local.information for x in self._rows[cause]]
            with_shared = [dot(row, by) for row in shared]
            for i, x in zip(self._shared, with_shared, strict=True):
                full[i][cause] = full[cause][i] = x
            for other, one in self._local.items():
                of = [-x / one.information for x in self._rows[other]]
                full[cause][other] = dot(with_shared, of)
            full[cause][cause] += 1 / local.information
        return full


def _locals(variance: Sequence[float], readings: Sequence[Reading]) -> Iterator[Local]:
    """Causes that a few readings see, none of which sees two of them."""
    seen_by: dict[int, list[int]] = {i: [] for i, part in enumerate(variance) if part > 0}
    causes = range(len(variance))
    for number, one in enumerate(readings):
        for i in compress(causes, one.sensitivity):
            if i in seen_by:
                seen_by[i].append(number)
    taken: set[int] = set()
    for cause, numbers in seen_by.items():
        if len(numbers) <= _FEW and taken.isdisjoint(numbers):
            taken.update(numbers)
            yield Local(cause, variance[cause], tuple(readings[number] for number in numbers))


def _span(column: Sequence[float]) -> tuple[int, int]:
    """From the first to behind the last reading that sees a cause: a segment's stand together."""
    seen = [place for place, x in enumerate(column) if x]
    return (seen[0], seen[-1] + 1) if seen else (0, 0)


def _row(one: Reading, causes: Sequence[int]) -> list[float]:
    """Sensitivities and innovation of a reading, in standard deviations of its noise."""
    std = sqrt(one.variance)
    return [*(one.sensitivity[i] / std for i in causes), one.innovation / std]


def _independent(local: Local, causes: Sequence[int]) -> Iterator[list[float]]:
    """The readings of a local cause as independent ones, that cause counted as their noise."""
    own = [one.sensitivity[local.cause] for one in local.readings]
    noise = [[local.variance * a * b for b in own] for a in own]
    for i, one in enumerate(local.readings):
        noise[i][i] += one.variance
    done: Matrix = []
    for one, factors in zip(local.readings, cholesky(noise), strict=True):
        row = [*(one.sensitivity[i] for i in causes), one.innovation]
        *before, last = factors
        for factor, other in zip(before, done, strict=True):
            row = [x - factor * y for x, y in zip(row, other, strict=True)]
        done.append([x / last for x in row])
        yield done[-1]
