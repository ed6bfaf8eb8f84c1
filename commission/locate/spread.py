"""How far readings may lie from what is predicted: their own noise and the causes they share.

The covariance of the readings is D + G·Gᵀ: D their own variances, a column of G what one standard
deviation of a shared cause does to each. With few causes nothing larger than their number is ever
inverted (Woodbury's identity), and the same factors give what the readings say of the causes.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from operator import mul

from commission.electrical.cholesky import backward, cholesky, dot, forward


class Spread:
    """A covariance D + G·Gᵀ, factored once and used for many residuals."""

    def __init__(self, variance: Sequence[float], columns: Sequence[Sequence[float]]) -> None:
        """`variance` per reading, above zero; `columns` one per shared cause."""
        self._weight = [1 / math.sqrt(v) for v in variance]
        self._columns = [list(map(mul, column, self._weight)) for column in columns]
        size = len(self._columns)
        inner = [[0.0] * size for _ in range(size)]
        for i, a in enumerate(self._columns):
            for k in range(i + 1):
                inner[i][k] = dot(a, self._columns[k]) + (i == k)
        self._factor = cholesky(inner)
        self._log_norm = (
            len(self._weight) * math.log(2 * math.pi)
            - 2 * sum(math.log(w) for w in self._weight)
            + 2 * sum(math.log(row[i]) for i, row in enumerate(self._factor))
        )

    def log_density(self, residual: Sequence[float]) -> float:
        """Natural logarithm of the normal density of a residual."""
        return -(self.chi_square(residual) + self._log_norm) / 2

    def chi_square(self, residual: Sequence[float]) -> float:
        """The squared length of a residual in standard deviations, causes taken into account."""
        white = list(map(mul, residual, self._weight))
        seen = forward(self._factor, [dot(column, white) for column in self._columns])
        return dot(white, white) - dot(seen, seen)

    def log_mostly(self, residual: Sequence[float], most: float) -> float:
        """Logarithm of how well most of a residual fits: each reading alone, up to a limit.

        `most` are the standard deviations, own noise and causes together, that one counts at most.
        """
        total = 0.0
        for n, (value, weight) in enumerate(zip(residual, self._weight, strict=True)):
            variance = 1 + sum(column[n] ** 2 for column in self._columns)
            total += min((value * weight) ** 2 / variance, most**2)
        return -total / 2

    def product(self, a: Sequence[float], b: Sequence[float]) -> float:
        """aᵀ·(D + G·Gᵀ)⁻¹·b."""
        wa, wb = list(map(mul, a, self._weight)), list(map(mul, b, self._weight))
        sa = forward(self._factor, [dot(column, wa) for column in self._columns])
        sb = forward(self._factor, [dot(column, wb) for column in self._columns])
        return dot(wa, wb) - dot(sa, sb)

    def causes(self, residual: Sequence[float]) -> list[float]:
        """What a residual says of the causes, in their standard deviations."""
        white = list(map(mul, residual, self._weight))
        seen = forward(self._factor, [dot(column, white) for column in self._columns])
        return backward(self._factor, seen)

    def left_over(self, slopes: Sequence[float]) -> list[float]:
        """Half of a form: its square is the variance that the causes still leave to `slopes`.

        Causes that `slopes` says nothing of, at the end, do not move it.
        """
        missing = len(self._columns) - len(slopes)
        return forward(self._factor, [*slopes, *([0.0] * missing)])
