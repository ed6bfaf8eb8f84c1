"""Budgets, distributions, conformance and updates, against GTC, numpy and simulation."""

from __future__ import annotations

import math
from dataclasses import replace

import GTC  # type: ignore[import-untyped]
import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from commission.electrical.cholesky import inverse
from commission.electrical.conformance import (
    Limits,
    conformance,
    over_range_conformance,
    under_range_conformance,
    verdict,
)
from commission.electrical.distributions import error_sum
from commission.electrical.instruments import Accuracy, half_width, reading_error
from commission.electrical.joint import probability_all_above
from commission.electrical.uncertainty import Contribution, budget
from commission.electrical.update import (
    Belief,
    Observation,
    chi_square_cdf,
    cut_normal,
    hold_within,
    independent,
    learn,
)

SIMULATED = 20_000


@pytest.mark.parametrize(
    ("half_widths", "normal_std"),
    [
        ([1.0], 0.0),
        ([1.0], 0.3),
        ([1.0, 1.0], 0.0),
        ([1.0, 0.05], 0.0),
        ([2.0, 1.0, 0.5], 0.4),
        ([1.0, *[0.1] * 30], 0.05),
        ([0.4] * 12, 0.0),
        ([], 1.0),
    ],
)
def test_interval_covers_what_it_says(half_widths: list[float], normal_std: float) -> None:
    """JCGM 101: simulated sums lie in the 95 % interval 93 to 97 % of the time."""
    rng = np.random.default_rng(20)
    total = rng.normal(0, normal_std, SIMULATED) if normal_std else np.zeros(SIMULATED)
    for a in half_widths:
        total = total + rng.uniform(-a, a, SIMULATED)
    errors = error_sum(half_widths, normal_std)
    assert 0.93 <= np.mean(np.abs(total) <= errors.half_interval(0.95)) <= 0.97
    assert np.mean(np.abs(total) <= 2 * errors.std) >= 0.94
    for x in np.quantile(total, [0.02, 0.3, 0.5, 0.9]):
        assert errors.cdf(float(x)) == pytest.approx(np.mean(total <= x), abs=0.012)


def test_two_equal_rectangulars_are_a_triangle() -> None:
    """Their sum's probability above x is (2 - x)²/8: exact, by geometry."""
    errors = error_sum([1.0, 1.0])
    for x in (0.2, 1.0, 1.7):
        assert errors.cdf(x) == pytest.approx(1 - (2 - x) ** 2 / 8, abs=1e-5)
    assert errors.half_interval(0.95) == pytest.approx(2 - math.sqrt(8 * 0.025), abs=1e-3)


@settings(max_examples=30, deadline=None)
@given(st.lists(st.floats(0.01, 5), min_size=1, max_size=6), st.floats(0.0, 2.0), st.floats(0, 1))
def test_quantile_undoes_probability(
    half_widths: list[float], normal_std: float, place: float
) -> None:
    errors = error_sum(half_widths, normal_std)
    probability = 0.01 + 0.98 * place
    assert errors.cdf(errors.quantile(probability)) == pytest.approx(probability, abs=1e-4)


def route_budget(lengths: list[float], r_ohm_per_m: float) -> list[Contribution]:
    """A loop's causes: one tape for all lengths, one copper, each joint its own."""
    parts = [Contribution("tape", length * 2 * r_ohm_per_m * 0.01) for length in lengths]
    parts += [Contribution("copper", length * 2 * r_ohm_per_m * 0.02) for length in lengths]
    parts += [Contribution(f"joint {i}", 0.01) for i in range(len(lengths))]
    return parts


def test_shared_causes_add_before_they_are_squared() -> None:
    """GTC propagates the same loop with the same variables."""
    lengths, r = [120.0, 80.0, 45.0], 0.0083
    tape = GTC.ureal(1.0, GTC.type_b.uniform(0.01))
    copper = GTC.ureal(r, GTC.type_b.uniform(0.02 * r))
    joints = [GTC.ureal(0.01, GTC.type_b.uniform(0.01)) for _ in lengths]
    loop = sum(
        length * tape * 2 * copper + joint for length, joint in zip(lengths, joints, strict=True)
    )
    found = budget(GTC.value(loop), route_budget(lengths, r))
    assert found.u == pytest.approx(GTC.uncertainty(loop), rel=1e-9)
    assert found.contributions[0].cause == "copper"


def test_two_loops_are_correlated_by_what_they_share() -> None:
    """Two ends that share tape and copper: their difference against GTC."""
    r = 0.0083
    tape = GTC.ureal(1.0, GTC.type_b.uniform(0.01))
    copper = GTC.ureal(r, GTC.type_b.uniform(0.02 * r))
    one, two = (length * tape * 2 * copper for length in (120.0, 300.0))
    parts = [
        [part for part in route_budget([length], r) if "joint" not in part.cause]
        for length in (120.0, 300.0)
    ]
    less = [replace(part, effect=-part.effect) for part in parts[0]]
    found = budget(0.0, [*parts[1], *less])
    assert found.u == pytest.approx(GTC.uncertainty(two - one), rel=1e-9)


def test_coverage_over_simulated_loops() -> None:
    """10,000 sites drawn from the stated causes: the real, not linearised, loop is covered."""
    rng, lengths, r = np.random.default_rng(7), [120.0, 80.0, 45.0], 0.0083
    tape = 1 + rng.uniform(-0.05, 0.05, 10_000)
    copper = r * (1 + rng.uniform(-0.02, 0.02, 10_000))
    warm = 1 + 0.00393 * rng.uniform(-13, 3, 10_000)
    joints = rng.uniform(0, 0.02, (3, 10_000)).sum(axis=0)
    loop = sum(lengths) * 2 * tape * copper * warm + joints
    nominal = sum(lengths) * 2 * r * (1 + 0.00393 * -5)
    causes = [
        Contribution("drawing", nominal * 0.05),
        Contribution("copper", nominal * 0.02),
        Contribution("soil", sum(lengths) * 2 * r * 0.00393 * 8),
        *(Contribution(f"joint {i}", 0.01) for i in range(3)),
    ]
    low, high = budget(nominal + 0.03, causes).interval()
    assert 0.93 <= np.mean((loop >= low) & (loop <= high)) <= 0.97


def test_twice_the_standard_uncertainty_to_either_side() -> None:
    """k = 2 (JCGM 100 6.2)."""
    assert budget(10.0, [Contribution("a", 1.0, "normal")]).expanded() == (8.0, 12.0)


def test_opposite_effects_of_one_cause_cancel() -> None:
    found = budget(1.0, [Contribution("soil", 0.3), Contribution("soil", -0.3)])
    assert found.u == 0.0
    assert found.interval() == (1.0, 1.0)


def test_one_cause_has_one_distribution() -> None:
    with pytest.raises(ValueError, match="at once"):
        budget(1.0, [Contribution("soil", 0.3), Contribution("soil", 0.1, "normal")])


def test_ambient_temperature_widens_a_specification() -> None:
    """A tenth of the specification per kelvin outside 18 to 28 °C (common practice)."""
    meter = Accuracy(1.0, 2.0, 0.1)
    assert half_width(meter, 50.0, 28.0) == pytest.approx(0.7)
    assert half_width(meter, 50.0, 33.0) == pytest.approx(1.05)
    assert half_width(meter, 50.0, 8.0) == pytest.approx(1.4)


def test_reading_error_is_two_independent_rectangulars() -> None:
    """Against GTC's uniform variables."""
    error = reading_error(Accuracy(1.0, 2.0, 0.1), 50.0)
    assert (error.gain_half_width, error.counts_half_width) == pytest.approx((0.5, 0.2))
    total = GTC.ureal(0, GTC.type_b.uniform(0.5)) + GTC.ureal(0, GTC.type_b.uniform(0.2))
    assert error.standard_uncertainty == pytest.approx(GTC.uncertainty(total))


@pytest.mark.parametrize(
    ("beyond", "limits", "probability"),
    [
        (200e6, Limits(low=0.5e6), 1.0),
        (math.inf, Limits(high=10.0), 0.0),
        (20.0, Limits(high=10.0), 0.0),
        (5.0, Limits(high=10.0), None),
        (0.2e6, Limits(low=0.5e6), None),
        (math.inf, Limits(low=11.0, high=13.0), 0.0),
    ],
)
def test_over_range_readings(beyond: float, limits: Limits, probability: float | None) -> None:
    assert over_range_conformance(beyond, limits) == probability


@pytest.mark.parametrize(
    ("below", "limits", "probability"),
    [
        (2.0, Limits(high=10.0), 1.0),
        (10.0, Limits(high=10.0), 1.0),
        (20.0, Limits(high=10.0), None),
        (5.0, Limits(low=10.0), 0.0),
        (20.0, Limits(low=10.0), None),
        (5.0, Limits(low=11.0, high=13.0), 0.0),
        (12.0, Limits(low=11.0, high=13.0), None),
    ],
)
def test_under_range_readings(below: float, limits: Limits, probability: float | None) -> None:
    assert under_range_conformance(below, limits) == probability


def test_certain_readings_on_either_side() -> None:
    sure = error_sum()
    assert conformance(10.0, sure, Limits(high=10.0)) == 1.0
    assert conformance(10.1, sure, Limits(high=10.0)) == 0.0
    assert conformance(10.0, sure, Limits(low=10.0)) == 1.0
    assert conformance(9.9, sure, Limits(low=10.0)) == 0.0


@pytest.mark.parametrize(
    ("probability", "word"),
    [(1.0, "pass"), (0.95, "pass"), (0.949, "marginal"), (0.051, "marginal"), (0.05, "fail")],
)
def test_verdicts(probability: float, word: str) -> None:
    assert verdict(probability) == word


def random_belief(rng: np.random.Generator, size: int) -> tuple[np.ndarray, np.ndarray]:
    root = rng.normal(size=(size, size))
    return rng.normal(size=size), root @ root.T


def test_what_is_learned_is_the_matrix_update() -> None:
    """What the textbook gives for all readings at once (numpy)."""
    rng = np.random.default_rng(3)
    mean, cov = random_belief(rng, 5)
    h, noise, z = rng.normal(size=(3, 5)), np.array([0.1, 0.4, 0.2]), rng.normal(size=3)
    spread = h @ cov @ h.T + np.diag(noise)
    gain = cov @ h.T @ np.linalg.inv(spread)
    belief = Belief(tuple(mean), tuple(tuple(row) for row in cov))
    readings = [Observation(tuple(h[i]), float(z[i]), float(noise[i])) for i in range(3)]
    found, test = learn(belief, readings)
    innovation = z - h @ mean
    assert test.chi_square == pytest.approx(innovation @ np.linalg.inv(spread) @ innovation)
    assert found.mean == pytest.approx(mean + gain @ innovation)
    assert np.array(found.covariance) == pytest.approx(cov - gain @ h @ cov, abs=1e-9)


def kalman_step(
    mean: np.ndarray, cov: np.ndarray, one: Observation
) -> tuple[np.ndarray, np.ndarray]:
    """One scalar reading taken in (Kalman 1960): s = hPh' + r, x + Ph'(z - hx)/s, P - Ph'hP/s."""
    h = np.array(one.sensitivity)
    gain = cov @ h / (h @ cov @ h + one.variance)
    return mean + gain * (one.value - h @ mean), cov - np.outer(gain, h @ cov)


@pytest.mark.parametrize("correlated", [True, False])
def test_all_readings_at_once_are_the_scalar_updates(correlated: bool) -> None:
    """The normal equations against one Kalman step for each reading; a known cause stays known."""
    rng = np.random.default_rng(5)
    mean, cov = random_belief(rng, 6)
    if not correlated:
        cov = np.diag(np.diag(cov))
    cov[2, :] = cov[:, 2] = 0.0
    belief = Belief(tuple(mean), tuple(tuple(row) for row in cov))
    readings = [
        Observation(tuple(rng.normal(size=6) * (rng.random(6) < 0.6)), rng.normal(), 0.05 + i / 40)
        for i in range(9)
    ]
    found, test = learn(belief, readings)
    h = np.array([one.sensitivity for one in readings])
    noise = np.diag([one.variance for one in readings])
    innovation = np.array([one.value for one in readings]) - h @ mean
    spread = h @ cov @ h.T + noise
    assert test.chi_square == pytest.approx(innovation @ np.linalg.solve(spread, innovation))
    alone = np.abs(innovation) / np.sqrt(np.diag(spread))
    assert test.worst_deviate == pytest.approx(alone.max())
    after, spread_after = mean, cov
    for one in readings:
        after, spread_after = kalman_step(after, spread_after, one)
    assert found.mean == pytest.approx(after, rel=1e-9, abs=1e-12)
    assert np.array(found.covariance) == pytest.approx(spread_after, abs=1e-12)
    assert found.mean[2] == mean[2]


def test_causes_that_cannot_be_told_apart_are_refused() -> None:
    with pytest.raises(ValueError, match="singular"):
        inverse([[1.0, 1.0], [1.0, 1.0]])


def test_innovations_that_cannot_be_are_found() -> None:
    belief = independent([10.0], [0.3])
    assert learn(belief, [Observation((1.0,), 11.0, 0.16)])[1].passed
    assert not learn(belief, [Observation((1.0,), 11.4, 0.16)])[1].passed
    # four readings, each credible, that together are not
    together = [Observation((0.0,), 0.9, 0.16)] * 4
    _after, result = learn(belief, together)
    assert result.worst_deviate == pytest.approx(2.25)
    assert not result.passed


def test_no_cause_ends_outside_its_interval() -> None:
    """Against drawn beliefs of which only those within are kept, 400,000 of them."""
    mean, covariance = (1.5, 0.9), ((1.0, 0.5), (0.5, 1.0))
    held = hold_within(Belief(mean, covariance), [-1.0, -1.0], [1.0, 1.0])
    drawn = np.random.default_rng(3).multivariate_normal(mean, covariance, 400_000)
    kept = drawn[np.abs(drawn[:, 0]) <= 1]
    assert held.mean == pytest.approx(kept.mean(axis=0), abs=0.01)
    assert np.allclose(held.covariance, np.cov(kept.T), atol=0.01)


def test_a_normal_cut_in_half() -> None:
    """The half-normal: mean √(2/π), variance 1 - 2/π (memory), either way round."""
    for low, high, sign in ((0.0, 1e9, 1.0), (-1e9, 0.0, -1.0)):
        mean, variance = cut_normal(0.0, 1.0, low, high)
        assert mean == pytest.approx(sign * math.sqrt(2 / math.pi))
        assert variance == pytest.approx(1 - 2 / math.pi)


@pytest.mark.parametrize("mean", [12.0, 30.0, -30.0])
def test_a_normal_far_outside_is_cut_near_its_bound(mean: float) -> None:
    """There the tail falls off like an exponential: mean 1/z beyond its bound, variance 1/z²."""
    found, variance = cut_normal(mean, 1.0, -1.0, 1.0)
    depth = 1 / (abs(mean) - 1)
    assert abs(found) == pytest.approx(1 - depth, abs=3 * depth**3)
    assert variance == pytest.approx(depth**2, rel=0.05)


@pytest.mark.parametrize("mean", [60.0, -60.0])
def test_a_normal_of_which_nothing_is_left_within_is_on_its_bound(mean: float) -> None:
    assert cut_normal(mean, 1.0, -1.0, 1.0) == (math.copysign(1.0, mean), 0.0)


@pytest.mark.parametrize(("value", "degrees"), [(3.841, 1), (5.991, 2), (18.307, 10)])
def test_chi_square_at_95_percent(value: float, degrees: int) -> None:
    """Printed tables (memory)."""
    assert chi_square_cdf(value, degrees) == pytest.approx(0.95, abs=1e-4)


def test_joint_probability() -> None:
    """Sheppard 1899 (memory): both above the mean, ¼ + asin(r)/2π; three equal r = ½: ¼."""
    two = probability_all_above([0, 0], [[1.0, 0.6], [0.6, 1.0]], [0, 0])
    assert two == pytest.approx(0.25 + math.asin(0.6) / (2 * math.pi), abs=0.003)
    half = [[1.0 if i == k else 0.5 for k in range(3)] for i in range(3)]
    assert probability_all_above([0] * 3, half, [0] * 3) == pytest.approx(0.25, abs=0.003)


def test_joint_probability_by_simulation() -> None:
    """Six correlated voltages, numpy's multivariate normal."""
    rng = np.random.default_rng(11)
    _, cov = random_belief(rng, 6)
    mean = np.full(6, 2.0)
    drawn = rng.multivariate_normal(mean, cov, 100_000)
    found = probability_all_above(list(mean), [list(row) for row in cov], [0.0] * 6)
    assert found == pytest.approx(np.mean((drawn > 0).all(axis=1)), abs=0.006)


def test_joint_probability_of_one_voltage_with_itself() -> None:
    """A shared cause alone: as likely as one of them, not its square."""
    found = probability_all_above([1.0, 1.0], [[1.0, 1.0], [1.0, 1.0]], [0.0, 0.0])
    assert found == pytest.approx(0.8413, abs=0.003)
    assert probability_all_above([21.0], [[0.0]], [20.0]) == 1.0
