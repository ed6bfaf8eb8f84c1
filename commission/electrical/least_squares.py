"""All readings at once: the belief that taking them in one after the other would give.

With the prior P₀ and readings z = H·x + noise of variance r, the normal equations are

    Λ = P₀⁻¹ + Σ hᵀ·h/r,   P = Λ⁻¹,   x = x₀ + P·Σ hᵀ·ν/r,   ν = z - h·x₀

and the joint χ² of the innovations is Σ ν²/r - bᵀ·P·b with b = Σ hᵀ·ν/r. This costs a fraction
of a Kalman step for each. Source: Gauss and Markov's theorem with prior information; the same as
Kalman 1960 for independent noise.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

from commission.electrical.cholesky import Matrix, diagonal, dot, inverse

FINEST: Final = 1e-6
"""No reading is taken as finer than this part of itself: an exact one would rule all others."""


def posterior(
    mean: Sequence[float],
    covariance: Sequence[Sequence[float]],
    readings: Sequence[tuple[Sequence[float], float, float]],
) -> tuple[list[float], Matrix, float]:
    """Mean and covariance after readings (sensitivities, value, variance), and the joint χ².

    A cause without variance stays as it is.
    """
    free = [i for i, row in enumerate(covariance) if row[i] > 0]
    info = _prior_information(covariance, free)
    pull, squares = [0.0] * len(free), 0.0
    for sensitivity, value, variance in readings:
        variance = max(variance, (FINEST * value) ** 2, 1e-300)
        innovation = value - dot(sensitivity, mean)
        squares += innovation * innovation / variance
        row = [sensitivity[i] for i in free]
        for k, a in enumerate(row):
            if a:
                weight = a / variance
                pull[k] += weight * innovation
                # The lower triangle is enough.
                info[k] = [x + weight * b for x, b in zip(info[k], row[: k + 1], strict=False)]
    spread = inverse(info)
    moved = [dot(row, pull) for row in spread]
    found, full = list(mean), [list(row) for row in covariance]
    for k, i in enumerate(free):
        found[i] += moved[k]
        for j, other in enumerate(free):
            full[i][other] = spread[k][j]
    return found, full, max(0.0, squares - dot(pull, moved))


def _prior_information(covariance: Sequence[Sequence[float]], free: Sequence[int]) -> Matrix:
    """P₀⁻¹ over the causes that vary."""
    part = [[covariance[i][j] for j in free] for i in free]
    alone = diagonal(part)
    if alone is None:
        return inverse(part)
    return [[1 / v if i == j else 0.0 for j in range(len(free))] for i, v in enumerate(alone)]
