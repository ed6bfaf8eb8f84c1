"""How far a reading may be off: an instrument's accuracy, as its data sheet states it.

A specification ±(% of reading + counts) is a rectangular interval.  Its percent part is the gain
error of that one range, the same for every reading on it, so repeating a reading is no new
evidence about it; the counts part is new each time.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Final

from commission.electrical.arithmetic import sqrt

MIN_SPECIFIED_C: Final = 18.0
MAX_SPECIFIED_C: Final = 28.0
"""Ambient temperatures between which a specification holds as printed (common practice)."""

PER_KELVIN_OUTSIDE: Final = 0.1
"""Part of the specification added for each kelvin outside (common practice)."""


@dataclass(frozen=True, slots=True)
class Accuracy:
    """±(percent of reading + counts x resolution) on one range.

    `resolution` is one count, in the unit of the reading; `offset_half_width` what is left after
    nulling the leads.
    """

    percent_of_reading: float
    counts: float
    resolution: float
    offset_half_width: float = 0.0


@dataclass(frozen=True, slots=True)
class ReadingError:
    """Half widths of the two independent parts of a reading's error, in its unit."""

    gain_half_width: float
    counts_half_width: float

    @property
    def half_width(self) -> float:
        """Both together: the limits of error that the data sheet promises."""
        return self.gain_half_width + self.counts_half_width

    @property
    def standard_uncertainty(self) -> float:
        """Standard uncertainty, two independent rectangulars: √((g² + c²)/3) (JCGM 100 4.3.7)."""
        return sqrt((self.gain_half_width**2 + self.counts_half_width**2) / 3)


def temperature_factor(ambient_c: float) -> float:
    """What the specification is multiplied with at an ambient temperature, 1 from 18 to 28 °C."""
    outside_k = max(0.0, MIN_SPECIFIED_C - ambient_c, ambient_c - MAX_SPECIFIED_C)
    return 1 + PER_KELVIN_OUTSIDE * outside_k


def at_ambient(accuracy: Accuracy, ambient_c: float) -> Accuracy:
    """An accuracy at an ambient temperature: as printed from 18 to 28 °C, wider outside."""
    factor = temperature_factor(ambient_c)
    return replace(
        accuracy,
        percent_of_reading=accuracy.percent_of_reading * factor,
        counts=accuracy.counts * factor,
    )


def reading_error(accuracy: Accuracy, reading: float, ambient_c: float = 23.0) -> ReadingError:
    """Limits of error of one reading, in its unit, as two independent rectangulars."""
    here = at_ambient(accuracy, ambient_c)
    return ReadingError(
        gain_half_width=abs(reading) * here.percent_of_reading / 100,
        counts_half_width=here.counts * here.resolution + here.offset_half_width,
    )


def half_width(accuracy: Accuracy, reading: float, ambient_c: float = 23.0) -> float:
    """Limit of error of one reading, ±(% of reading + counts), in its unit."""
    return reading_error(accuracy, reading, ambient_c).half_width
