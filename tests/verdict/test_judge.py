"""Verdicts of single readings, against published worked examples and sums done by hand."""

from __future__ import annotations

from dataclasses import replace

import pytest

from commission.electrical.instruments import Accuracy, ReadingError
from commission.expected.values import Expectation, Sides
from commission.units import Quantity, parse_reading
from commission.verdict.judge import (
    FAIL,
    MARGINAL,
    PASS,
    RECORDED,
    acceptance,
    asks_back,
    impossible,
    judge,
    judge_reversed,
    marked,
)


def expectation(sides: Sides, value: float, u: float = 0.0, name: str = "x") -> Expectation:
    """An expectation or limit in ohm."""
    low = value - 2 * u if sides == "interval" else value if sides == "minimum" else None
    high = value + 2 * u if sides == "interval" else value if sides == "maximum" else None
    return Expectation(
        name, "resistance", sides, value, low, high, u, "", "", (), "", (), "short", "open joint"
    )


@pytest.mark.parametrize(
    ("typed", "asks"),
    [("120", False), ("132", False), ("208", True), ("240", True), ("1200", True), ("10", True)],
)
def test_mains_far_above_nominal_are_asked_about(typed: str, asks: bool) -> None:
    """At least 108 V of 120 V, 10 % below; 132 V is 10 % above; 208 and 240 V are others."""
    mains = replace(expectation("minimum", 108.0, name="mains-voltage"), quantity="voltage")
    assert bool(asks_back(mains, parse_reading(typed, "voltage", "V"), "V")) is asks


def test_how_far_off_a_temperature_is_no_temperature() -> None:
    """From 50 to 68 °F are expected, 77 °F are read: 9 °F too warm, 5 K, and not 41 °F."""
    soil = replace(expectation("interval", 15.0, 2.5), quantity="temperature")
    found = judge(soil, parse_reading("77", "temperature", "°F"), None, "°F")
    assert found.verdict == FAIL
    assert found.finding.startswith("9.0 °F above the range")


def verdict_on(expected: Expectation | None, typed: str, accuracy: Accuracy | None = None) -> str:
    """The verdict on a typed reading in ohm."""
    return judge(expected, parse_reading(typed, "resistance", "ohm"), accuracy, "ohm").verdict


@pytest.mark.parametrize(
    ("typed", "expected"),
    [
        ("11.0", PASS),
        ("12.0", PASS),
        ("10.8", FAIL),
        ("12.2", FAIL),
        ("OL", FAIL),
        (">30", FAIL),
        ("<5", FAIL),
        (">5", MARGINAL),
        ("<30", MARGINAL),
    ],
)
def test_interval_without_meter_error(typed: str, expected: str) -> None:
    # 11.5 ± 2 x 0.3: 10.9 to 12.1, by hand (JCGM 100: U = 2u).
    assert verdict_on(expectation("interval", 11.5, 0.3), typed) == expected


def test_an_overloaded_ammeter_is_no_open_loop() -> None:
    """Over-range on a loop is an open; on a range for current it only asks for a higher one."""
    current = replace(expectation("interval", 0.5, 0.01), quantity="current")
    found = judge(current, parse_reading("OL", "current", "A"), None, "A")
    assert found.verdict == MARGINAL
    assert "bridge" not in found.finding
    assert "use a range" in found.finding


def test_as_drawn_is_within_twice_both_uncertainties_together() -> None:
    # U = 2·√(0.3² + 0.4²) = 1 by Pythagoras (JCGM 100): 10.5 to 12.5; the meter's 0.4 as counts.
    error = ReadingError(0.0, 0.4 * 3**0.5)
    assert acceptance(expectation("interval", 11.5, 0.3), error) == pytest.approx((10.5, 12.5))


def test_meter_error_widens_the_interval() -> None:
    # ±(2 % + 5 x 0.1) at 12.2: gain 0.244, counts 0.5; u² = (0.244² + 0.5²)/3 = 0.1032;
    # with u_exp 0.3, U = 2·√(0.09 + 0.1032) = 0.879: up to 12.379 (JCGM 100, 4.3.7 and 5.1.2).
    judged = judge(
        expectation("interval", 11.5, 0.3),
        parse_reading("12.2", "resistance", "ohm"),
        Accuracy(2.0, 5.0, 0.1),
        "ohm",
    )
    assert judged.verdict == PASS
    assert judged.high == pytest.approx(12.379, abs=0.001)


def test_a_pass_says_the_smallest_joint_that_would_have_shown() -> None:
    # (2 + 1.645) x 0.3 = 1.09 ohm: to leave the interval 19 times of 20 (normal, one-sided 5 %).
    judged = judge(
        expectation("interval", 11.5, 0.3, "loop-resistance"),
        parse_reading("11.6", "resistance", "ohm"),
        None,
        "ohm",
    )
    assert "1.1 ohm or more would have shown" in judged.finding


def test_words_say_which_way_and_why() -> None:
    too_high = judge(expectation("interval", 11.5, 0.3), parse_reading("14.1", "resistance", "ohm"),
                     None, "ohm")  # fmt: skip
    assert too_high.finding == "2.0 ohm above the range: open joint"
    too_low = judge(expectation("interval", 11.5, 0.3), parse_reading("5.9", "resistance", "ohm"),
                    None, "ohm")  # fmt: skip
    assert too_low.finding == "5.0 ohm below the range: short"


@pytest.mark.parametrize(
    ("sides", "typed", "expected"),
    [
        ("maximum", "9.2", PASS),
        ("maximum", "10.8", FAIL),
        ("maximum", "10.0", MARGINAL),
        ("maximum", "OL", FAIL),
        ("maximum", "<2", PASS),
        ("maximum", ">2", MARGINAL),
        ("minimum", "10.8", PASS),
        ("minimum", "9.2", FAIL),
        ("minimum", "10.0", MARGINAL),
        ("minimum", "OL", PASS),
        ("minimum", ">200 M", PASS),
        ("minimum", "<5", FAIL),
        ("minimum", ">5", MARGINAL),
    ],
)
def test_limit_of_ten_ohm(sides: Sides, typed: str, expected: str) -> None:
    # ±(5 % + 2 x 0.1) near 10 ohm: between 9.3 and 10.7 a single reading cannot tell.
    assert verdict_on(expectation(sides, 10.0), typed, Accuracy(5.0, 2.0, 0.1)) == expected


def test_over_range_insulation_passes_half_a_megohm() -> None:
    # IEC 60364-6 table 6.1: SELV and PELV circuits, 250 V d.c., at least 0.5 Mohm.
    assert verdict_on(expectation("minimum", 0.5e6), ">200 Mohm") == PASS


def test_on_the_limit_the_chance_is_even() -> None:
    judged = judge(expectation("maximum", 10.0), parse_reading("10", "resistance", "ohm"),
                   Accuracy(5.0, 2.0, 0.1), "ohm")  # fmt: skip
    assert judged.probability == pytest.approx(0.5)


def test_without_an_expectation_a_reading_is_recorded() -> None:
    assert verdict_on(None, "3") == RECORDED


@pytest.mark.parametrize(
    ("sides", "typed", "asks"),
    [
        ("interval", "120", True),
        ("interval", "1.1", True),
        ("interval", "20", False),
        ("maximum", "0.5", False),
        ("maximum", "101", True),
        ("minimum", "0.9", True),
        ("minimum", "200 M", False),
        ("minimum", ">0.9", False),
        ("minimum", "OL", False),
    ],
)
def test_asks_back_beyond_tenfold(sides: Sides, typed: str, asks: bool) -> None:
    reading = parse_reading(typed, "resistance", "ohm")
    assert (
        bool(asks_back(expectation(sides, 11.5 if sides == "interval" else 10.0), reading, "ohm"))
        is asks
    )


@pytest.mark.parametrize(
    ("first", "second", "expected", "words"),
    [
        (11.4, "11.6", PASS, "mean of both 11.5 ohm"),
        (10.7, "11.5", MARGINAL, "differ by 0.80 ohm"),
        (13.0, "13.2", FAIL, "mean of both 13.1 ohm"),
        (None, "11.5", PASS, "as expected"),
    ],
)
def test_both_polarities(first: float | None, second: str, expected: str, words: str) -> None:
    # Interval 10.9 to 12.1 and ±(0 % + 2 x 0.1): two readings may differ by 0.4.
    judged = judge_reversed(
        expectation("interval", 11.5, 0.3),
        first,
        parse_reading(second, "resistance", "ohm"),
        Accuracy(0.0, 2.0, 0.1),
        "ohm",
    )
    assert judged.verdict == expected
    assert words in judged.finding


def test_what_the_leads_leave_is_in_both_polarities_and_explains_no_difference() -> None:
    """0.05 ohm left after nulling widens the range, but not what the polarities may differ by."""
    accuracy = Accuracy(0.5, 2.0, 0.01, 0.05)
    for second, verdict, words in (
        ("2.29 ohm", PASS, "mean of both"),
        ("2.30 ohm", MARGINAL, "differ by 0.050 ohm"),
        ("3.6 ohm", FAIL, "differ by 1.4 ohm"),
    ):
        reading = parse_reading(second, "resistance", "ohm")
        judged = judge_reversed(expectation("interval", 2.25, 0.1), 2.25, reading, accuracy, "ohm")
        assert (judged.verdict, words in judged.finding) == (verdict, True), judged


def test_a_meter_coarser_than_the_value_proves_nothing() -> None:
    # ±(0 % + 2 x 1 kohm) at 11.5 ohm expected: the reading 0 kohm would "agree" with anything.
    judged = judge(
        expectation("interval", 11.5, 0.3),
        parse_reading("900 ohm", "resistance", "ohm"),
        Accuracy(0.0, 2.0, 1000.0),
        "ohm",
    )
    assert judged.verdict == MARGINAL
    assert "too coarse" in judged.finding


@pytest.mark.parametrize("typed", ["-24 V", "24 V"])
def test_a_live_path_is_not_dead_whichever_way_the_leads_are(typed: str) -> None:
    limit = Expectation(
        "dead-voltage", "voltage", "maximum", 0.5, None, 0.5, 0.0, "", "", (), ""
    )  # fmt: skip
    assert judge(limit, parse_reading(typed, "voltage", "V"), None, "V").verdict == FAIL


@pytest.mark.parametrize(
    ("typed", "quantity", "unit", "word"),
    [
        ("-5", "resistance", "ohm", "null the leads"),
        ("-0.2", "current", "A", "without the sign"),
        ("OL", "temperature", "°C", "a number"),
        ("99999", "temperature", "°C", "no temperature"),
        ("-3", "temperature", "°C", ""),
        ("-24", "voltage", "V", ""),
        ("OL", "resistance", "ohm", ""),
    ],
)
def test_what_cannot_be_is_refused(typed: str, quantity: Quantity, unit: str, word: str) -> None:
    words = impossible(parse_reading(typed, quantity, unit), quantity)
    assert (word in words) if word else not words


@pytest.mark.parametrize(("max_fault", "expected"), [(0.5, MARGINAL), (2.0, PASS), (None, PASS)])
def test_a_pass_that_hides_too_much_is_not_conclusive(
    max_fault: float | None, expected: str
) -> None:
    # (2 + 1.645) x 0.3 = 1.09 ohm could hide.
    loop = replace(expectation("interval", 11.5, 0.3, "loop-resistance"), max_fault=max_fault)
    judged = judge(loop, parse_reading("11.6", "resistance", "ohm"), None, "ohm")
    assert judged.verdict == expected
    assert ("not conclusive" in judged.finding) == (expected == MARGINAL)


def test_a_verdict_in_words_has_its_mark_before_it() -> None:
    assert [marked(one) for one in (PASS, FAIL, MARGINAL, "open")] == [
        "+ pass", "x fail", "? marginal", "open",
    ]  # fmt: skip
