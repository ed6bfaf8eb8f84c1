"""Loop resistance against handbook values, and its uncertainty against two general libraries."""

from __future__ import annotations

import tomllib
from collections.abc import Iterator
from dataclasses import replace
from math import sqrt
from typing import Any

import GTC  # type: ignore[import-untyped]
import pytest
import uncertainties  # type: ignore[import-untyped]

from commission.checklist.targets import Target
from commission.electrical.conductors import at_temperature, awg, metric
from commission.expected.inputs import conductor
from commission.expected.loops import loop_expectation
from commission.expected.sheet import Sheet
from commission.expected.values import Expectation
from commission.resources import samples
from commission.shapes import validate
from commission.site.load import parse_site
from commission.site.schema import CableKind, Site

# NBS Handbook 100, standard annealed copper, solid, ohm per 1000 ft at 20 °C (a copy seen).
NBS_OHM_PER_1000FT = {
    "18": 6.385, "16": 4.016, "14": 2.525, "12": 1.588, "10": 0.9989, "8": 0.6282, "6": 0.3951,
}  # fmt: skip
# NFPA 70 (NEC) chapter 9 table 8, uncoated copper, ohm per 1000 ft at 75 °C (seen):
# solid, stranded.
NEC_75C_OHM_PER_1000FT = {
    "18": (7.77, 7.95), "16": (4.89, 4.99), "14": (3.07, 3.14), "12": (1.93, 1.98),
    "10": (1.21, 1.24), "8": (0.764, 0.778),
}  # fmt: skip
# IEC 60228 table: class 1 and 2, plain copper, maximum ohm/km at 20 °C (seen).
IEC_MAX_OHM_PER_KM = {0.5: 36.0, 0.75: 24.5, 1.0: 18.1, 1.5: 12.1, 2.5: 7.41, 4.0: 4.61, 6.0: 3.08}
# IEC 60228 annex B, printed factors that bring a measured resistance to 20 °C (seen). The table is
# the rounded form 1/(1 + 0.004 (t - 20)), so it agrees with copper's 0.00393 to 0.003 only.
IEC_KT = {5: 1.064, 10: 1.042, 15: 1.020, 25: 0.980, 30: 0.962, 40: 0.926, 50: 0.893}

SITE = """
kind = "commission site"
format = 1
[site]
name = "Invented test site"
invented = true
units = "US"
frequency = "60 Hz"
[controller]
description = "invented controller"
[supply]
nominal_voltage = "120 V"
[[output]]
id = "1"
open_circuit_voltage = "28 V"
source_resistance = "0.5 ohm"
rated_current = "2 A"
[earth]
[solenoid_kind.valve]
inrush_current = "0.37 A"
holding_current = "0.19 A"
[decoder_kind.single]
standby_current = "4 mA"
[cable_kind.c18]
conductor = "18 AWG"
[cable_kind.c14]
conductor = "14 AWG"
[cable_kind.c12]
conductor = "12 AWG"
[cable_kind.m25]
conductor = "2.5 mm²"
[[path]]
id = "A"
output = "1"
cable = "c14"
length_by = "tape"
segment = [SEGMENTS]
[[station]]
id = "S1"
number = 1
address = 1
path = "A"
box = "B1"
decoder = "single"
solenoid = [{ id = "S1a", kind = "valve" }]
"""


def sheet_of(*segments: str) -> Sheet:
    """A one-path site with these segments."""
    text = SITE.replace("SEGMENTS", ", ".join(f"{{ {segment} }}" for segment in segments))
    return Sheet(validate(Site, tomllib.loads(text)))


def by_hand(*parts: tuple[float, str, str], temperature_c: float = 15.0) -> float:
    """Thousands of feet times handbook ohms, brought from 20 °C by IEC 60228's exact kt.

    kt = 254.5/(234.5 + t) (annex B). One joint of 5 milliohm (judgement) on each conductor of
    each piece.
    """
    kt = 254.5 / (234.5 + temperature_c)
    copper = sum(
        feet / 1000 * (NBS_OHM_PER_1000FT[first] + NBS_OHM_PER_1000FT[second])
        for feet, first, second in parts
    )
    return copper / kt + len(parts) * 2 * 0.005


@pytest.mark.parametrize(("size", "tabulated"), NBS_OHM_PER_1000FT.items())
def test_solid_gauges_agree_with_the_copper_wire_tables_at_20_c(
    size: str, tabulated: float
) -> None:
    """Within 0.1 %: the tables' copper, 1.7241 microhm cm, is IEC 60028's 1/58 rounded."""
    assert awg(size, stranded=False).r20_ohm_per_m * 304.8 == pytest.approx(tabulated, rel=1e-3)


@pytest.mark.parametrize(("size", "tabulated"), NEC_75C_OHM_PER_1000FT.items())
def test_gauges_agree_with_the_electrical_code_at_75_c(
    size: str, tabulated: tuple[float, float]
) -> None:
    """Solid to the last printed digit; stranded within 0.7 %, as its lay is 1.8 to 2.5 % there."""
    solid = at_temperature(awg(size, stranded=False).r20_ohm_per_m * 304.8, 75.0)
    stranded = at_temperature(awg(size, stranded=True).r20_ohm_per_m * 304.8, 75.0)
    last_digit = 0.001 if tabulated[0] < 1 else 0.01
    assert abs(solid - tabulated[0]) <= last_digit / 2 + 1e-3 * tabulated[0]
    assert stranded == pytest.approx(tabulated[1], rel=0.007)


@pytest.mark.parametrize(("size", "limit"), IEC_MAX_OHM_PER_KM.items())
def test_metric_sizes_keep_limit_and_estimate_apart(size: float, limit: float) -> None:
    conductor = metric(size)
    assert conductor.sizing_r20_ohm_per_m * 1000 == pytest.approx(limit, rel=1e-12)
    assert conductor.high_r20_ohm_per_m * 1000 == pytest.approx(limit, rel=1e-12)
    assert conductor.r20_ohm_per_m < conductor.high_r20_ohm_per_m


@pytest.mark.parametrize(("temperature_c", "kt"), IEC_KT.items())
def test_temperature_agrees_with_the_printed_factors(temperature_c: float, kt: float) -> None:
    assert 1 / at_temperature(1.0, temperature_c) == pytest.approx(kt, abs=0.003)


def test_one_piece_of_14_gauge() -> None:
    sheet = sheet_of('from = "output", to = "B1", length = "1000 ft"')
    expected = loop_expectation(sheet.drawing, "A", "B1")
    hand = by_hand((1000, "14", "14"))
    assert expected.value == pytest.approx(hand, rel=2e-3)
    assert expected.low is not None
    assert expected.high is not None
    assert expected.low < hand < expected.high


def test_mixed_cable_along_one_path() -> None:
    sheet = sheet_of(
        'from = "output", to = "B1", length = "850 ft", cable = "c12"',
        'from = "B1", to = "B2", length = "320 ft"',
        'from = "B2", to = "B3", length = "95 ft", cable = "c18"',
    )
    hand = by_hand((850, "12", "12"), (320, "14", "14"), (95, "18", "18"))
    assert loop_expectation(sheet.drawing, "A", "B3").value == pytest.approx(hand, rel=2e-3)
    to_the_second = by_hand((850, "12", "12"), (320, "14", "14"))
    assert loop_expectation(sheet.drawing, "A", "B2").value == pytest.approx(
        to_the_second, rel=2e-3
    )


def test_unequal_pair_is_the_sum_of_both_conductors() -> None:
    sheet = sheet_of('from = "output", to = "B1", length = "600 ft", cable = ["c14", "c18"]')
    hand = by_hand((600, "14", "18"))
    assert loop_expectation(sheet.drawing, "A", "B1").value == pytest.approx(hand, rel=2e-3)


def test_metric_cable_lies_between_95_and_100_per_cent_of_its_limit() -> None:
    """IEC 60228: 7.41 ohm/km at most at 20 °C for 2.5 mm²; kt of annex B brings it to 15 °C."""
    sheet = sheet_of('from = "output", to = "B1", length = "400 m", cable = "m25"')
    limit = 2 * 0.4 * 7.41 / (254.5 / (234.5 + 15.0))
    value = loop_expectation(sheet.drawing, "A", "B1").value - 2 * 0.005
    assert 0.95 * limit * 0.999 < value < limit


def test_a_branch_does_not_count_for_another_end() -> None:
    sheet = sheet_of(
        'from = "output", to = "B1", length = "500 ft"',
        'from = "B1", to = "B2", length = "300 ft"',
        'from = "B1", to = "B3", length = "700 ft"',
    )
    assert loop_expectation(sheet.drawing, "A", "B2").value == pytest.approx(
        by_hand((500, "14", "14"), (300, "14", "14")), rel=2e-3
    )


BUDGET_SEGMENTS = (
    'from = "output", to = "B1", length = "850 ft", cable = "c12"',
    'from = "B1", to = "B2", length = "320 ft", length_by = "estimate"',
    'from = "B2", to = "B3", length = "400 ft", cable = ["c14", "c18"]',
)
# The same by hand: length m, relative half-width and name of its method, cable of each conductor.
BUDGET_PARTS = (
    (850 * 0.3048, "tape", ("12", "12")),
    (320 * 0.3048, "estimate", ("14", "14")),
    (400 * 0.3048, "tape", ("14", "18")),
)
HALF_WIDTHS = {"tape": 0.01, "estimate": 0.15}  # judgement
COPPER_PER_K = 0.00393  # IEC 60028


def rectangular(half_width: float) -> float:
    """JCGM 100, 4.3.7."""
    return half_width / sqrt(3)


def test_budget_agrees_with_the_uncertainties_package() -> None:
    """One variable per cause: shared by all lengths of a method, all metres of a kind, all soil."""
    variable = uncertainties.ufloat
    method = {name: variable(1.0, rectangular(a)) for name, a in HALF_WIDTHS.items()}
    kind = {name: variable(1.0, rectangular(0.02)) for name in ("12", "14", "18")}
    soil_c = variable(15.0, rectangular(8.0))
    total: Any = 0.0
    for length_m, by, pair in BUDGET_PARTS:
        first, second = (awg(size, stranded=False).r20_ohm_per_m * kind[size] for size in pair)
        r20 = first + second
        warm = 1 + COPPER_PER_K * (soil_c + variable(0.0, rectangular(2.0)) - 20)
        total += length_m * method[by] * r20 * warm
        total += variable(0.005, rectangular(0.005)) + variable(0.005, rectangular(0.005))
    expected = loop_expectation(sheet_of(*BUDGET_SEGMENTS).drawing, "A", "B3")
    assert expected.value == pytest.approx(total.nominal_value, rel=1e-12)
    assert expected.u == pytest.approx(total.std_dev, rel=1e-9)


def test_budget_agrees_with_gtc() -> None:
    def variable(value: float, half_width: float) -> Any:
        return GTC.ureal(value, GTC.tb.uniform(half_width))

    method = {name: variable(1.0, a) for name, a in HALF_WIDTHS.items()}
    kind = {name: variable(1.0, 0.02) for name in ("12", "14", "18")}
    soil_c = variable(15.0, 8.0)
    total: Any = 0.0
    for length_m, by, pair in BUDGET_PARTS:
        first, second = (awg(size, stranded=False).r20_ohm_per_m * kind[size] for size in pair)
        r20 = first + second
        warm = 1 + COPPER_PER_K * (soil_c + variable(0.0, 2.0) - 20)
        total = total + length_m * method[by] * r20 * warm
        total = total + variable(0.005, 0.005) + variable(0.005, 0.005)
    expected = loop_expectation(sheet_of(*BUDGET_SEGMENTS).drawing, "A", "B3")
    assert expected.value == pytest.approx(GTC.value(total), rel=1e-12)
    assert expected.u == pytest.approx(GTC.uncertainty(total), rel=1e-9)


def test_budget_adds_up_and_names_each_cause_once() -> None:
    expected = loop_expectation(sheet_of(*BUDGET_SEGMENTS).drawing, "A", "B3")
    causes = [contribution.cause for contribution in expected.budget]
    assert len(causes) == len(set(causes))
    assert expected.u**2 == pytest.approx(sum(c.u**2 for c in expected.budget), rel=1e-12)
    assert expected.low is not None
    assert expected.high is not None
    assert expected.high - expected.value == pytest.approx(2 * expected.u, rel=1e-12)


# The small sample, read with tomllib alone and worked out with handbook values


def feet(text: str) -> float:
    """A length of the sample in feet; one metre is 1/0.3048 ft exactly."""
    number, unit = text.split()
    return float(number) * {"ft": 1.0, "m": 1 / 0.3048}[unit]


def celsius(text: str) -> float:
    number, unit = text.split()
    return float(number) if unit == "°C" else (float(number) - 32) / 1.8


def handbook_ohm_per_1000ft(kind: dict[str, Any]) -> float:
    """NBS Handbook 100 for a solid gauge, 2 % more for strands (ASTM B8)."""
    size = kind["conductor"].removesuffix(" AWG")
    return NBS_OHM_PER_1000FT[size] * (1.02 if kind.get("stranded") else 1.0)


def handbook_loops(site: dict[str, Any]) -> Iterator[tuple[str, str, float]]:
    """Path, end and loop resistance of every end, segment by segment from the terminals."""
    kt = 254.5 / (234.5 + celsius(site.get("soil", {}).get("test_day", "15 °C")))
    for path in site["path"]:
        ohm = {"output": 0.0}
        for segment in path["segment"]:
            pair = segment.get("cable", path["cable"])
            names = [pair, pair] if isinstance(pair, str) else pair
            per_1000ft = sum(handbook_ohm_per_1000ft(site["cable_kind"][name]) for name in names)
            copper = feet(segment["length"]) / 1000 * per_1000ft / kt
            ohm[segment["to"]] = ohm[segment["from"]] + copper + 2 * 0.005
        feeding = {segment["from"] for segment in path["segment"]}
        for box in ohm.keys() - feeding:
            yield path["id"], box, ohm[box]


def test_the_small_sample_agrees_with_a_hand_calculation() -> None:
    content = samples()["small-garden"].read_bytes()
    drawing = Sheet(parse_site(content, "small-garden.toml")).drawing
    by_handbook = list(handbook_loops(tomllib.loads(content.decode("utf-8"))))
    assert by_handbook
    assert {(path, box) for path, box, _ohm in by_handbook} == {
        (path, box) for path, tree in drawing.trees.items() for box in tree.ends()
    }
    for path, box, ohm in by_handbook:
        expected = loop_expectation(drawing, path, box)
        assert expected.value == pytest.approx(ohm, rel=2e-3)
        assert expected.low is not None
        assert expected.high is not None
        assert expected.low < ohm < expected.high


@pytest.mark.parametrize("size", ["14 AWG", "2.5 mm²"])
def test_a_data_sheet_reactance_counts_without_a_data_sheet_resistance(size: str) -> None:
    # 0.5 ohm/km at 50 Hz is 1e-5 ohm/m per hertz, by hand.
    table = {"conductor": size, "reactance": "0.5 ohm/km"}
    found = conductor(validate(CableKind, table), 50.0)
    assert found.x_ohm_per_m(50.0) == pytest.approx(0.5e-3)
    plain = conductor(validate(CableKind, {"conductor": size}), 50.0)
    assert found.r20_ohm_per_m == plain.r20_ohm_per_m


def expected_loop(sheet: Sheet, box: str) -> Expectation:
    """What a bridged loop of path A should show."""
    return loop_expectation(sheet.drawing, "A", box)


def conducting(sheet: Sheet, ohm: float) -> Sheet:
    """The same site with decoders of a stated d.c. resistance."""
    kinds = {name: replace(k, dc_resistance_ohm=ohm) for name, k in sheet.site.decoder_kind.items()}
    return Sheet(replace(sheet.site, decoder_kind=kinds))


def test_a_decoder_that_conducts_lies_in_parallel_with_what_is_beyond_it() -> None:
    """Series and parallel by hand, on the loops of the same site with decoders that block."""
    plain = sheet_of(
        'from = "output", to = "B1", length = "1000 ft"',
        'from = "B1", to = "B2", length = "2000 ft"',
    )
    near, far = (expected_loop(plain, box) for box in ("B1", "B2"))
    found = conducting(plain, 500.0)
    beyond = far.value - near.value
    assert expected_loop(found, "B2").value == pytest.approx(
        near.value + beyond * 500 / (beyond + 500), rel=1e-12
    )
    assert expected_loop(found, "B1").value == pytest.approx(near.value, rel=1e-12)  # bridged there
    words = [part.cause for part in expected_loop(found, "B2").budget]
    assert any("d.c. resistance of single, ±20 %" in one for one in words)
    assert any("500 ohm" in one.value for one in expected_loop(found, "B2").inputs)
    assert not any("d.c." in part.cause for part in far.budget)


def test_the_unbridged_limit_is_what_conducting_decoders_let_it_be() -> None:
    """One decoder of 500 ohm, 20 % low: 400 ohm and the copper before it. Blocking: 1 kohm."""
    plain = sheet_of('from = "output", to = "B1", length = "1000 ft"')
    place = Target("path", output="1", path="A")
    limit = plain.expectation("unbridged-resistance", place)
    assert limit is not None
    assert limit.value == 1000.0
    found = conducting(plain, 500.0).expectation("unbridged-resistance", place)
    assert found is not None
    assert found.value == pytest.approx(400.0 + expected_loop(plain, "B1").value, rel=1e-12)
    assert "decoders across the pair, 20 % low" in [one.name for one in found.inputs]
