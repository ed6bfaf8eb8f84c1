"""What readings teach about the causes behind them.

The causes have a mean vector and a covariance matrix.  A reading z is linear in them, z = h·x +
noise; all of them together move the causes (`least_squares`), as one Kalman step for each would.

Before anything is moved, the innovations z - h·x are tested one by one and together: readings that
cannot come from the model are a finding and no evidence.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import cached_property, lru_cache
from typing import Final, Protocol, Self

from commission.electrical.cholesky import dot
from commission.electrical.distributions import normal_cdf
from commission.electrical.least_squares import Posterior

INNOVATION_K: Final = 2.576
"""Normal deviate that 99 % of innovations stay within."""

JOINT_PROBABILITY: Final = 0.99


class Believed(Protocol):
    """Mean and covariance of the causes, in the order their owner keeps."""

    @property
    def mean(self) -> Sequence[float]: ...
    @property
    def covariance(self) -> Sequence[Sequence[float]]: ...
    def variance(self, cause: int) -> float:
        """The variance of one cause."""
        ...

    def covariances(self, functions: Sequence[Sequence[float]]) -> list[list[float]]:
        """The covariance of each two of some linear functions h·x of the causes."""
        ...

    def at(self, mean: Sequence[float]) -> Self:
        """The same doubt about another mean."""
        ...


@dataclass(frozen=True, slots=True)
class Belief:
    """Mean and covariance as they are written down."""

    mean: tuple[float, ...]
    covariance: tuple[tuple[float, ...], ...]

    def predict(self, sensitivity: Sequence[float]) -> tuple[float, float]:
        """Mean and variance of a linear function h·x of the causes."""
        seen = [(i, x) for i, x in enumerate(sensitivity) if x]
        mean = math.fsum(self.mean[i] * x for i, x in seen)
        rows = ((x, self.covariance[i]) for i, x in seen)
        return mean, math.fsum(x * sum(row[j] * y for j, y in seen) for x, row in rows)

    def variance(self, cause: int) -> float:
        """The variance of one cause."""
        return self.covariance[cause][cause]

    def covariances(self, functions: Sequence[Sequence[float]]) -> list[list[float]]:
        """The covariance of each two of some linear functions h·x of the causes."""
        return [[_form(self.covariance, a, b) for b in functions] for a in functions]

    def at(self, mean: Sequence[float]) -> Self:
        """The same doubt about another mean."""
        return replace(self, mean=tuple(mean))


@dataclass(frozen=True)
class Independent:
    """Belief in causes that know nothing of each other: their variances say all."""

    mean: tuple[float, ...]
    variances: tuple[float, ...]

    @cached_property
    def covariance(self) -> tuple[tuple[float, ...], ...]:
        """The same as a matrix."""
        size = range(len(self.mean))
        return tuple(
            tuple(v if i == k else 0.0 for k in size) for i, v in enumerate(self.variances)
        )

    def predict(self, sensitivity: Sequence[float]) -> tuple[float, float]:
        """Mean and variance of a linear function h·x of the causes."""
        seen = [(i, x) for i, x in enumerate(sensitivity) if x]
        return (
            math.fsum(self.mean[i] * x for i, x in seen),
            math.fsum(self.variances[i] * x * x for i, x in seen),
        )

    def variance(self, cause: int) -> float:
        """The variance of one cause."""
        return self.variances[cause]

    def covariances(self, functions: Sequence[Sequence[float]]) -> list[list[float]]:
        """The covariance of each two of some linear functions h·x of the causes."""
        weighted = [[v * x for v, x in zip(self.variances, a, strict=True)] for a in functions]
        return [[dot(a, b) for b in functions] for a in weighted]

    def at(self, mean: Sequence[float]) -> Self:
        """The same doubt about another mean."""
        return replace(self, mean=tuple(mean))


@dataclass(frozen=True, slots=True)
class Learned:
    """Belief after readings; what of its covariance nobody asks for is never computed."""

    mean: tuple[float, ...]
    posterior: Posterior

    @property
    def covariance(self) -> list[list[float]]:
        """The whole of it."""
        return self.posterior.covariance

    def variance(self, cause: int) -> float:
        """The variance of one cause."""
        return self.posterior.variance(cause)

    def covariances(self, functions: Sequence[Sequence[float]]) -> list[list[float]]:
        """The covariance of each two of some linear functions h·x of the causes."""
        return self.posterior.covariances(functions)

    def at(self, mean: Sequence[float]) -> Self:
        """The same doubt about another mean."""
        return replace(self, mean=tuple(mean))


@dataclass(frozen=True, slots=True)
class Observation:
    """A reading: its sensitivity to each cause, its value, and the variance of its own noise."""

    sensitivity: tuple[float, ...]
    value: float
    variance: float


@dataclass(frozen=True, slots=True)
class InnovationTest:
    """What the tests before updating say: the largest single deviate and the joint χ²."""

    worst_deviate: float
    chi_square: float
    max_chi_square: float

    @property
    def passed(self) -> bool:
        """Whether every innovation and all of them together are credible at 99 %."""
        return self.worst_deviate <= INNOVATION_K and self.chi_square <= self.max_chi_square


def independent(mean: Sequence[float], std: Sequence[float]) -> Independent:
    """Belief in causes that know nothing of each other."""
    return Independent(tuple(mean), tuple(x**2 for x in std))


def taken_in(belief: Belief | Independent, observations: Sequence[Observation]) -> Learned:
    """Belief after all readings, whether they are credible or not."""
    alone = isinstance(belief, Independent)
    posterior = Posterior(
        belief.mean,
        [belief.variance(i) for i in range(len(belief.mean))],
        [(one.sensitivity, one.value, one.variance) for one in observations],
        None if alone else belief.covariance,
    )
    moved = (x + by for x, by in zip(belief.mean, posterior.moved, strict=True))
    return Learned(tuple(moved), posterior)


def learn(
    belief: Belief | Independent, observations: Sequence[Observation]
) -> tuple[Learned, InnovationTest]:
    """Belief after all readings, and whether they were credible before any of them was taken in.

    The joint χ² is the quadratic form of all innovations: the same number as the sum of squared
    normalised innovations, each taken after the readings before it.
    """
    after = taken_in(belief, observations)
    worst = max((_deviate(belief, one) for one in observations), default=0.0)
    most = chi_square_quantile(len(observations))
    return after, InnovationTest(worst, after.posterior.chi_square, most)


def _deviate(belief: Belief | Independent, observation: Observation) -> float:
    mean, variance = belief.predict(observation.sensitivity)
    spread = math.sqrt(max(0.0, variance) + observation.variance)
    difference = abs(observation.value - mean)
    return difference / spread if spread else (math.inf if difference else 0.0)


def _form(covariance: Sequence[Sequence[float]], a: Sequence[float], b: Sequence[float]) -> float:
    """The covariance of two linear functions of the causes, a·P·b."""
    return sum(
        x * sum(p * y for p, y in zip(row, b, strict=True) if y)
        for x, row in zip(a, covariance, strict=True)
        if x
    )


def hold_within(belief: Believed, low: Sequence[float], high: Sequence[float]) -> Believed:
    """Belief with no cause outside its stated interval.

    The cause farthest outside, in its own widths, is believed as far as it lies within: its normal
    cut off at both bounds, the others following by correlation, until none is left outside. To set
    it on its bound instead would be to know it exactly, and boast.
    """
    for _ in belief.mean:
        outside = [
            max(a - x, x - b, 0.0) / (b - a) if b > a else 0.0
            for x, a, b in zip(belief.mean, low, high, strict=True)
        ]
        worst = max(range(len(outside)), key=lambda i: outside[i])
        if outside[worst] <= 1e-12:
            break
        variance = belief.covariance[worst][worst]
        if variance <= 0:
            break
        cut = cut_normal(belief.mean[worst], math.sqrt(variance), low[worst], high[worst])
        belief = _given(belief, worst, *cut)
    clamped = tuple(min(max(x, a), b) for x, a, b in zip(belief.mean, low, high, strict=True))
    return belief.at(clamped)


def cut_normal(mean: float, std: float, low: float, high: float) -> tuple[float, float]:
    """Mean and variance of a normal variable given that it lies between two bounds.

    So far outside that nothing of it is left within, it is the nearer bound. Source: Johnson, Kotz
    and Balakrishnan, Continuous Univariate Distributions (memory).
    """
    z_low, z_high = (low - mean) / std, (high - mean) / std
    if z_low > 0:  # in the tails only the difference of the smaller parts is exact
        inside = normal_cdf(-z_low) - normal_cdf(-z_high)
    else:
        inside = normal_cdf(z_high) - normal_cdf(z_low)
    if inside < 1e-290:
        return min(max(mean, low), high), 0.0
    at_low, at_high = _density(z_low), _density(z_high)
    shift = (at_low - at_high) / inside
    spread = (z_low * at_low - z_high * at_high) / inside
    return mean + std * shift, std * std * max(0.0, 1 + spread - shift * shift)


def _density(z: float) -> float:
    """Density of the standard normal."""
    return math.exp(-z * z / 2) / math.sqrt(2 * math.pi)


def _given(belief: Believed, cause: int, mean: float, variance: float) -> Belief:
    """Belief once one cause has another mean and variance."""
    row = belief.covariance[cause]
    by = (mean - belief.mean[cause]) / row[cause]
    less = (row[cause] - variance) / row[cause] ** 2
    return Belief(
        tuple(x + c * by for x, c in zip(belief.mean, row, strict=True)),
        tuple(
            tuple(p - a * b * less for p, b in zip(one, row, strict=True))
            for one, a in zip(belief.covariance, row, strict=True)
        ),
    )


def chi_square_cdf(value: float, degrees: int) -> float:
    """Probability that χ² with these degrees of freedom is at most a value (series of P(a, x))."""
    if value <= 0 or degrees <= 0:
        return float(degrees <= 0 <= value)
    a, x = degrees / 2, value / 2
    term = total = 1 / a
    n = 0
    while term > total * 1e-16:
        n += 1
        term *= x / (a + n)
        total += term
    return min(1.0, total * math.exp(-x + a * math.log(x) - math.lgamma(a)))


@lru_cache(maxsize=256)
def chi_square_quantile(degrees: int, probability: float = JOINT_PROBABILITY) -> float:
    """Value that χ² stays below with a probability."""
    if degrees <= 0:
        return 0.0
    low, high = 0.0, degrees + 20 * math.sqrt(2 * degrees) + 20
    for _ in range(80):
        middle = (low + high) / 2
        if chi_square_cdf(middle, degrees) < probability:
            low = middle
        else:
            high = middle
    return (low + high) / 2
