"""The closed formulas on quantities with units and on uncertain numbers, and their bounds."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import replace
from typing import Any

import pint
import pytest
from hypothesis import given
from hypothesis import strategies as st
from uncertainties import ufloat  # type: ignore[import-untyped]

from commission.electrical import (
    conductors,
    distributions,
    earth,
    fault_distance,
    instruments,
    segments,
    solenoids,
    sources,
)
from commission.electrical.network import Coil, Network, network, solve
from commission.electrical.segments import Segment, segment_r_ohm
from commission.electrical.solenoids import Solenoid, coil_r_ohm, coil_z_ohm

UREG: Any = pint.UnitRegistry()
M, OHM, V, A, HZ = UREG.metre, UREG.ohm, UREG.volt, UREG.ampere, UREG.hertz
K, S, W = UREG.kelvin, UREG.siemens, UREG.watt

FORMULAS: list[tuple[Callable[..., Any], tuple[Any, ...], str]] = [
    (conductors.area_m2, (0.0016 * M,), "m**2"),
    (conductors.wire_r_ohm_per_m, (2e-6 * M**2, 1.7e-8 * OHM * M), "ohm/m"),
    (conductors.at_temperature, (0.008 * OHM / M, 27.0), "ohm/m"),
    (conductors.to_20_c, (5.0 * OHM, 27.0), "ohm"),
    (conductors.at_temperature, (0.008 * OHM / M, 300.15 * K, 0.00393 / K, 293.15 * K), "ohm/m"),
    (conductors.to_20_c, (5.0 * OHM, 300.15 * K, 0.00393 / K, 293.15 * K), "ohm"),
    (conductors.at_frequency, (0.0002 * OHM / M, 50.0 * HZ, 60.0 * HZ), "ohm/m"),
    (distributions.rectangular_u, (0.3 * OHM,), "ohm"),
    (segments.loop_r_ohm, (100.0 * M, 0.008 * OHM / M, 0.007 * OHM / M, 0.005 * OHM), "ohm"),
    (segments.loop_x_ohm, (100.0 * M, 0.0002 * OHM / M, 0.0002 * OHM / M), "ohm"),
    (segments.chart_length_m, (26.0 * V, 20.0 * V, 2, 0.4 * A, 0.008 * OHM / M), "m"),
    (solenoids.impedance_ohm, (24.0 * V, 0.4 * A), "ohm"),
    (solenoids.reactance_ohm, (60.0 * OHM, 30.0 * OHM, 50.0 * HZ, 60.0 * HZ), "ohm"),
    (earth.rod_ohm, (100.0 * OHM * M, 3.0 * M, 0.008 * M), "ohm"),
    (earth.two_rods_ohm, (100.0 * OHM * M, 3.0 * M, 0.008 * M, 3.0 * M), "ohm"),
    (earth.rods_ohm, (30.0 * OHM, 3), "ohm"),
    (earth.wire_ohm, (100.0 * OHM * M, 10.0 * M, 0.004 * M, 0.6 * M), "ohm"),
    (earth.strip_ohm, (100.0 * OHM * M, 10.0 * M, 0.025 * M, 0.003 * M, 0.6 * M), "ohm"),
    (earth.plate_ohm, (100.0 * OHM * M, 0.36 * M**2, 1.5 * M), "ohm"),
    (earth.soil_ohm_m, (3.0 * M, 5.0 * OHM), "ohm*m"),
    (fault_distance.murray_ohm, (5.0 * OHM, 3.0, 1.0), "ohm"),
    (fault_distance.varley_ohm, (5.0 * OHM, 1.0, 1.0, 2.0 * OHM), "ohm"),
]


def plain(value: Any) -> Any:
    """A quantity without its unit, in SI."""
    return value.to_base_units().magnitude if hasattr(value, "to_base_units") else value


@pytest.mark.parametrize(("formula", "arguments", "unit"), FORMULAS)
def test_dimensions(formula: Callable[..., Any], arguments: tuple[Any, ...], unit: str) -> None:
    """Quantities in, the right dimension out, and the same number as with floats."""
    found = formula(*arguments)
    assert found.check(UREG.parse_units(unit))
    assert plain(found) == pytest.approx(formula(*(plain(value) for value in arguments)))


@pytest.mark.parametrize(("formula", "arguments", "unit"), FORMULAS)
def test_a_wrong_dimension_is_refused(
    formula: Callable[..., Any], arguments: tuple[Any, ...], unit: str
) -> None:
    """The first argument times a second: nothing of the promised dimension may come out."""
    wrong = (arguments[0] * UREG.second, *arguments[1:])
    try:
        found = formula(*wrong)
    except pint.DimensionalityError:
        return
    assert not found.check(UREG.parse_units(unit))


@pytest.mark.parametrize(("formula", "arguments", "unit"), FORMULAS)
def test_uncertain_numbers(
    formula: Callable[..., Any], arguments: tuple[Any, ...], unit: str
) -> None:
    """Each argument 1 % uncertain in turn: the result's uncertainty is its slope times that."""
    values = [plain(value) for value in arguments]
    for i, value in enumerate(values):
        if not isinstance(value, float):
            continue
        step = abs(value) * 1e-6
        moved = [formula(*[*values[:i], value + sign * step, *values[i + 1 :]]) for sign in (1, -1)]
        slope = (moved[0] - moved[1]) / (2 * step)
        uncertain = formula(*[*values[:i], ufloat(value, 0.01 * abs(value)), *values[i + 1 :]])
        assert uncertain.nominal_value == pytest.approx(formula(*values))
        assert uncertain.std_dev == pytest.approx(abs(slope) * 0.01 * abs(value), rel=1e-4)


def same(found: Any, known: Any, unit: str) -> bool:
    """Whether a quantity has a dimension, and in SI the number that floats give."""
    return bool(found.check(UREG.parse_units(unit))) and plain(found) == pytest.approx(known)


def test_dimensions_of_a_reactance_that_scales_with_frequency() -> None:
    """The table's number for 12 AWG, given its unit: per metre and hertz times hertz is per metre.

    The table itself is plain numbers: 0.054 Ω/1000 ft at 60 Hz (NEC chapter 9 table 9).
    """
    known = conductors.reactance_ohm_per_m(conductors.awg_area_m2(12), 50.0)
    table = 0.054 * OHM / (1000 * UREG.foot)
    assert same(conductors.at_frequency(table, 50.0 * HZ, 60.0 * HZ), known, "ohm/m")
    wire = conductors.awg(12, stranded=False)
    wire = replace(wire, x_ohm_per_m_per_hz=wire.x_ohm_per_m_per_hz * OHM / M / HZ)
    assert same(wire.x_ohm_per_m(50.0 * HZ), known, "ohm/m")


@pytest.mark.parametrize("state", ["inrush", "holding"])
@pytest.mark.parametrize("r_ohm", [None, 25.0])
def test_dimensions_of_a_coil(state: solenoids.State, r_ohm: float | None) -> None:
    known = coil_z_ohm(Solenoid(24.0, 0.4, 0.2, 60.0, r_ohm), state, 50.0)
    given_r: Any = None if r_ohm is None else r_ohm * OHM
    coil = Solenoid(24.0 * V, 0.4 * A, 0.2 * A, 60.0 * HZ, given_r)
    assert same(coil_z_ohm(coil, state, 50.0 * HZ), known, "ohm")
    with pytest.raises(pint.DimensionalityError):
        coil_z_ohm(replace(coil, rated_hz=60.0 * OHM, r_ohm=25.0 * A), state, 50.0 * HZ)


def two_boxes(*units: Any) -> tuple[Network, list[Coil]]:
    """Two boxes in a row with standby of every kind and a coil, in units or in none."""
    volt, ohm, ampere, siemens, watt = units
    net = network(
        26.0 * volt, [-1, 0, 1], [(1 + 0.2j) * ohm, (2 + 0.1j) * ohm, (3 + 0.1j) * ohm],
        standby_a=[0.0 * ampere, 0.002 * ampere, 0.003 * ampere],
        standby_s=[0.0 * siemens, 1e-4 * siemens, 2e-4 * siemens],
        standby_w=[0.0 * watt, 0.1 * watt, 0.05 * watt],
    )  # fmt: skip
    return net, [Coil(2, (30 + 50j) * ohm, 0.5 * ohm, 0.7 * volt)]


def test_dimensions_of_a_network() -> None:
    """Volts, ohms, amperes, siemens and watts go in; volts and amperes come out, the same ones."""
    known, found = solve(*two_boxes(1, 1, 1, 1, 1)), solve(*two_boxes(V, OHM, A, S, W))
    for values, numbers, unit in (
        (found.node_v, known.node_v, "volt"),
        (found.branch_a, known.branch_a, "ampere"),
        (found.coil_v, known.coil_v, "volt"),
        (found.coil_a, known.coil_a, "ampere"),
    ):
        assert all(same(*pair, unit) for pair in zip(values, numbers, strict=True))
    with pytest.raises(pint.DimensionalityError):
        solve(*two_boxes(V, OHM, A, OHM, W))


def test_dimensions_of_earth_measurements() -> None:
    """Readings in ohm; one in volts among them is refused."""
    readings, three = (55.0, 58.0, 59.0), (10.0, 12.0, 13.2)
    known = earth.fall_of_potential(readings)
    found = earth.fall_of_potential([one * OHM for one in readings])
    assert same(found.resistance_ohm, known.resistance_ohm, "ohm")
    assert same(found.max_deviation_fraction, known.max_deviation_fraction, "dimensionless")
    assert found.consistent == known.consistent
    slope, slopes = earth.slope_method(*three), earth.slope_method(*(one * OHM for one in three))
    assert same(slopes.resistance_ohm, slope.resistance_ohm, "ohm")
    assert same(slopes.slope, slope.slope, "dimensionless")
    assert slopes.probe_fraction == pytest.approx(slope.probe_fraction)
    with pytest.raises(pint.DimensionalityError):
        earth.slope_method(10.0 * OHM, 12.0 * V, 13.2 * OHM)


def test_dimensions_of_a_meter() -> None:
    """±(1 % + 2 counts of 0.01 V) at 24 V, in V; a resolution in ohm does not add to volts."""
    meter = instruments.Accuracy(1.0, 2.0, 0.01)
    volts = replace(meter, resolution=0.01 * V)
    found, known = (
        instruments.reading_error(volts, 24.0 * V),
        instruments.reading_error(meter, 24.0),
    )
    assert same(found.half_width, known.half_width, "volt")
    assert same(found.standard_uncertainty, known.standard_uncertainty, "volt")
    with pytest.raises(pint.DimensionalityError):
        instruments.half_width(replace(meter, resolution=0.01 * OHM), 24.0 * V)


@given(st.lists(st.floats(1, 500), min_size=1, max_size=8), st.floats(-10, 45))
def test_doubling_all_lengths_doubles_the_loop(lengths: list[float], temperature_c: float) -> None:
    """With joints at zero a loop is proportional to its length."""
    wire, other = conductors.awg(14, stranded=True), conductors.metric(2.5)
    once = [Segment(length, wire, other, 0.0) for length in lengths]
    twice = [Segment(2 * length, wire, other, 0.0) for length in lengths]
    one, two = (sum(segment_r_ohm(s, temperature_c) for s in row) for row in (once, twice))
    assert two == pytest.approx(2 * one)


def test_joints_count_twice_and_do_not_warm() -> None:
    """No length, no copper: 2·Rj at any temperature."""
    wire = conductors.awg(14, stranded=False)
    assert segment_r_ohm(Segment(0.0, wire, wire, 0.007), 60.0) == pytest.approx(0.014)


def test_a_pair_of_different_conductors_adds_both() -> None:
    """L·(r₁ + r₂): 100 m of 14 AWG with 12 AWG, NBS Handbook 100: 0.82855 + 0.52108 Ω."""
    pair = Segment(
        100.0, conductors.awg(14, stranded=False), conductors.awg(12, stranded=False), 0.0
    )
    assert segment_r_ohm(pair, 20.0) == pytest.approx(0.82855 + 0.52108, abs=2e-5)


def test_reactance_follows_frequency_and_stays_small_wires_value() -> None:
    """NEC chapter 9 table 9 at 60 Hz; 18 AWG takes 14 AWG's value (judgement)."""
    wire = conductors.awg(14, stranded=False)
    thin = conductors.awg(18, stranded=False)
    assert wire.x_ohm_per_m(50.0) == pytest.approx(0.058 / 304.8 * 50 / 60)
    assert thin.x_ohm_per_m(60.0) == wire.x_ohm_per_m(60.0)
    x_ohm_per_m = wire.x_ohm_per_m(60.0)
    assert segments.loop_x_ohm(304.8, x_ohm_per_m, x_ohm_per_m) == pytest.approx(2 * 0.058)


def test_nominal_limit_and_interval_are_kept_apart() -> None:
    """Metric: 95 to 100 % of the IEC 60228 limit (judgement); gauge: ±2 % (ASTM B258)."""
    metric, gauge = conductors.metric(1.5), conductors.awg(12, stranded=True)
    assert metric.sizing_r20_ohm_per_m == metric.high_r20_ohm_per_m == pytest.approx(0.0121)
    assert metric.r20_ohm_per_m == pytest.approx(0.975 * 0.0121)
    assert metric.low_r20_ohm_per_m == pytest.approx(0.95 * 0.0121)
    assert gauge.sizing_r20_ohm_per_m == gauge.r20_ohm_per_m
    assert gauge.high_r20_ohm_per_m / gauge.low_r20_ohm_per_m == pytest.approx(1.02 / 0.98)


def test_a_data_sheet_overrides_everything() -> None:
    sheet = conductors.data_sheet(0.01, 0.03, 4e-6)
    assert (sheet.low_r20_ohm_per_m, sheet.high_r20_ohm_per_m) == pytest.approx((0.0097, 0.0103))
    assert sheet.x_ohm_per_m(50.0) == pytest.approx(2e-4)
    assert sheet.basis == "data sheet"


@pytest.mark.parametrize(("text", "number"), [("14", 14), ("1/0", 0), ("4/0", -3), (" 6 ", 6)])
def test_gauge_numbers(text: str, number: int) -> None:
    assert conductors.awg_number(text) == number


@pytest.mark.parametrize("text", ["", "41", "-4", "5/0", "14.5", "two"])
def test_no_gauge(text: str) -> None:
    with pytest.raises(ValueError, match="not a wire gauge"):
        conductors.awg_number(text)


def test_a_metric_size_out_of_the_table_is_refused() -> None:
    with pytest.raises(ValueError, match="not a standard size"):
        conductors.metric(2.0)


def test_a_solenoid_has_one_coil_resistance() -> None:
    """|Z| = V/I: 24 V at 0.4 and 0.2 A are 60 and 120 Ω; R is half of 60 (judgement)."""
    coil = Solenoid(24.0, 0.4, 0.2, 60.0)
    assert coil_r_ohm(coil) == 30.0
    for state, magnitude in (("inrush", 60.0), ("holding", 120.0)):
        z_ohm = coil_z_ohm(coil, state, 60.0)  # type: ignore[arg-type]
        assert abs(z_ohm) == pytest.approx(magnitude)
        assert z_ohm.real == 30.0
    at_50_hz = coil_z_ohm(coil, "inrush", 50.0)
    assert at_50_hz.imag == pytest.approx(math.sqrt(60**2 - 30**2) * 50 / 60)


def test_a_coil_resistance_above_its_impedance_is_refused() -> None:
    with pytest.raises(ValueError, match="cannot draw"):
        coil_z_ohm(Solenoid(24.0, 0.4, 0.2, 60.0, r_ohm=61.0), "inrush", 60.0)


def test_every_source_has_a_text() -> None:
    assert all(len(text) > 20 for text in map(sources.citation, sources.SOURCES))
    for make in (conductors.awg(14, stranded=True), conductors.metric(4.0)):
        assert make.source in sources.SOURCES
