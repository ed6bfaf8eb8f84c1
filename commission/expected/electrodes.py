"""The electrodes of a site by the laws: soil resistivity, each entry of the site file, all of them.

Soil is taken as uniform and of the stated resistivity; season and moisture move it, which only a
measurement shows. One entry of the site file is one electrode, or several equal ones:

- one rod by Dwight's formula, two rods by the exact form, more by the factor table;
- a strip or a round wire, and a plate with its centre at its depth, by Dwight's formulas; a plate
  may lie flat or stand on edge, half the difference is a cause of its own;
- whatever no law covers (several entries, rods closer than their length, several strips or plates)
  is taken in parallel as if none lifted the others. That is what they give *at best*; at worst the
  best of them alone counts, for adding metal never makes an earth worse.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import hypot, sqrt
from typing import Final

from commission.electrical import earth as laws
from commission.electrical.sources import DWIGHT, EARTH_PRACTICE
from commission.electrical.uncertainty import Contribution
from commission.site.schema import Earth, Electrode

# Rectangular half-widths (judgement). Field solutions lie 0.9 % below the formula for one rod, and
# 0 to 2.6 % below the factor table, which is conservative.
FORMULA_ERROR: Final = 0.01
TABLE_ERROR: Final = 0.03

_ROD = "R1 = rho/(2 pi L) x (ln(4L/a) - 1), a the radius"
_TWO = f"{_ROD}; R = (R1 + rho/(2 pi L) x (asinh x - sqrt(1 + 1/x²) + 1/x))/2, x = 2L/spacing"
_TABLE = f"{_ROD}; R = R1/N x factor"
_STRIP = "R = rho/(4 pi L) x (ln(4L/w) + (w² - pi w t)/(2(w + t)²) + ln(4L/s) - 1 + series in s/L)"
_WIRE = "R = rho/(4 pi L) x (ln(4L/a) + ln(4L/s) - 2 + series in s/L), L half the length, s = 2h"
_PLATE = "R = rho/(8a) + rho/(4 pi s) x (1 + series in a/s), a of a disc of its area, s = 2h"


@dataclass(frozen=True, slots=True)
class Soil:
    """Soil resistivity in Ω·m, the half-width of its relative error, and what each test gave."""

    ohm_m: float
    error: float
    tests_ohm_m: tuple[float, ...] = ()


def soil_of(earth: Earth) -> Soil | None:
    """The soil's resistivity as stated or as four-pin tests give it; None when it is not known.

    Of several tests the mean counts; they widen the stated uncertainty to half their range when
    that is more (judgement).
    """
    error = earth.soil_resistivity_uncertainty
    if earth.soil_resistivity_ohm_m is not None:
        return Soil(earth.soil_resistivity_ohm_m, error)
    found = tuple(laws.soil_ohm_m(one.spacing_m, one.resistance_ohm) for one in earth.soil_test)
    if not any(found):
        return None
    mean = sum(found) / len(found)
    return Soil(mean, max(error, (max(found) - min(found)) / 2 / mean), found)


@dataclass(frozen=True, slots=True)
class Part:
    """One entry of the site file by itself, in Ω.

    `ohm` is what it gives, or gives at best; `alone_ohm` what one of its electrodes gives.
    `own_error` is the relative half-width that only this entry has, with its cause in words.
    """

    electrode: Electrode
    ohm: float
    alone_ohm: float
    formula: str
    source: str
    at_best: bool = False
    own_error: float = 0.0
    own_cause: str = ""


def part_of(one: Electrode, soil_ohm_m: float) -> Part | None:
    """What one entry gives in soil of a resistivity; None when its dimensions are not all known."""
    if one.kind == "rod":
        return _rods(one, soil_ohm_m)
    found = _plate(one, soil_ohm_m) if one.kind == "plate" else _strip(one, soil_ohm_m)
    if found is None or one.count == 1:
        return found
    return Part(
        one, found.ohm / one.count, found.ohm, f"{found.formula}; R/N", found.source, True,
        found.own_error, found.own_cause,
    )  # fmt: skip


def _rods(one: Electrode, soil_ohm_m: float) -> Part | None:
    if one.length_m is None or one.diameter_m is None:
        return None
    size = (one.length_m, one.diameter_m / 2)
    alone_ohm = laws.rod_ohm(soil_ohm_m, *size)
    if one.count == 1:
        return Part(one, alone_ohm, alone_ohm, _ROD, DWIGHT)
    if one.count == 2 and one.spacing_m is not None:
        ohm = laws.two_rods_ohm(soil_ohm_m, *size, one.spacing_m)
        return Part(one, ohm, alone_ohm, _TWO, DWIGHT)
    return Part(
        one, laws.rods_ohm(alone_ohm, one.count), alone_ohm,
        f"{_TABLE} {laws.rod_factor(one.count):.3g}", EARTH_PRACTICE,
        one.spacing_m is None or one.spacing_m < one.length_m,
        TABLE_ERROR, f"factor table for {one.count} rods, ±{TABLE_ERROR * 100:g} %",
    )  # fmt: skip


def _strip(one: Electrode, soil_ohm_m: float) -> Part | None:
    if one.length_m is None or one.depth_m is None:
        return None
    if one.width_m is not None:
        ohm = laws.strip_ohm(soil_ohm_m, one.length_m, one.width_m, one.thickness_m, one.depth_m)
        return Part(one, ohm, ohm, _STRIP, DWIGHT)
    if one.diameter_m is None:
        return None
    ohm = laws.wire_ohm(soil_ohm_m, one.length_m, one.diameter_m / 2, one.depth_m)
    return Part(one, ohm, ohm, _WIRE, DWIGHT)


def _plate(one: Electrode, soil_ohm_m: float) -> Part | None:
    if one.width_m is None or one.depth_m is None:
        return None
    area_m2 = one.width_m**2
    flat, edge = (
        laws.plate_ohm(soil_ohm_m, area_m2, one.depth_m, vertical=vertical)
        for vertical in (False, True)
    )
    ohm = (flat + edge) / 2
    return Part(
        one, ohm, ohm, _PLATE, DWIGHT,
        own_error=abs(edge - flat) / 2 / ohm, own_cause="plate flat or on edge",
    )  # fmt: skip


@dataclass(frozen=True, slots=True)
class Estimate:
    """What all electrodes of a site give together, in Ω, and what that rests on."""

    soil: Soil
    parts: tuple[Part, ...]

    @property
    def at_best(self) -> bool:
        """Whether some electrode lifts another and no law here says by how much."""
        return len(self.parts) > 1 or any(part.at_best for part in self.parts)

    @property
    def ohm(self) -> float:
        """All of them in parallel."""
        return 1 / sum(1 / part.ohm for part in self.parts)

    @property
    def worst_ohm(self) -> float:
        """What they cannot exceed: the best of those entries whose own sum is sure."""
        return min(part.alone_ohm if part.at_best else part.ohm for part in self.parts)

    @property
    def budget(self) -> tuple[Contribution, ...]:
        """Every cause of uncertainty but mutual lift, largest first, in Ω."""
        ohm = self.ohm
        causes = [
            Contribution(
                f"soil resistivity, ±{self.soil.error * 100:.3g} %", ohm * self.soil.error
            ),
            Contribution(f"formulas, ±{FORMULA_ERROR * 100:g} %", ohm * FORMULA_ERROR),
        ]
        causes += [
            Contribution(part.own_cause, ohm * ohm / part.ohm * part.own_error)
            for part in self.parts
            if part.own_cause
        ]
        return tuple(sorted(causes, key=lambda cause: -cause.u))


def estimate_of(earth: Earth) -> Estimate | None:
    """What the electrodes give; None when soil, electrodes or their dimensions are not known."""
    soil = soil_of(earth)
    if soil is None or not earth.electrode:
        return None
    parts = [part_of(one, soil.ohm_m) for one in earth.electrode]
    known = tuple(part for part in parts if part is not None)
    return Estimate(soil, known) if len(known) == len(parts) else None


def rod_count(earth: Earth) -> int | None:
    """How many equal rods the electrode is made of; None when it is anything else."""
    sizes = {(one.length_m, one.diameter_m) for one in earth.electrode}
    if len(sizes) != 1 or any(one.kind != "rod" for one in earth.electrode):
        return None
    count = sum(one.count for one in earth.electrode)
    return count if count <= laws.MAX_RODS else None


def rods_more(estimate: Estimate, count: int, max_ohm: float) -> int | None:
    """How many equal rods more the computed value needs to meet a limit; None when none will do."""
    if estimate.ohm <= max_ohm:
        return 0
    needed = laws.rods_needed(estimate.parts[0].alone_ohm, max_ohm)
    return None if needed is None else max(1, needed - count)


def largest_size_m(earth: Earth) -> float | None:
    """Largest dimension of the electrode system in m; None when an electrode's is not known.

    Rods are taken to stand in a row. Of several entries the largest counts: how far they lie apart
    no site file says.
    """
    sizes = [_size_m(one) for one in earth.electrode]
    known = [size for size in sizes if size is not None]
    return max(known) if known and len(known) == len(sizes) else None


def _size_m(one: Electrode) -> float | None:
    span_m = (one.count - 1) * (one.spacing_m or 0.0)
    if one.kind == "plate":
        return None if one.width_m is None else max(one.width_m * sqrt(2), span_m)
    if one.length_m is None:
        return None
    return max(one.length_m, span_m) if one.kind == "rod" else hypot(one.length_m, span_m)
