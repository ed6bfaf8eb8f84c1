"""The value that every comparison uses: an expectation or a limit, and how it came about."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from commission.electrical.uncertainty import Contribution
from commission.units import Quantity, in_unit, plain

Sides = Literal["interval", "maximum", "minimum"]


@dataclass(frozen=True, slots=True)
class Input:
    """One number put into a formula, as shown to people, with where it comes from."""

    name: str
    value: str
    source: str = ""


@dataclass(frozen=True, slots=True)
class Expectation:
    """What a reading is compared with, in SI.

    An "interval" has value, low and high (value +- 2u of the expectation alone). A "maximum" or
    "minimum" is a limit: `value` is the limit itself, low or high repeats it, u is zero.
    """

    name: str
    quantity: Quantity
    sides: Sides
    value: float
    low: float | None
    high: float | None
    u: float
    conditions: str  # in words: "end bridged, soil at 15 °C"
    formula: str
    inputs: tuple[Input, ...]
    source: str
    budget: tuple[Contribution, ...] = ()
    what_below: str = ""  # what a reading below the interval usually means
    what_above: str = ""
    max_fault: float | None = None  # how much more of it the worst set could bear, SI
    estimate: Expectation | None = None  # of a limit: what the drawing lets one expect

    def between(self, unit: str) -> str:
        """Its interval for people, without the unit: "10.9 to 12.3"; "" where it has none."""
        if self.sides != "interval" or self.low is None or self.high is None:
            return ""
        low, high = (plain(in_unit(one, unit, self.quantity)) for one in (self.low, self.high))
        return f"{low} to {high}"
