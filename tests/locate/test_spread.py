"""The covariance of own noise and shared causes against dense linear algebra by numpy."""

from __future__ import annotations

import math
from typing import Any

import numpy as np
import pytest

from commission.locate.spread import Spread


@pytest.fixture
def drawn() -> tuple[list[float], list[list[float]], list[float], Any]:
    rng = np.random.default_rng(3)
    variance, columns = rng.uniform(0.01, 2, 9), rng.normal(size=(4, 9))
    dense = np.diag(variance) + columns.T @ columns
    return variance.tolist(), columns.tolist(), rng.normal(size=9).tolist(), dense


def test_density_of_a_multivariate_normal(
    drawn: tuple[list[float], list[list[float]], list[float], Any],
) -> None:
    variance, columns, residual, dense = drawn
    sign, log_det = np.linalg.slogdet(dense)
    squared = residual @ np.linalg.solve(dense, residual)
    expected = -(squared + log_det + len(residual) * math.log(2 * math.pi)) / 2
    assert sign == 1
    assert Spread(variance, columns).log_density(residual) == pytest.approx(expected)
    assert Spread(variance, columns).chi_square(residual) == pytest.approx(squared)


def test_what_a_residual_says_of_the_causes(
    drawn: tuple[list[float], list[list[float]], list[float], Any],
) -> None:
    variance, columns, residual, dense = drawn
    spread = Spread(variance, columns)
    # E(c | r) = G'·(D + G·G')^-1·r, and its covariance 1 - G'·(D + G·G')^-1·G
    g = np.array(columns)
    assert spread.causes(residual) == pytest.approx((g @ np.linalg.solve(dense, residual)).tolist())
    left = np.eye(4) - g @ np.linalg.solve(dense, g.T)
    slopes = [0.3, -1.0, 0.5, 2.0]
    half = spread.left_over(slopes)
    assert sum(x * x for x in half) == pytest.approx(float(np.array(slopes) @ left @ slopes))


def test_without_causes_only_the_noise_is_left() -> None:
    assert Spread([4.0, 1.0], []).chi_square([2.0, 3.0]) == pytest.approx(10.0)
