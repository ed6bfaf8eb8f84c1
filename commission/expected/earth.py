"""What the electrodes of a site should give beside the limit that they must keep.

The limit stays what a reading is judged by; soil resistivity is seldom known well enough to fail an
electrode by. What its dimensions let one expect says whether the limit can be met at all, and how
many rods more would do.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING, Any, Final

from commission.electrical.earth import MAX_RODS
from commission.electrical.sources import JUDGEMENT, NEC_ELECTRODE, WENNER, citation
from commission.electrical.uncertainty import COVERAGE_FACTOR, Budget
from commission.expected.electrodes import (
    Estimate,
    Part,
    Soil,
    estimate_of,
    rod_count,
    rods_more,
    soil_of,
)
from commission.expected.inputs import Drawing
from commission.expected.values import Expectation, Input
from commission.site.schema import Earth
from commission.units import length_unit, show

if TYPE_CHECKING:
    from commission.expected.sheet import Sheet

CAUTION: Final = "locate buried services before driving rods; local code decides"
AUXILIARY: Final = (
    f"{citation(NEC_ELECTRODE)}, so the 25 ohm rule does not bind it, but it is always bonded to "
    "the supply's protective conductor; local code decides"
)


def rods_words(more: int | None) -> str:
    """In words how many rods more would do; None says that rods alone will not."""
    if more is None:
        return (
            f"rods alone will not do, {MAX_RODS} of them would still be above it: "
            "longer rods, other soil or soil treatment"
        )
    rods = "1 rod" if more == 1 else f"{more} rods"
    return f"{rods} more of the same kind, one rod length apart, would probably do (factor table)"


def electrode_expectation(drawing: Drawing) -> Expectation | None:
    """What the electrodes should give, with interval and budget; None when it is not known.

    The interval is ± 2u (JCGM 100); where electrodes lift each other by no law here, its upper
    bound is that of the best of them alone.
    """
    earth = drawing.site.earth
    estimate = estimate_of(earth)
    if estimate is None:
        return None
    value, budget = estimate.ohm, estimate.budget
    u = Budget(value, budget).u
    low = max(0.0, value - COVERAGE_FACTOR * u)
    high = (estimate.worst_ohm if estimate.at_best else value) * (1 + COVERAGE_FACTOR * u / value)
    lift = "at best, mutual lift not counted; " if estimate.at_best else ""
    prospect = _prospect(estimate, earth, low, high)
    sources = dict.fromkeys(part.source for part in estimate.parts)
    tested = (WENNER,) if estimate.soil.tests_ohm_m else ()
    return Expectation(
        name="electrode-resistance",
        quantity="resistance",
        sides="interval",
        value=value,
        low=low,
        high=high,
        u=u,
        conditions=f"{lift}uniform soil as stated (season and moisture move it); {prospect}",
        formula="; ".join(dict.fromkeys(part.formula for part in estimate.parts))
        + ("; all in parallel" if len(estimate.parts) > 1 else ""),
        inputs=(
            *_soil_inputs(estimate.soil, drawing),
            *(_input(part, drawing) for part in estimate.parts),
        ),
        source="; ".join(citation(one) for one in (*tested, *sources, JUDGEMENT)),
        budget=budget,
        what_below="another earth is still connected, or the soil is better than stated",
        what_above="the soil is worse than stated, or a rod has lost its joint",
    )


def _prospect(estimate: Estimate, earth: Earth, low: float, high: float) -> str:
    """Whether the limit can be met, in words, and what would help."""
    limit = f"the limit of {show(earth.limit_ohm, 'ohm', 'resistance')}"
    if high <= earth.limit_ohm:
        return f"{limit} can be met"
    words = f"{limit} may or may not be met" if low <= earth.limit_ohm else f"{limit} is not met"
    count = rod_count(earth)
    if count is None or estimate.ohm <= earth.limit_ohm:
        return words
    return f"{words}: {rods_words(rods_more(estimate, count, earth.limit_ohm))}; {CAUTION}"


def _soil_inputs(soil: Soil, drawing: Drawing) -> Iterator[Input]:
    """Every four-pin test with what it gives, then the resistivity that counts."""
    unit = length_unit(drawing.site.site.units)
    tests = zip(drawing.site.earth.soil_test, soil.tests_ohm_m, strict=False)
    for number, (test, ohm_m) in enumerate(tests, 1):
        read = show(test.resistance_ohm, "ohm", "resistance")
        spacing = show(test.spacing_m, unit, "length")
        gives = show(ohm_m, "ohm m", "resistivity")
        yield Input(
            f"four-pin test {number}", f"{read} at {spacing}: {gives}", "site file; 2 pi a R"
        )
    words = f"{show(soil.ohm_m, 'ohm m', 'resistivity')}, ±{soil.error * 100:.3g} %"
    yield Input("soil resistivity rho", words, "mean" if soil.tests_ohm_m else "site file")


def _input(part: Part, drawing: Drawing) -> Input:
    """One entry with its dimensions as people read them, and what it gives."""
    one = part.electrode
    long, short = ("ft", "in") if drawing.site.site.units == "US" else ("m", "mm")
    said = [
        f"{words} {show(size, unit, 'length')}"
        for words, size, unit in (
            ("length", one.length_m, long), ("diameter", one.diameter_m, short),
            ("width", one.width_m, short), ("depth", one.depth_m, long),
            ("spacing", one.spacing_m if one.count > 1 else None, long),
        )
        if size is not None
    ]  # fmt: skip
    gives = f"{'at best ' if part.at_best else ''}{show(part.ohm, 'ohm', 'resistance')}"
    return Input(f"{one.count} x {one.kind}", f"{', '.join(said)}: {gives}", "site file")


def earth_document(sheet: Sheet) -> dict[str, Any]:
    """The earth of a site as numbers for programs, SI; None where a number is not known.

    `rods_more` is how many equal rods more the computed value would need, one rod length apart;
    None also where rods alone would not do, or where the electrode is not one of equal rods.
    """
    earth = sheet.site.earth
    found, estimate = electrode_expectation(sheet.drawing), estimate_of(earth)
    soil, count = soil_of(earth), rod_count(earth)
    parts = estimate.parts if estimate else (None,) * len(earth.electrode)
    return {
        "limit_ohm": earth.limit_ohm,
        "expected_ohm": found and found.value,
        "low_ohm": found and found.low,
        "high_ohm": found and found.high,
        "at_best": estimate.at_best if estimate else None,
        "soil_resistivity_ohm_m": soil and soil.ohm_m,
        "electrodes": [
            {
                "kind": one.kind,
                "count": one.count,
                "length_m": one.length_m,
                "diameter_m": one.diameter_m,
                "width_m": one.width_m,
                "depth_m": one.depth_m,
                "spacing_m": one.spacing_m,
                "resistance_ohm": part and part.ohm,
            }
            for one, part in zip(earth.electrode, parts, strict=True)
        ],
        "rods_more": rods_more(estimate, count, earth.limit_ohm) if estimate and count else None,
    }
