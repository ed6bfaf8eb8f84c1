"""Probability that several correlated normal voltages all stay above their minimum.

The product of single probabilities would be wrong, because the causes are shared.  The integral is
taken one variable after the other, each conditioned on those before (Genz 1992), over a lattice of
points that fills the unit cube evenly (Kronecker's sequence of square roots of primes): the same
input always gives the same answer.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from statistics import NormalDist
from typing import Final

from commission.electrical.distributions import normal_cdf

_POINTS: Final = 1024
_PRIMES: Final = (2, 3, 5, 7, 11, 13, 17, 19, 23, 29, 31, 37, 41, 43, 47, 53, 59, 61, 67, 71)
_NEVER: Final = 1e-17  # the chance that any falls below, at most: nothing beside 1
_UNIT: Final = NormalDist()


def probability_all_above(
    mean: Sequence[float],
    covariance: Sequence[Sequence[float]],
    minimum: Sequence[float],
) -> float:
    """Probability that every variable exceeds its minimum, good to about 0.002.

    More variables than 20 keep the 20 nearest to their minimum.  Source: Genz 1992.
    """
    margins = [
        (m - least) / math.sqrt(max(row[i], 1e-300))
        for i, (m, row, least) in enumerate(zip(mean, covariance, minimum, strict=True))
    ]
    if sum(normal_cdf(-margin) for margin in margins) < _NEVER:
        return 1.0
    order = sorted(range(len(margins)), key=margins.__getitem__)[: len(_PRIMES)]
    factor = _cholesky([[covariance[i][k] for k in order] for i in order])
    slack = [mean[i] - minimum[i] for i in order]
    if len(order) < 2:
        return math.prod(
            _above(s, row[i]) for i, (s, row) in enumerate(zip(slack, factor, strict=True))
        )
    steps = [math.sqrt(prime) % 1 for prime in _PRIMES[: len(order)]]
    total = sum(
        _one_point(slack, factor, [(0.5 + n * step) % 1 for step in steps])
        for n in range(1, _POINTS + 1)
    )
    return total / _POINTS


def _one_point(
    slack: Sequence[float], factor: Sequence[Sequence[float]], point: Sequence[float]
) -> float:
    """Product of conditional probabilities along one point of the lattice."""
    product = 1.0
    drawn: list[float] = []
    for i, row in enumerate(factor):
        rest = slack[i] + sum(a * y for a, y in zip(row, drawn, strict=False))
        above = _above(rest, row[i])
        product *= above
        if product == 0:
            return 0.0
        place = (1 - above) + point[i] * above
        drawn.append(_UNIT.inv_cdf(min(max(place, 1e-16), 1 - 1e-16)))
    return product


def _above(slack: float, std: float) -> float:
    """Probability that slack + std·(standard normal) is above zero."""
    return normal_cdf(slack / std) if std > 0 else float(slack >= 0)


def _cholesky(matrix: Sequence[Sequence[float]]) -> list[list[float]]:
    """Lower triangle L with L·Lᵀ = matrix; directions without variance stay zero."""
    size = len(matrix)
    lower = [[0.0] * size for _ in range(size)]
    for i in range(size):
        for k in range(i + 1):
            rest = matrix[i][k] - sum(lower[i][j] * lower[k][j] for j in range(k))
            if i == k:
                lower[i][i] = math.sqrt(rest) if rest > 1e-12 * matrix[i][i] else 0.0
            else:
                lower[i][k] = rest / lower[k][k] if lower[k][k] else 0.0
    return lower
