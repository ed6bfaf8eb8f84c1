"""Readings of an earth electrode: against its limit, with what would help when it fails.

Fall of potential and slope method after IEEE Std 81. A clamp reads the electrode and the rest of
its loop, so it can show that a limit is kept and never that it is not.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from math import hypot

from commission.electrical.earth import (
    fall_of_potential,
    is_metallic_loop,
    more_rods,
    slope_method,
)
from commission.electrical.instruments import Accuracy, ReadingError, reading_error
from commission.expected.earth import CAUTION, rods_words
from commission.expected.values import Expectation
from commission.units import Reading, show
from commission.verdict.judge import FAIL, MARGINAL, PASS, RECORDED, Judgement, judge, judge_limit


def judge_earth(
    limit: Expectation | None,
    reading: Reading,
    accuracy: Accuracy | None,
    unit: str,
    rods: int | None,
) -> Judgement:
    """Judge an electrode's resistance; `rods` is how many equal rods it is made of, if it is.

    A fail or a marginal result says how many rods more would probably do; a pass far below what
    the drawing lets one expect asks whether another earth was still connected.
    """
    judged = judge(limit, reading, accuracy, unit)
    value = reading.value
    if limit is None or not value or reading.relation != "=":
        return judged
    if judged.verdict in (FAIL, MARGINAL):
        return replace(judged, finding=judged.finding + _more(value, rods, limit.value))
    drawn = limit.estimate
    if drawn is not None and drawn.low is not None and value < drawn.low:
        low = show(drawn.low, unit, "resistance")
        finding = f"{judged.finding}, but {low} or more were expected: {drawn.what_below}"
        return replace(judged, finding=finding)
    return judged


def _more(value_ohm: float, rods: int | None, max_ohm: float) -> str:
    """How many rods more a measured electrode of equal rods needs, in words; at least one."""
    if not rods or not max_ohm:
        return ""
    more = more_rods(value_ohm, rods, max_ohm)
    return f"; {rods_words(None if more is None else max(1, more))}; {CAUTION}"


def judge_fall_of_potential(others: Sequence[float], reading: Reading) -> Judgement:
    """Judge the readings at 52, 62 and 72 % together, once all three are there (IEEE Std 81).

    `others` are the readings at the other two places, in ohm.
    """
    if reading.value is None or reading.relation != "=" or len(others) != 2:
        return Judgement(RECORDED, "recorded; judged when all three readings are there")
    three = (*others, reading.value)
    if not all(three):
        return Judgement(MARGINAL, "a reading of nothing is no earth: look at the leads")
    test = fall_of_potential(three)  # how far out the current probe stands is a step of its own
    percent = test.max_deviation_fraction * 100
    if test.consistent:
        mean = show(test.resistance_ohm, "ohm", "resistance")
        return Judgement(PASS, f"mean {mean}, each within {percent:.1f} % of it")
    return Judgement(
        MARGINAL,
        f"up to {percent:.0f} % from their mean, 5 % allowed: "
        "move the current probe farther out and read all three again; "
        "where there is no room for that, go back and choose the slope method",
    )


def judge_slope(
    limit: Expectation | None,
    three: Sequence[float | None],
    accuracy: Accuracy,
    unit: str,
    rods: int | None,
) -> Judgement:
    """Judge what the readings at 20, 40 and 60 % give together, once all three are there.

    `three` are in ohm, None where one is not there; one meter's accuracy counts for all of them.
    """
    r20_ohm, r40_ohm, r60_ohm = three
    if r20_ohm is None or r40_ohm is None or r60_ohm is None or limit is None:
        return Judgement(RECORDED, "recorded; judged when all three readings are there")
    readings = (r20_ohm, r40_ohm, r60_ohm)
    try:
        found = slope_method(*readings)
    except ValueError as error:
        return Judgement(
            MARGINAL, f"{error}: move the current probe farther out and read all three again"
        )
    value = found.resistance_ohm
    judged = judge_limit(limit, value, slope_error(readings, value, accuracy), unit)
    words = (
        f"slope {found.slope:.2f}, so {show(value, unit, 'resistance')} with the probe at "
        f"{found.probe_fraction * 100:.1f} %: {judged.finding}"
    )
    if judged.verdict in (FAIL, MARGINAL):
        words += _more(value, rods, limit.value)
    return replace(judged, finding=words)


def slope_error(
    readings: tuple[float, float, float], value: float, accuracy: Accuracy
) -> ReadingError:
    """The meter's errors of the slope method's value: the gain scales all three readings alike.

    The counts of each are independent and move the value by their own sensitivity; where a moved
    reading leaves the method's range, they count as they are.
    """
    moved = []
    for place, reading in enumerate(readings):
        counts = reading_error(accuracy, reading).counts_half_width
        shifted = [*readings]
        shifted[place] += counts
        try:
            moved.append(slope_method(*shifted).resistance_ohm - value)
        except ValueError:
            moved.append(counts)
    return ReadingError(reading_error(accuracy, value).gain_half_width, hypot(*moved))


def judge_clamp(
    limit: Expectation | None,
    reading: Reading,
    accuracy: Accuracy | None,
    unit: str,
    rods: int | None,
) -> Judgement:
    """Judge a clamp's reading: the electrode is at most that (IEEE Std 81 practice).

    Below the limit it passes as an upper bound; above it nothing is decided, for the rest of the
    loop is in it. Under about 1 ohm the current probably runs in metal and not through soil.
    """
    value = reading.value
    if value is not None and reading.relation != ">" and is_metallic_loop(value):
        return Judgement(
            MARGINAL,
            "under about 1 ohm: a metal loop is read and no soil; clamp where the electrode alone "
            "closes the loop, or use fall of potential",
        )
    judged = judge(limit, reading, accuracy, unit)
    if judged.verdict == PASS:
        return replace(judged, finding=f"an upper bound, and it {judged.finding}")
    if limit is None or judged.verdict not in (FAIL, MARGINAL):
        return judged
    more = _more(value, rods, limit.value) if value and reading.relation == "=" else ""
    finding = (
        f"{judged.finding}; a clamp reads the rest of the loop too: "
        f"disconnect the electrode and use fall of potential{more}"
    )
    return replace(judged, verdict=MARGINAL, finding=finding)
