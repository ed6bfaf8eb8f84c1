"""Earth electrodes: what one should be, and what its measurements say.

Formulas are for uniform soil and an electrode alone in it.  Local code decides on limits; whoever
measures isolates the supply first and does no work on electrodes with lightning about.
"""

from __future__ import annotations

import math
from bisect import bisect_right
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Final

from commission.electrical.arithmetic import asinh, log, sqrt

ROD_FACTORS: Final[tuple[tuple[int, float], ...]] = (
    (1, 1.0),
    (2, 1.16),
    (3, 1.29),
    (4, 1.36),
    (8, 1.68),
    (12, 1.80),
    (16, 1.92),
    (20, 2.00),
    (24, 2.16),
)
"""Rods one rod length apart -> multiplier on R/N (IEEE Std 142 table 14; conservative)."""

MAX_RODS: Final = ROD_FACTORS[-1][0]
"""Most rods that the factor table covers."""

MAX_PROBE_DEPTH_FRACTION: Final = 1 / 20
"""Deepest four-pin probe, as a fraction of the spacing: beyond it the pins are no points."""

FALL_TOLERANCE: Final = 0.05
"""Largest deviation of a reading from the mean of the three (IEEE Std 81 practice)."""

MIN_DISTANCE_RATIO: Final = 5.0
"""Least distance of the current probe over the electrode system's largest dimension."""

SUSPECT_LOOP_OHM: Final = 1.0
"""A clamp reading below this may be a metallic loop and no earth at all (common practice)."""


def rod_ohm(soil_ohm_m: float, length_m: float, radius_m: float) -> float:
    """One driven rod, R = ρ/(2πL)·(ln(4L/a) - 1) [Ω], a the radius (Dwight; IEEE Std 142)."""
    return soil_ohm_m / (2 * math.pi * length_m) * (log(4 * length_m / radius_m) - 1)


def two_rods_ohm(soil_ohm_m: float, length_m: float, radius_m: float, spacing_m: float) -> float:
    """Two equal rods in parallel at any spacing s, exactly [Ω].

    R = ½·[R₁ + ρ/(2πL)·(asinh x - √(1 + 1/x²) + 1/x)], x = 2L/s: the second term is what each rod
    lifts the other.  Source: Dwight's average-potential method, in closed form.
    """
    x = 2 * length_m / spacing_m
    mutual = asinh(x) - sqrt(1 + 1 / (x * x)) + 1 / x
    mutual_ohm = soil_ohm_m / (2 * math.pi * length_m) * mutual
    return (rod_ohm(soil_ohm_m, length_m, radius_m) + mutual_ohm) / 2


def rod_factor(rods: int) -> float:
    """Multiplier on R/N for N rods one rod length apart, straight lines between table rows.

    More rods than the table covers, or none, is a ValueError.  Source: IEEE Std 142 table 14; the
    interpolation is judgement.
    """
    if not 1 <= rods <= MAX_RODS:
        raise ValueError(f"the factor table covers 1 to {MAX_RODS} rods, not {rods}")
    above = bisect_right([count for count, _ in ROD_FACTORS], rods)
    low_count, low_factor = ROD_FACTORS[above - 1]
    if low_count == rods:
        return low_factor
    high_count, high_factor = ROD_FACTORS[above]
    return low_factor + (high_factor - low_factor) * (rods - low_count) / (high_count - low_count)


def rods_ohm(one_rod_ohm: float, rods: int) -> float:
    """N equal rods at least one rod length apart, R = R₁/N x factor [Ω] (IEEE Std 142)."""
    return one_rod_ohm / rods * rod_factor(rods)


def rods_needed(one_rod_ohm: float, max_ohm: float) -> int | None:
    """Fewest rods, one rod length apart, that meet a limit; None when the table's most do not."""
    for rods in range(1, MAX_RODS + 1):
        if rods_ohm(one_rod_ohm, rods) <= max_ohm:
            return rods
    return None


def more_rods(measured_ohm: float, rods: int, max_ohm: float) -> int | None:
    """How many rods more a measured system of N equal rods needs to meet a limit.

    The measured value stands for the soil: R₁ = R·N/factor.  None when the table's most would not
    do: then other soil, longer rods or soil treatment are needed.
    """
    needed = rods_needed(measured_ohm * rods / rod_factor(rods), max_ohm)
    return None if needed is None else max(0, needed - rods)


def wire_ohm(soil_ohm_m: float, length_m: float, radius_m: float, depth_m: float) -> float:
    """Horizontal round wire of full length l at depth h [Ω] (Dwight; IEEE Std 142).

    R = ρ/(4πL)·(ln(4L/a) + ln(4L/s) - 2 + s/2L - s²/16L² + s⁴/512L⁴), L = l/2, s = 2h.
    """
    half_m, image_m = length_m / 2, 2 * depth_m
    shape = log(4 * half_m / radius_m) + log(4 * half_m / image_m) - 2
    return soil_ohm_m / (4 * math.pi * half_m) * (shape + _image_terms(image_m / half_m))


def strip_ohm(
    soil_ohm_m: float, length_m: float, width_m: float, thickness_m: float, depth_m: float
) -> float:
    """Horizontal strip of full length l, width a and thickness b < a/8 at depth h [Ω].

    R = ρ/(4πL)·(ln(4L/a) + (a² - πab)/(2(a + b)²) + ln(4L/s) - 1 + s/2L - s²/16L² + s⁴/512L⁴),
    L = l/2, s = 2h (Dwight; IEEE Std 142).
    """
    half_m, image_m = length_m / 2, 2 * depth_m
    section = (width_m * width_m - math.pi * width_m * thickness_m) / (
        2 * (width_m + thickness_m) ** 2
    )
    shape = log(4 * half_m / width_m) + section + log(4 * half_m / image_m) - 1
    return soil_ohm_m / (4 * math.pi * half_m) * (shape + _image_terms(image_m / half_m))


def _image_terms(ratio: float) -> float:
    """Terms of Dwight's series in s/L that both horizontal conductors share."""
    return ratio / 2 - ratio**2 / 16 + ratio**4 / 512


def plate_ohm(
    soil_ohm_m: float, area_m2: float, depth_m: float, *, vertical: bool = False
) -> float:
    """Buried plate with its centre at depth h, taken as a disc of the same area [Ω].

    Flat: R = ρ/(8a) + ρ/(4πs)·(1 - 7a²/12s² + 33a⁴/40s⁴); on edge: the bracket is
    (1 + 7a²/24s² + 99a⁴/320s⁴); a the disc's radius, s = 2h (Dwight; IEEE Std 142).
    """
    radius_m = sqrt(area_m2 / math.pi)
    image_m = 2 * depth_m
    ratio = (radius_m / image_m) ** 2
    if vertical:
        series = 1 + 7 / 24 * ratio + 99 / 320 * ratio**2
    else:
        series = 1 - 7 / 12 * ratio + 33 / 40 * ratio**2
    return soil_ohm_m / (8 * radius_m) + soil_ohm_m / (4 * math.pi * image_m) * series


def soil_ohm_m(spacing_m: float, resistance_ohm: float) -> float:
    """Soil resistivity from four equally spaced pins, ρ = 2π·a·R [Ω·m] (Wenner)."""
    return 2 * math.pi * spacing_m * resistance_ohm


def probes_shallow(spacing_m: float, probe_depth_m: float) -> bool:
    """Whether four-pin probes are shallow enough for the simple formula: depth ≤ a/20."""
    return probe_depth_m <= spacing_m * MAX_PROBE_DEPTH_FRACTION * (1 + 1e-12)


@dataclass(frozen=True, slots=True)
class FallOfPotential:
    """What three readings of a fall-of-potential test say.

    `resistance_ohm` is their mean; it counts only when `consistent`: each within 5 % of the mean.
    """

    resistance_ohm: float
    max_deviation_fraction: float
    consistent: bool


def fall_of_potential(readings_ohm: Sequence[float]) -> FallOfPotential:
    """Judge readings with the potential probe at 52 %, 62 % and 72 % of the current probe.

    Readings that differ more than 5 % from their mean say that the probes stand in the electrode's
    or the current probe's own field: move farther out, or use `slope_method`.  The current probe
    stands `MIN_DISTANCE_RATIO` times the electrode's size away, or farther.  Source: IEEE Std 81.
    """
    mean_ohm = sum(readings_ohm) / len(readings_ohm)
    deviation = max(abs(reading - mean_ohm) for reading in readings_ohm) / mean_ohm
    return FallOfPotential(mean_ohm, deviation, consistent=deviation <= FALL_TOLERANCE)


@dataclass(frozen=True, slots=True)
class SlopeResult:
    """Outcome of the slope method: the true place of the potential probe and the value there."""

    slope: float
    probe_fraction: float
    resistance_ohm: float


MIN_SLOPE: Final = 0.40
MAX_SLOPE: Final = 1.59
"""Slope coefficients between which the method is used (IEEE Std 81 table 5)."""


def slope_method(r20_ohm: float, r40_ohm: float, r60_ohm: float) -> SlopeResult:
    """Earth resistance from readings at 20 %, 40 % and 60 % of the current probe's distance.

    For a large electrode whose electrical centre lies X (in units of that distance) behind the
    point one measures from, the reading at p is R + K·g(p), g(p) = 1/(1 - p) - 1/(p + X) -
    1/(1 + X).  The slope μ = (R60 - R40)/(R40 - R20) fixes X; the probe belongs where g(p) = 0.  A
    slope outside 0.40 to 1.59 is a ValueError: move the current probe farther out.  Source: IEEE
    Std 81, slope method.
    """
    rise_ohm = r40_ohm - r20_ohm
    slope = (r60_ohm - r40_ohm) / rise_ohm if rise_ohm else math.inf
    if not MIN_SLOPE - 1e-9 <= slope <= MAX_SLOPE + 1e-9:
        raise ValueError(f"slope {slope:.3g} is outside {MIN_SLOPE} to {MAX_SLOPE}")
    centre = _falling_root(lambda x: slope - _slope_of(x), -0.19, 100.0)
    fraction = _falling_root(lambda p: -_field(p, centre), max(1e-9, -centre + 1e-9), 1 - 1e-9)
    scale_ohm = rise_ohm / (_field(0.4, centre) - _field(0.2, centre))
    return SlopeResult(slope, fraction, r40_ohm - scale_ohm * _field(0.4, centre))


def _field(p: float, centre: float) -> float:
    """Error of a reading with the probe at p, in units of ρ/(2π x distance)."""
    return 1 / (1 - p) - 1 / (p + centre) - 1 / (1 + centre)


def _slope_of(centre: float) -> float:
    """Slope coefficient of an electrode whose centre lies `centre` behind the reference."""
    low, mid, high = (_field(p, centre) for p in (0.2, 0.4, 0.6))
    return (high - mid) / (mid - low)


def _falling_root(function: Callable[[float], float], low: float, high: float) -> float:
    """Root of a function that falls from positive to negative between two bounds, by halving."""
    for _ in range(200):
        middle = (low + high) / 2
        if function(middle) > 0:
            low = middle
        else:
            high = middle
    return (low + high) / 2


def is_metallic_loop(clamp_ohm: float) -> bool:
    """Whether a clamp-on earth tester probably reads metal and no soil (common practice).

    Above that the reading is an upper bound: the electrode in series with the rest of its loop
    (IEEE Std 81 practice).
    """
    return clamp_ohm < SUSPECT_LOOP_OHM
