"""Verdicts on readings of an earth, against worked examples and the factor table."""

from __future__ import annotations

from dataclasses import replace

import pytest

from commission.electrical.instruments import Accuracy
from commission.expected.values import Expectation
from commission.units import parse_reading
from commission.verdict.earth import (
    judge_clamp,
    judge_earth,
    judge_fall_of_potential,
    judge_slope,
)
from commission.verdict.judge import FAIL, MARGINAL, PASS, RECORDED, Judgement

LIMIT = Expectation(
    "earth-resistance", "resistance", "maximum", 10.0, None, 10.0, 0.0, "", "", (), "",
    what_above="too little electrode for this soil",
)  # fmt: skip
DRAWN = replace(
    LIMIT, name="electrode-resistance", sides="interval", value=12.0, low=8.0, high=16.0, u=2.0,
    what_below="another earth is still connected",
)  # fmt: skip
METER = Accuracy(2.0, 3.0, 0.01)  # ±(2 % + 3 x 0.01 ohm)


def judged(typed: str, rods: int | None, limit: Expectation = LIMIT) -> Judgement:
    return judge_earth(limit, parse_reading(typed, "resistance", "ohm"), METER, "ohm", rods)


@pytest.mark.parametrize(
    ("typed", "rods", "verdict", "words"),
    [
        # IEEE Std 142 table 14 (seen), by hand: two rods of 14.5 ohm are 25 ohm each; four give
        # 25/4 x 1.36 = 8.5 ohm, three 10.75 ohm.
        ("14.5", 2, FAIL, "2 rods more of the same kind"),
        # One of 17 ohm: two give 17/2 x 1.16 = 9.86 ohm.
        ("17", 1, FAIL, "1 rod more of the same kind"),
        # One of 120 ohm: 24 give 120/24 x 2.16 = 10.8 ohm.
        ("120", 1, FAIL, "rods alone will not do"),
        ("10.05", 1, MARGINAL, "1 rod more of the same kind"),
        ("9.95", 1, MARGINAL, "1 rod more of the same kind"),
        ("9.95", 24, MARGINAL, "1 rod more of the same kind"),
    ],
)
def test_how_many_rods_more(typed: str, rods: int, verdict: str, words: str) -> None:
    found = judged(typed, rods)
    assert found.verdict == verdict
    assert words in found.finding
    assert "locate buried services before driving rods" in found.finding
    assert "local code decides" in found.finding


@pytest.mark.parametrize(("typed", "rods"), [("5", 1), ("14.5", None), ("OL", 2), ("0", 2)])
def test_no_rods_where_they_would_say_nothing(typed: str, rods: int | None) -> None:
    assert "rod" not in judged(typed, rods).finding.replace("electrode", "")


def test_a_pass_far_below_the_drawing_asks_for_another_earth() -> None:
    limit = replace(LIMIT, estimate=DRAWN)
    found = judged("3.0", 2, limit)
    assert found.verdict == PASS
    assert "but 8.00 ohm or more were expected: another earth" in found.finding
    assert "another earth" not in judged("8.5", 2, limit).finding


@pytest.mark.parametrize(
    ("others", "typed", "expected", "words"),
    [
        # Earth-testing handbook (seen): 55, 58, 59 ohm, mean 57.3, largest deviation 4.07 %.
        ((55.0, 58.0), "59", PASS, "within 4.1 %"),
        ((1.0, 5.0), "1", MARGINAL, "farther out"),
        ((55.0,), "59", RECORDED, "all three"),
        ((0.0, 58.0), "59", MARGINAL, "leads"),
    ],
)
def test_three_readings_of_an_earth_agree_within_five_per_cent(
    others: tuple[float, ...], typed: str, expected: str, words: str
) -> None:
    judged = judge_fall_of_potential(others, parse_reading(typed, "resistance", "ohm"))
    assert judged.verdict == expected
    assert words in judged.finding


# By hand, for a point electrode: the reading at p is R + K (1/(1 - p) - 1/p - 1); with K = 1 ohm at
# 20, 40 and 60 % that is R - 4.75, R - 1.8333, R - 0.16667. The slope is 1.66667/2.91667 = 0.571,
# and the probe belongs at 61.8 % (IEEE Std 81).
EXACT = Accuracy(0.0, 1.0, 1e-6)


@pytest.mark.parametrize(
    ("ohm", "verdict", "words"),
    [
        (8.0, PASS, "slope 0.57, so 8.00 ohm with the probe at 61.8 %: keeps the limit"),
        # One rod of 14 ohm: two give 14/2 x 1.16 = 8.1 ohm (IEEE Std 142 table 14).
        (14.0, FAIL, "1 rod more of the same kind"),
    ],
)
def test_slope_method_against_the_limit(ohm: float, verdict: str, words: str) -> None:
    three = (ohm - 4.75, ohm - 1.833333, ohm - 0.166667)
    found = judge_slope(LIMIT, three, EXACT, "ohm", 1)
    assert found.verdict == verdict
    assert words in found.finding


def test_the_meters_errors_go_through_the_slope_method() -> None:
    """9.9 ohm by the method: a meter of ±2 % could not tell it from 10 ohm, one of ±0.1 % could."""
    three = (9.9 - 4.75, 9.9 - 1.833333, 9.9 - 0.166667)
    assert judge_slope(LIMIT, three, Accuracy(2.0, 0.0, 0.01), "ohm", 1).verdict == MARGINAL
    assert judge_slope(LIMIT, three, Accuracy(0.1, 0.0, 0.01), "ohm", 1).verdict == PASS
    assert judge_slope(LIMIT, three, Accuracy(0.0, 30.0, 0.01), "ohm", 1).verdict == MARGINAL


@pytest.mark.parametrize(
    ("three", "verdict", "words"),
    [
        ((5.0, None, 7.0), RECORDED, "all three"),
        # The table of IEEE Std 81 begins at a slope of 0.40: (7.3 - 7)/(7 - 5) = 0.15.
        ((5.0, 7.0, 7.3), MARGINAL, "outside 0.4 to 1.59: move the current probe farther out"),
        ((5.0, 5.0, 5.0), MARGINAL, "farther out"),
    ],
)
def test_slope_method_that_gives_nothing(
    three: tuple[float | None, ...], verdict: str, words: str
) -> None:
    found = judge_slope(LIMIT, three, EXACT, "ohm", 1)
    assert found.verdict == verdict
    assert words in found.finding


@pytest.mark.parametrize(
    ("typed", "verdict", "words"),
    [
        ("7.5", PASS, "an upper bound, and it keeps the limit"),
        ("<5", PASS, "an upper bound"),
        # Common practice, no source: under about 1 ohm the loop is probably metal.
        ("0.4", MARGINAL, "a metal loop is read and no soil"),
        ("0", MARGINAL, "a metal loop"),
        ("<0.5", MARGINAL, "a metal loop"),
        ("1.2", PASS, "an upper bound"),
        ("25", MARGINAL, "disconnect the electrode and use fall of potential; 3 rods more"),
        ("OL", MARGINAL, "use fall of potential"),
        (">2", MARGINAL, "cannot be told"),
    ],
)
def test_a_clamp_reads_an_upper_bound(typed: str, verdict: str, words: str) -> None:
    """One rod of 25 ohm: three give 25/3 x 1.29 = 10.75, four 25/4 x 1.36 = 8.5 ohm (table 14)."""
    found = judge_clamp(LIMIT, parse_reading(typed, "resistance", "ohm"), METER, "ohm", 1)
    assert found.verdict == verdict
    assert words in found.finding
