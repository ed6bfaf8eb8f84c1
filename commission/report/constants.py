"""The numbers that no site file sets, so that every value and verdict can be computed again."""

from __future__ import annotations

from typing import Any

from commission.electrical import (
    conductors,
    conformance,
    earth,
    instruments,
    segments,
    solenoids,
)
from commission.electrical.sources import FORMULA_SET
from commission.expected.causes import E_ERROR
from commission.expected.electrodes import FORMULA_ERROR, TABLE_ERROR
from commission.expected.inputs import LENGTH_ERROR
from commission.expected.model import on_test_day
from commission.expected.sheet import Sheet
from commission.expected.soil import MEASURED_SOIL_K

COVERAGE_FACTOR = 2.0
METER = (
    "a reading is off by two independent rectangular errors, in its unit: the gain error "
    "±(percent of reading), and ±(counts x resolution + offset); its entry in the history has all "
    "of them, else one count of the last digit is taken; its standard uncertainty is "
    "√((gain² + counts²)/3)"
)
INTERVAL = (
    "pass when the reading lies within expected ± coverage_factor x √(u² + u_meter²), u the "
    "expectation's standard uncertainty; no resistance, voltage or current is below zero; marginal "
    "when both errors of the meter together are larger than the expected value"
)
REVERSED = (
    "of a loop read with the leads changed over, the mean of both readings counts; marginal when "
    "they differ by more than twice the counts' error or the last digit"
)
FALL_OF_POTENTIAL = (
    "pass when the readings at 52, 62 and 72 % each lie within the tolerance of their mean"
)
SLOPE_METHOD = (
    "the readings at 20, 40 and 60 % are R + K g(p), g(p) = 1/(1 - p) - 1/(p + X) - 1/(1 + X); X "
    "from (R60 - R40)/(R40 - R20), which must lie within min_slope and max_slope, else marginal; R "
    "is judged as a limit, the meter's gain error the same for all three, the counts' of each by "
    "its own effect on R"
)
CLAMP = (
    "an upper bound: pass by the limit's rule, marginal where that rule does not pass, and below "
    "suspect_loop_ohm"
)
RODS_MORE = (
    "R1 = R N/factor of N equal rods one rod length apart, straight lines between rod_factors; the "
    "fewest rods for which R1/N x factor keeps the limit"
)
NEAR_A_LIMIT = (
    "marginal: readings nearer to it than the meter's accuracy allows to decide (probabilities in "
    "[constants])"
)
LIMIT = (
    "p is the probability that the true value keeps the limit, given the reading and the meter's "
    "two errors: pass from pass_probability on, fail up to fail_probability, marginal between"
)


def constants_table(sheet: Sheet) -> dict[str, Any]:
    """Copper, gauges, joints, errors of lengths, sources and coils, and how verdicts are made."""
    return {
        "formula_set": FORMULA_SET,
        "copper_ohm_m": conductors.COPPER_OHM_M,
        "copper_per_k": conductors.COPPER_PER_K,
        "stranded_over_solid": conductors.LAY_FACTOR,
        "gauge_tolerance": conductors.AWG_TOLERANCE,
        "metric_low": conductors.METRIC_LOW,
        "joint_ohm": segments.JOINT_OHM,
        "max_joint_ohm": segments.MAX_JOINT_OHM,
        "length_error": dict(LENGTH_ERROR),
        "source_voltage_error": E_ERROR,
        "coils_together_error": _half_width(sheet, "coil"),
        "coil_alone_error": _half_width(sheet, "own"),
        "silent_coil_resistance": solenoids.UNKNOWN_R_FRACTION,  # over its impedance in inrush
        "silent_coil_resistance_error": solenoids.UNKNOWN_R_ERROR,
        "measured_soil_error_k": MEASURED_SOIL_K,
        "earth_formula_error": FORMULA_ERROR,
        "rod_table_error": TABLE_ERROR,
        "rod_factors": {str(rods): factor for rods, factor in earth.ROD_FACTORS},
        "min_probe_distance_ratio": earth.MIN_DISTANCE_RATIO,
        "errors": (
            "rectangular half-widths, fractions where no unit is said; "
            "one error for each cause, shared by all"
        ),
        "verdicts": {
            "coverage_factor": COVERAGE_FACTOR,
            "pass_probability": conformance.PASS_PROBABILITY,
            "fail_probability": conformance.FAIL_PROBABILITY,
            "meter": METER,
            "min_meter_c": instruments.MIN_SPECIFIED_C,
            "max_meter_c": instruments.MAX_SPECIFIED_C,
            "interval": INTERVAL,
            "limit": LIMIT,
            "reversed": REVERSED,
            "fall_of_potential": FALL_OF_POTENTIAL,
            "fall_of_potential_tolerance": earth.FALL_TOLERANCE,
            "slope_method": SLOPE_METHOD,
            "min_slope": earth.MIN_SLOPE,
            "max_slope": earth.MAX_SLOPE,
            "clamp": CLAMP,
            "suspect_loop_ohm": earth.SUSPECT_LOOP_OHM,
            "rods_more": RODS_MORE,
        },
    }


def _half_width(sheet: Sheet, cause: str) -> float:
    """The half-width that the model takes for every cause of one sort."""
    return max(
        found.half_width
        for output in sheet.site.output
        for found in on_test_day(sheet.drawing, output.id, None).causes
        if found.key.startswith(f"{cause}/")
    )
