"""All readings at once: the belief that taking them in one after the other would give.

With the prior P₀ and readings z = H·x + noise of variance r, the normal equations are

    Λ = P₀⁻¹ + Σ hᵀ·h/r,   P = Λ⁻¹,   x = x₀ + P·Σ hᵀ·ν/r,   ν = z - h·x₀

and the joint χ² of the innovations is Σ ν²/r - bᵀ·P·b with b = Σ hᵀ·ν/r. A reading sees few of the
causes, so this costs a fraction of a Kalman step for each. Source: Gauss and Markov's theorem with
prior information; the same as Kalman 1960 for independent noise.
"""

from __future__ import annotations

from collections.abc import Sequence
from operator import mul
from typing import Final

from commission.electrical.arithmetic import sqrt

Matrix = list[list[float]]

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
        innovation = value - sum(map(mul, sensitivity, mean))
        squares += innovation * innovation / variance
        seen = [(k, sensitivity[i]) for k, i in enumerate(free) if sensitivity[i]]
        for n, (k, a) in enumerate(seen, start=1):
            weight, row = a / variance, info[k]
            pull[k] += weight * innovation
            for j, b in seen[:n]:  # the lower triangle is enough
                row[j] += weight * b
    spread = inverse(info)
    moved = [sum(map(mul, row, pull)) for row in spread]
    found, full = list(mean), [list(row) for row in covariance]
    for k, i in enumerate(free):
        found[i] += moved[k]
        for j, other in enumerate(free):
            full[i][other] = spread[k][j]
    return found, full, max(0.0, squares - sum(map(mul, pull, moved)))


def _prior_information(covariance: Sequence[Sequence[float]], free: Sequence[int]) -> Matrix:
    """P₀⁻¹ over the causes that vary."""
    part = [[covariance[i][j] for j in free] for i in free]
    if any(value for i, row in enumerate(part) for j, value in enumerate(row) if i != j):
        return inverse(part)
    size = range(len(free))
    return [[1 / part[i][i] if i == j else 0.0 for j in size] for i in size]


def inverse(matrix: Sequence[Sequence[float]]) -> Matrix:
    """Inverse of a symmetric positive definite matrix, by Cholesky's factors of its lower half.

    A matrix that is not, but for rounding, is a ValueError.
    """
    size = len(matrix)
    lower: Matrix = []
    for i, row in enumerate(matrix):
        new: list[float] = []
        for j, other in enumerate(lower):
            new.append((row[j] - sum(map(mul, new, other))) / other[j])
        rest = row[i] - sum(map(mul, new, new))
        if rest <= 0:
            raise ValueError("these causes cannot be told apart: their covariance is singular")
        lower.append([*new, sqrt(rest)])
    # Columns of L⁻¹, from the diagonal down: the inverse is what they give with one another.
    columns: Matrix = []
    for j in range(size):
        column = [1 / lower[j][j]]
        for i in range(j + 1, size):
            column.append(-sum(map(mul, lower[i][j:i], column)) / lower[i][i])
        columns.append(column)
    found = [[0.0] * size for _ in range(size)]
    for i in range(size):
        for j in range(i, size):
            found[i][j] = found[j][i] = sum(map(mul, columns[i][j - i :], columns[j]))
    return found
