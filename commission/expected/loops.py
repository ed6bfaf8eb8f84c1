"""The loop resistance that a path's end should show when its conductors are bridged there.

R = Σ L·(r₁ + r₂)(T) + 2·Rj over the route, decoders or not. Each cause of uncertainty is one
variable, however many segments share it: the error of one way of taking lengths, the make of one
kind of cable, the soil's temperature. Only joints and the small differences of temperature from
segment to segment are independent.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from math import sqrt

from commission.electrical.conductors import COPPER_PER_K, at_temperature
from commission.electrical.distributions import rectangular_u
from commission.electrical.segments import MAX_JOINT_OHM, route_r_ohm
from commission.electrical.sources import COPPER, JUDGEMENT, citation
from commission.electrical.uncertainty import Budget, Contribution
from commission.expected.inputs import (
    LENGTH_ERROR,
    LENGTH_WORDS,
    Drawing,
    Stretch,
)
from commission.expected.values import Expectation, Input
from commission.site.schema import Soil
from commission.units import FOOT_M, plain

FORMULA = "R = sum of L x (r1 + r2) x (1 + 0.00393 x (T - 20)) + 2 x Rj over the route"


def loop_budget(route: Sequence[Stretch], soil: Soil) -> tuple[Contribution, ...]:
    """Every cause of uncertainty of a route's loop resistance, largest first, in ohm."""
    at_test_day = at_temperature(1.0, soil.test_day_c)
    by_length: dict[str, float] = defaultdict(float)
    by_kind: dict[str, float] = defaultdict(float)
    copper20_ohm = 0.0
    squares_by_segment = 0.0
    for stretch in route:
        cable = stretch.cable
        r20_ohm = cable.length_m * (cable.first.r20_ohm_per_m + cable.second.r20_ohm_per_m)
        copper20_ohm += r20_ohm
        by_length[stretch.length_by] += r20_ohm * at_test_day
        squares_by_segment += (r20_ohm * COPPER_PER_K) ** 2
        for kind, conductor in zip(stretch.kinds, (cable.first, cable.second), strict=True):
            half_width = (conductor.high_r20_ohm_per_m - conductor.low_r20_ohm_per_m) / 2
            by_kind[kind] += cable.length_m * half_width * at_test_day
    found = [
        Contribution(
            f"{LENGTH_WORDS[by]}, ±{LENGTH_ERROR[by] * 100:g} %",
            LENGTH_ERROR[by] * effect,
        )
        for by, effect in by_length.items()
    ]
    found += [
        Contribution(f"conductors of cable {kind}", half_width)
        for kind, half_width in by_kind.items()
    ]
    found.append(
        Contribution(
            f"soil temperature, ±{soil.test_day_uncertainty_k:g} K",
            copper20_ohm * COPPER_PER_K * soil.test_day_uncertainty_k,
        )
    )
    found.append(
        Contribution(
            f"temperature from segment to segment, ±{soil.segment_uncertainty_k:g} K",
            rectangular_u(sqrt(squares_by_segment) * soil.segment_uncertainty_k),
            "normal",
        )
    )
    joints = 2 * len(route)
    found.append(
        Contribution(
            f"{joints} joints, 0 to {MAX_JOINT_OHM * 1000:g} mohm each",
            rectangular_u(MAX_JOINT_OHM / 2) * sqrt(joints),
            "normal",
        )
    )
    return tuple(sorted(found, key=lambda part: -part.u))


def _inputs(route: Sequence[Stretch], units: str) -> tuple[Input, ...]:
    """Each segment of the route with length and conductors, as people read it."""
    rows = []
    for stretch in route:
        cable = stretch.cable
        if units == "US":
            length = f"{plain(cable.length_m / FOOT_M, 4)} ft"
            per = [f"{plain(c.r20_ohm_per_m * 304.8, 4)}" for c in (cable.first, cable.second)]
            per_unit = "ohm/1000 ft"
        else:
            length = f"{plain(cable.length_m, 4)} m"
            per = [f"{plain(c.r20_ohm_per_m * 1000, 4)}" for c in (cable.first, cable.second)]
            per_unit = "ohm/km"
        sizes = cable.first.size
        if stretch.kinds[0] != stretch.kinds[1]:
            sizes = f"{cable.first.size} and {cable.second.size}"
        rows.append(
            Input(
                f"{stretch.segment.from_box} to {stretch.segment.to_box}",
                f"{length} of {sizes}, {' + '.join(per)} {per_unit} at 20 °C",
                f"length by {stretch.length_by}; {cable.first.source}",
            )
        )
    return tuple(rows)


def _sources(route: Sequence[Stretch]) -> str:
    """What the copper, the sizes on this route, and the joints rest on."""
    sizes = {one.source for stretch in route for one in (stretch.cable.first, stretch.cable.second)}
    return "; ".join(citation(key) for key in (COPPER, *sorted(sizes), JUDGEMENT))


def loop_expectation(drawing: Drawing, path: str, box: str) -> Expectation:
    """Loop resistance expected at a box of a path with its pair bridged there, in ohm.

    The interval is ± 2u of the expectation alone (JCGM 100); the meter's part is added when a
    reading is judged.
    """
    soil = drawing.site.soil
    route = drawing.route(path, box)
    value = route_r_ohm((stretch.cable for stretch in route), soil.test_day_c)
    budget = loop_budget(route, soil)
    u = Budget(value, budget).u
    return Expectation(
        name="loop-resistance",
        quantity="resistance",
        sides="interval",
        value=value,
        low=max(0.0, value - 2 * u),
        high=value + 2 * u,
        u=u,
        conditions=f"pair bridged at {box}, soil at {drawing.degrees(soil.test_day_c)}",
        formula=FORMULA,
        inputs=_inputs(route, drawing.site.site.units),
        source=_sources(route),
        budget=budget,
        what_below="bridged or shorted before the end, or thicker or shorter cable than drawn",
        what_above="a bad joint, or longer or thinner cable than drawn",
    )
