"""Electrodes against the field around them, and the checks on earth measurements."""

from __future__ import annotations

import math

import numpy as np
import pytest

from commission.electrical import earth


def field_ohm(
    start: tuple[float, ...], length_m: float, radius_m: float, pieces: int = 200
) -> float:
    """Resistance per Ω·m of a thin horizontal wire by the method of moments.

    The wire is cut into pieces of unknown current; each piece and its mirror image above ground
    lift every piece's potential by ρI/4πr, and all pieces share one potential.
    """
    depth_m = start[2]
    size = length_m / pieces
    place = (np.arange(pieces) + 0.5) * size
    apart = np.abs(place[:, None] - place[None, :])

    def potential(offset_m: float) -> np.ndarray:
        """Mean potential of a piece of unit current at a distance along and across."""
        high, low = apart + size / 2, apart - size / 2
        return (np.arcsinh(high / offset_m) - np.arcsinh(low / offset_m)) / size / (4 * math.pi)

    matrix = potential(radius_m) + potential(2 * depth_m)
    return float(1 / np.linalg.solve(matrix, np.ones(pieces)).sum())


@pytest.mark.parametrize(
    ("length_m", "depth_m"), [(5.0, 0.5), (10.0, 0.6), (30.0, 0.8), (3.0, 1.5)]
)
def test_buried_wire(length_m: float, depth_m: float) -> None:
    """Dwight's series within 2 % of the method of moments (computed with numpy)."""
    found = earth.wire_ohm(100.0, length_m, 0.005, depth_m)
    assert found == pytest.approx(100 * field_ohm((0, 0, depth_m), length_m, 0.005), rel=0.02)


@pytest.mark.parametrize(
    ("length_m", "depth_m"), [(5.0, 0.5), (10.0, 0.6), (30.0, 0.8), (3.0, 1.5)]
)
def test_buried_strip(length_m: float, depth_m: float) -> None:
    """A thin strip is a wire of a quarter of its width (memory, conformal map); within 4 %.

    Dwight's strip uses the mean distance within the section and reads a little high.
    """
    found = earth.strip_ohm(100.0, length_m, 0.025, 0.003, depth_m)
    same = 100 * field_ohm((0, 0, depth_m), length_m, 0.025 / 4)
    assert found == pytest.approx(same, rel=0.04)


@pytest.mark.parametrize(
    ("length_m", "width_m", "depth_m"), [(10.0, 0.025, 0.6), (25.0, 0.03, 0.8)]
)
def test_buried_strip_in_the_other_published_form(
    length_m: float, width_m: float, depth_m: float
) -> None:
    """BS 7430 for one strip, ρ/(2πL)·(ln(2L²/(w·h)) - 1) (memory), within 8 %."""
    other = 100 / (2 * math.pi * length_m) * (math.log(2 * length_m**2 / (width_m * depth_m)) - 1)
    found = earth.strip_ohm(100.0, length_m, width_m, 0.003, depth_m)
    assert found == pytest.approx(other, rel=0.08)


@pytest.mark.parametrize("vertical", [False, True])
def test_plate_far_below_ground_is_a_free_disc(vertical: bool) -> None:
    """A disc in unbounded soil has ρ/(8a), exactly (Weber 1873, memory)."""
    found = earth.plate_ohm(100.0, math.pi, 1e6, vertical=vertical)
    assert found == pytest.approx(100 / 8, rel=1e-5)


@pytest.mark.parametrize("vertical", [False, True])
@pytest.mark.parametrize("depth_m", [1.6, 2.0, 3.0])
def test_plate_is_a_disc_with_its_image(vertical: bool, depth_m: float) -> None:
    """Mean of the image disc's potential, ρI/(4πa)·asin(2a/(l₁ + l₂)), within 0.2 % (numpy).

    The potential of a conducting disc is Weber's (1873, memory); a disc of 1 m radius carries its
    current with density 1/√(a² - r²).
    """
    angle = (np.arange(400) + 0.5) / 400 * math.pi / 2
    around = (np.arange(64) + 0.5) / 64 * 2 * math.pi
    radius = np.sin(angle)[:, None]  # equal steps of this angle with weight sin are that density
    weight = np.sin(angle)[:, None] * (math.pi / 2 / 400) / 64
    if vertical:
        out = np.hypot(2 * depth_m + radius * np.cos(around), radius * np.sin(around))
        up = np.zeros_like(out)
        # a disc on edge lies in the plane of its image
    else:
        out = radius * np.ones_like(around)
        up = np.full_like(out, 2 * depth_m)
    reach = np.hypot(out - 1, up) + np.hypot(out + 1, up)
    image = float((np.arcsin(2 / reach) * weight).sum()) / (4 * math.pi)
    found = earth.plate_ohm(100.0, math.pi, depth_m, vertical=vertical)
    assert found == pytest.approx(100 * (1 / 8 + image), rel=2e-3)


def test_plate_near_the_surface_approaches_twice_the_free_disc() -> None:
    """At the surface only half the soil is there: between ρ/(8a) and ρ/(4a)."""
    for depth_m in (1.5, 2.0, 4.0):
        assert 100 / 8 < earth.plate_ohm(100.0, math.pi, depth_m) < 100 / 4


def test_two_rods_far_apart_are_half_of_one() -> None:
    one = earth.rod_ohm(100.0, 3.0, 0.008)
    assert earth.two_rods_ohm(100.0, 3.0, 0.008, 1e5) == pytest.approx(one / 2, rel=1e-3)


def test_factor_table_is_conservative_for_two_rods() -> None:
    one = earth.rod_ohm(100.0, 3.0, 0.008)
    assert earth.rods_ohm(one, 2) > earth.two_rods_ohm(100.0, 3.0, 0.008, 3.0)


def test_factors_between_table_rows_lie_on_straight_lines() -> None:
    assert earth.rod_factor(6) == pytest.approx((1.36 + 1.68) / 2)
    assert earth.rod_factor(1) == 1.0
    with pytest.raises(ValueError, match="1 to 24"):
        earth.rod_factor(25)


def test_rods_needed() -> None:
    """25 Ω a rod: two give 14.5, three 10.75, four 8.5 Ω by the table of IEEE Std 142."""
    assert earth.rods_needed(25.0, 25.0) == 1
    assert earth.rods_needed(25.0, 14.5) == 2
    assert earth.rods_needed(25.0, 10.0) == 4
    assert earth.rods_needed(1000.0, 5.0) is None


def test_more_rods_take_the_measured_value_for_the_soil() -> None:
    """Two rods measured at 14.5 Ω are 25 Ω each: two more reach 10 Ω."""
    assert earth.more_rods(14.5, 2, 10.0) == 2
    assert earth.more_rods(8.0, 2, 10.0) == 0
    assert earth.more_rods(500.0, 1, 5.0) is None


def test_four_pin_probes_stay_shallow() -> None:
    """Depth at most a twentieth of the spacing."""
    assert earth.probes_shallow(2.0, 0.1)
    assert not earth.probes_shallow(2.0, 0.11)


@pytest.mark.parametrize(
    ("readings", "consistent"),
    [((9.7, 10.0, 10.3), True), ((9.5, 10.0, 10.5), True), ((9.0, 10.0, 11.0), False)],
)
def test_fall_of_potential_checks(readings: tuple[float, ...], consistent: bool) -> None:
    """Each within 5 % of the mean (IEEE Std 81 practice)."""
    result = earth.fall_of_potential(readings)
    assert result.resistance_ohm == pytest.approx(10.0)
    assert result.consistent == consistent


@pytest.mark.parametrize("centre", [0.0, 0.1, 0.3, 0.6])
def test_slope_method_finds_the_resistance_behind_the_readings(centre: float) -> None:
    """Readings made from the field of an electrode of 8 Ω whose centre lies behind."""
    readings = [
        8 + 1.3 * (1 / (1 - p) - 1 / (p + centre) - 1 / (1 + centre)) for p in (0.2, 0.4, 0.6)
    ]
    assert earth.slope_method(*readings).resistance_ohm == pytest.approx(8.0, rel=1e-6)


@pytest.mark.parametrize("readings", [(1.0, 2.0, 2.2), (1.0, 2.0, 4.0), (2.0, 2.0, 3.0)])
def test_slope_outside_the_table_is_refused(readings: tuple[float, float, float]) -> None:
    with pytest.raises(ValueError, match="slope"):
        earth.slope_method(*readings)


def test_a_clamp_under_about_an_ohm_reads_metal() -> None:
    """Common practice, no source."""
    assert not earth.is_metallic_loop(12.0)
    assert earth.is_metallic_loop(0.4)
