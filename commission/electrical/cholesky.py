"""Symmetric positive definite matrices by Cholesky's factors: L with L·Lᵀ = A, and what they solve.

Plain lists: with tens of variables they are as quick as a matrix library is to load.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from operator import mul

from commission.electrical.arithmetic import sqrt

Matrix = list[list[float]]


def dot(a: Iterable[float], b: Iterable[float]) -> float:
    """Sum of products, as far as the shorter one goes."""
    return float(sum(map(mul, a, b)))


def cholesky(matrix: Sequence[Sequence[float]]) -> Matrix:
    """Lower triangle L with L·Lᵀ = a positive definite matrix, of which the lower half is read.

    A matrix that is not, but for rounding, is a ValueError.
    """
    lower: Matrix = []
    for i, given in enumerate(matrix):
        row: list[float] = []
        for k in range(i):
            row.append((given[k] - dot(row, lower[k])) / lower[k][k])
        rest = given[i] - dot(row, row)
        if rest <= 0:
            raise ValueError("these causes cannot be told apart: their covariance is singular")
        lower.append([*row, sqrt(rest)])
    return lower


def forward(lower: Sequence[Sequence[float]], right: Sequence[float]) -> list[float]:
    """x with L·x = right."""
    found: list[float] = []
    for row, value in zip(lower, right, strict=True):
        found.append((value - dot(row, found)) / row[len(found)])
    return found


def backward(lower: Sequence[Sequence[float]], right: Sequence[float]) -> list[float]:
    """x with Lᵀ·x = right."""
    found = list(right)
    for i in range(len(found) - 1, -1, -1):
        found[i] /= lower[i][i]
        for k in range(i):
            found[k] -= lower[i][k] * found[i]
    return found


def inverse(matrix: Sequence[Sequence[float]]) -> Matrix:
    """Inverse of a positive definite matrix, of which the lower half is read."""
    return inverse_from(cholesky(matrix))


def inverse_from(lower: Sequence[Sequence[float]]) -> Matrix:
    """Inverse of the matrix that has this factor."""
    size = len(lower)
    columns = [column_of_inverse(lower, j) for j in range(size)]
    found = [[0.0] * size for _ in range(size)]
    for i in range(size):
        for j in range(i, size):
            found[i][j] = found[j][i] = dot(columns[i][j - i :], columns[j])
    return found


def column_of_inverse(lower: Sequence[Sequence[float]], j: int) -> list[float]:
    """Column j of L⁻¹ from the diagonal down: L·Lᵀ's inverse is what they give with one another."""
    column = [1 / lower[j][j]]
    for i in range(j + 1, len(lower)):
        column.append(-dot(lower[i][j:i], column) / lower[i][i])
    return column
