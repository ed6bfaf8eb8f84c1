"""One reading against one expectation: is it as drawn, does it keep the limit?

An interval is judged by |measured - expected| <= U, U = 2·√(u_exp² + u_meas²) (JCGM 100). A limit
is judged by the probability that the true value keeps it: pass from 95 %, fail up to 5 %, marginal
between (JCGM 106), with the reading rectangular within the meter's accuracy.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import inf, sqrt

from commission.electrical.conformance import (
    Limits,
    conformance,
    over_range_conformance,
    under_range_conformance,
    verdict,
)
from commission.electrical.distributions import error_sum
from commission.electrical.instruments import Accuracy, ReadingError, reading_error
from commission.electrical.uncertainty import COVERAGE_FACTOR
from commission.expected.values import Expectation
from commission.units import Quantity, Reading, of_a_difference, show

PASS, FAIL, MARGINAL = "pass", "fail", "marginal"
NOT_TESTED, NOT_APPLICABLE, RECORDED = "not tested", "not applicable", "recorded"
MARKS = {PASS: "+", FAIL: "x", MARGINAL: "?", NOT_TESTED: "-", NOT_APPLICABLE: "o", RECORDED: "+"}

NO_CIRCUIT = "no circuit: the bridge is not on, a conductor is broken, or a joint is open"
_NO_VALUE = "cannot be decided: use a range that shows a value"
NO_ERROR = ReadingError(0.0, 0.0)  # the instrument's accuracy is not known

# A fault moves the reading by U to leave the interval, and by 1.645 u more to do so 19 times of 20.
_SEEN = 2.0 + 1.645
TENFOLD = 10.0
MAINS_FAR = 1.5  # above the lowest mains allowed: another system's voltage, or a slip (judgement)


def marked(verdict: str) -> str:
    """A verdict in words with its mark before it; as it stands where it has none."""
    return f"{MARKS.get(verdict, '')} {verdict}".strip()


@dataclass(frozen=True, slots=True)
class Judgement:
    """What a reading means. `low` and `high` are the bounds used, the meter's part included."""

    verdict: str
    finding: str
    low: float | None = None
    high: float | None = None
    probability: float | None = None

    @property
    def mark(self) -> str:
        """A one-character mark, so that a verdict never depends on colour."""
        return MARKS[self.verdict]


def judge(
    expectation: Expectation | None,
    reading: Reading,
    accuracy: Accuracy | None,
    unit: str,
) -> Judgement:
    """Judge a reading; without an expectation it is only recorded."""
    if expectation is None:
        return Judgement(RECORDED, "recorded; nothing to compare it with")
    if reading.relation != "=" or reading.value is None:
        return _judge_bound(expectation, reading, unit)
    error = reading_error(accuracy, reading.value) if accuracy else NO_ERROR
    if expectation.sides == "interval":
        return _judge_interval(expectation, reading.value, error, unit)
    return judge_limit(expectation, reading.value, error, unit)


# Quantities whose over-range and under-range make sense, and those that cannot be below zero.
_OPEN_ENDED = frozenset({"resistance", "voltage", "current"})
_NEVER_NEGATIVE = frozenset(
    {"resistance", "current", "length", "resistivity", "power", "frequency", "time", "number"}
)
_SOIL_C = (-40.0, 70.0)


def impossible(reading: Reading, quantity: Quantity) -> str:
    """Why a reading of a quantity cannot be, in words; empty when it can."""
    if reading.relation != "=" and quantity not in _OPEN_ENDED:
        return f"a {quantity} is a number; type what is shown"
    if reading.value is None:
        return ""
    if reading.value < 0 and quantity in _NEVER_NEGATIVE:
        if quantity == "resistance":
            return "a resistance is not negative: null the leads, look for a voltage, read again"
        return f"a {quantity} is not negative; type it without the sign"
    if quantity == "temperature" and not _SOIL_C[0] <= reading.value <= _SOIL_C[1]:
        return "that is no temperature of soil or air; write °C or °F behind it"
    return ""


def judge_reversed(
    expectation: Expectation | None,
    first: float | None,
    reading: Reading,
    accuracy: Accuracy | None,
    unit: str,
) -> Judgement:
    """Judge a loop read with the leads changed over: the mean of both polarities counts.

    A difference that the last digits of the meter cannot explain is a finding of its own: a voltage
    in the loop, galvanic or by leakage. `first` is the earlier reading in SI, None without one.
    """
    if first is None or reading.value is None or reading.relation != "=" or expectation is None:
        return judge(expectation, reading, accuracy, unit)
    error = reading_error(accuracy, reading.value) if accuracy else NO_ERROR
    counts = accuracy.counts * accuracy.resolution if accuracy else 0.0  # leads are in both alike
    allowed = 2 * max(counts, reading.digit)
    difference, mean = abs(first - reading.value), (first + reading.value) / 2
    judged = _judge_interval(expectation, mean, error, unit)
    finding = f"mean of both {show(mean, unit, expectation.quantity)}: {judged.finding}"
    if difference <= allowed * (1 + 1e-9):
        return Judgement(judged.verdict, finding, judged.low, judged.high)
    differ = show(difference, unit, expectation.quantity, 2)
    words = f"the two polarities differ by {differ}: galvanic or leakage voltage in the loop"
    if judged.verdict == PASS:
        return Judgement(MARGINAL, words, judged.low, judged.high)
    return Judgement(judged.verdict, f"{finding}; {words}", judged.low, judged.high)


def acceptance(expectation: Expectation, error: ReadingError) -> tuple[float, float]:
    """The interval in which a reading with this error of the meter is as drawn, in SI."""
    u = sqrt(expectation.u**2 + error.standard_uncertainty**2)
    low, high = expectation.value - COVERAGE_FACTOR * u, expectation.value + COVERAGE_FACTOR * u
    return (max(0.0, low) if expectation.value >= 0 else low), high


def _judge_interval(
    expected: Expectation, value: float, error: ReadingError, unit: str
) -> Judgement:
    low, high = acceptance(expected, error)
    quantity = expected.quantity
    if low <= value <= high:
        u = (high - expected.value) / 2
        if error.half_width > abs(expected.value):
            coarse = show(error.half_width, unit, of_a_difference(quantity), 2)
            finding = (
                f"this meter is too coarse here, ±{coarse}: use a lower range or another meter"
            )
            return Judgement(MARGINAL, finding, low, high)
        seen = show(_SEEN * u, unit, quantity, 2)
        if not expected.name.startswith("loop"):
            off = f"as expected; {seen} more or less would have shown"
            return Judgement(PASS, off if quantity != "temperature" else "as expected", low, high)
        if expected.max_fault is not None and _SEEN * u > expected.max_fault:
            borne = show(expected.max_fault, unit, quantity, 2)
            finding = (
                f"not conclusive: a joint of up to {seen} could hide, and more than {borne} would "
                "be too much for the worst set; measure lengths, or use a better meter"
            )
            return Judgement(MARGINAL, finding, low, high)
        return Judgement(
            PASS, f"as expected; a joint of {seen} or more would have shown", low, high
        )
    beyond, likely = (
        (value - high, expected.what_above) if value > high else (low - value, expected.what_below)
    )
    side = "above" if value > high else "below"
    finding = f"{_scaled(beyond, unit, quantity)} {side} the range: {likely}"
    return Judgement(FAIL, finding, low, high)


def _scaled(value: float, unit: str, quantity: Quantity) -> str:
    """A gap for people in a unit of its size: no one reads 399998 ohm."""
    if quantity == "resistance" and value >= 1e4:
        unit = "Mohm" if value >= 1e6 else "kohm"
    return show(value, unit, of_a_difference(quantity), 2)


def judge_limit(expected: Expectation, value: float, error: ReadingError, unit: str) -> Judgement:
    """Judge a value in SI with its two errors against a one-sided limit (JCGM 106)."""
    value = abs(value)  # a d.c. voltage the other way round is the same voltage
    if value == 0.0 and expected.name == "earth-resistance":
        return Judgement(MARGINAL, "no electrode has no resistance: look at the leads")
    errors = error_sum((error.gain_half_width, error.counts_half_width))
    probability = conformance(value, errors, Limits(expected.low, expected.high))
    reached = verdict(probability)
    words = f"limit, {_limit_words(expected, unit)}"
    beyond = expected.what_below or expected.what_above
    if reached == PASS:
        return Judgement(PASS, f"keeps the {words}", expected.low, expected.high, probability)
    if reached == FAIL:
        finding = f"beyond the {words}: {beyond}" if beyond else f"beyond the {words}"
        return Judgement(FAIL, finding, expected.low, expected.high, probability)
    finding = (
        f"too near the {words}, for this meter: it is kept with a chance of "
        f"{probability * 100:.0f} in 100; "
        "use a better meter, repair, or name it as an exception"
    )
    return Judgement(MARGINAL, finding, expected.low, expected.high, probability)


def _limit_words(expected: Expectation, unit: str) -> str:
    word = "at least" if expected.sides == "minimum" else "at most"
    return f"{word} {show(expected.value, unit, expected.quantity)}"


def _judge_bound(expected: Expectation, reading: Reading, unit: str) -> Judgement:
    """A reading known only to be above or below a value; "OL" is above all the meter can show."""
    low, high = expected.low, expected.high
    above, is_interval = reading.relation in (">", "OL"), expected.sides == "interval"
    if is_interval and reading.value is None:
        if expected.quantity == "resistance":
            return Judgement(FAIL, NO_CIRCUIT, low, high)
        return Judgement(MARGINAL, _NO_VALUE, low, high)
    bound = inf if reading.value is None else reading.value
    conforms = over_range_conformance if above else under_range_conformance
    probability = conforms(bound, Limits(low, high))
    if is_interval:
        if probability is None:
            return Judgement(MARGINAL, _NO_VALUE, low, high)
        side, likely = ("above", expected.what_above) if above else ("below", expected.what_below)
        return Judgement(FAIL, f"{side} the range: {likely}", low, high)
    words = _limit_words(expected, unit)
    if probability is None:
        return Judgement(MARGINAL, f"cannot be told from the limit, {words}", low, high)
    if verdict(probability) == PASS:
        return Judgement(PASS, f"keeps the limit, {words}", low, high, probability)
    beyond = expected.what_below or expected.what_above
    return Judgement(FAIL, f"beyond the limit, {words}: {beyond}", low, high, probability)


def asks_back(expectation: Expectation | None, reading: Reading, unit: str) -> str:
    """Words asking whether a reading is meant as typed; empty when it is not far off.

    An interval asks beyond tenfold either way, a limit only beyond tenfold on its failing side;
    the mains, by which everything live is judged, also half above the lowest that they may be.
    """
    if expectation is None or reading.value is None or expectation.value <= 0:
        return ""
    value, quantity = abs(reading.value), expectation.quantity
    far_above = value > TENFOLD * expectation.value
    far_below = value * TENFOLD < expectation.value
    if expectation.sides == "maximum":
        far_below = False
    if expectation.sides == "minimum":
        far_above = False
    if reading.relation == ">" and expectation.sides == "minimum":
        far_below = False
    mains_far = expectation.name == "mains-voltage" and value > MAINS_FAR * expectation.value
    if not (far_above or far_below or mains_far):
        return ""
    typed = show(reading.value, unit, quantity)
    about = show(expectation.value, unit, quantity)
    if mains_far:
        return f"{typed} is far above {about}, the least for the mains here. Is it meant so?"
    return f"{typed} is more than ten times away from {about}. Is it meant so?"


def interval_words(expectation: Expectation, unit: str, quantity: Quantity) -> str:
    """The expectation for people: "11.6 ohm, range 10.9 to 12.3 ohm" or "at most 10 ohm"."""
    value = show(expectation.value, unit, quantity)
    between = expectation.between(unit)
    if not between:
        return f"{'at least' if expectation.sides == 'minimum' else 'at most'} {value}"
    return f"{value}, range {between} {unit}"
