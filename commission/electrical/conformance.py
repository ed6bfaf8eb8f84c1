"""Does a measured quantity meet its limit?  As a probability, and as a verdict in three words.

Source: JCGM 106.  The quantity is the reading less its error; the error's distribution decides.  A
single reading near a limit has the rectangular error of its instrument, not a bell curve.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final, Literal

from commission.electrical.distributions import ErrorSum

Verdict = Literal["pass", "marginal", "fail"]

PASS_PROBABILITY: Final = 0.95
FAIL_PROBABILITY: Final = 0.05
"""Pass from the first on, fail up to the second, marginal between (judgement)."""


@dataclass(frozen=True, slots=True)
class Limits:
    """What a quantity has to lie between; None where it is free."""

    low: float | None = None
    high: float | None = None


def conformance(estimate: float, errors: ErrorSum, limits: Limits) -> float:
    """Probability that the quantity lies within its limits, given the estimate and its errors."""
    above = 1.0 if limits.high is None else errors.cdf(limits.high - estimate)
    below = 0.0 if limits.low is None else errors.cdf(limits.low - estimate)
    if limits.low is not None and not errors.std:
        below = float(estimate < limits.low)
    return max(0.0, above - below)


def over_range_conformance(beyond: float, limits: Limits) -> float | None:
    """Probability of conformance when the instrument shows only "greater than".

    1 when everything beyond is allowed, 0 when nothing is; None when the limit lies beyond what the
    instrument could show, which decides nothing.  A broken loop shows as beyond any value: pass
    `math.inf`.
    """
    if limits.high is not None and beyond >= limits.high:
        return 0.0
    if limits.high is None and (limits.low is None or beyond >= limits.low):
        return 1.0
    return None


def under_range_conformance(below: float, limits: Limits) -> float | None:
    """The same when it shows only "less than": the mirror of it."""
    low, high = (None if one is None else -one for one in (limits.low, limits.high))
    return over_range_conformance(-below, Limits(low=high, high=low))


def verdict(probability: float) -> Verdict:
    """Pass at 95 % and more, fail at 5 % and less, else marginal."""
    if math.isnan(probability):
        raise ValueError("a probability is a number")
    if probability >= PASS_PROBABILITY:
        return "pass"
    return "fail" if probability <= FAIL_PROBABILITY else "marginal"
