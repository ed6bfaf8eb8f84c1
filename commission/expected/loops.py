"""The loop resistance that a path's end should show when its conductors are bridged there.

R = Σ L·(r₁ + r₂)(T) + 2·Rj over the route, decoders or not; only a kind that states a d.c.
resistance draws part of the meter's current away. Each cause of uncertainty is one variable,
however many segments share it: the error of one way of taking lengths, the make of one kind of
cable, the soil's temperature. Only joints and the small differences of temperature from segment to
segment are independent.
"""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass

from commission.electrical.conductors import COPPER_PER_K, at_temperature
from commission.electrical.distributions import rectangular_u
from commission.electrical.segments import MAX_JOINT_OHM, segment_r_ohm
from commission.electrical.shunted import loop
from commission.electrical.sources import COPPER, JUDGEMENT, citation
from commission.electrical.uncertainty import COVERAGE_FACTOR, Budget, Contribution
from commission.expected.inputs import (
    DC_ERROR,
    LENGTH_ERROR,
    LENGTH_WORDS,
    Drawing,
    Stretch,
)
from commission.expected.values import Expectation, Input
from commission.site.schema import Segment, Soil
from commission.units import FOOT_M, plain, show

FORMULA = "R = sum of L x (r1 + r2) x (1 + 0.00393 x (T - 20)) + 2 x Rj over the route"
ACROSS = ", with the d.c. resistance of the decoders across the pair at their boxes"


@dataclass(frozen=True, slots=True)
class PathLoop:
    """What a meter at the terminals reads of a path.

    `shares` says by box how the reading moves with the segment that feeds it, ohm by ohm; a segment
    that moves nothing is left out. `decoders_ohm` says by kind how far it moves with all of the
    d.c. resistance of that kind.
    """

    r_ohm: float
    shares: Mapping[str, float]
    decoders_ohm: Mapping[str, float]


def path_loop(
    drawing: Drawing,
    path: str,
    box: str | None,
    segment_ohm: Callable[[Segment], float],
    dc_factor: Callable[[str], float] = lambda kind: 1.0,
) -> PathLoop:
    """A path with its pair bridged at a box, or unbridged: infinite where no decoder conducts.

    `segment_ohm` gives the loop resistance of a segment, `dc_factor` what the d.c. resistance of a
    kind of decoder is multiplied with.
    """
    tree, across = drawing.trees[path], drawing.across_s(path)
    if not across:
        if box is None:
            return PathLoop(math.inf, {}, {})
        route = tree.route(box)
        shares = dict.fromkeys((one.to_box for one in route), 1.0)
        return PathLoop(sum(map(segment_ohm, route)), shares, {})
    number = {box: node for node, box in enumerate(tree.boxes)}
    fed = [tree.feeds[box] for box in tree.boxes[1:]]
    parent = [-1, *(number[one.from_box] for one in fed)]
    by_kind = {
        kind: [by_box.get(box, 0.0) / dc_factor(kind) for box in tree.boxes]
        for kind, by_box in across.items()
    }
    siemens = [sum(row) for row in zip(*by_kind.values(), strict=True)]
    bridged = None if box is None else number[box]
    found = loop(parent, [0.0, *map(segment_ohm, fed)], siemens, bridged)
    return PathLoop(
        found.r_ohm,
        dict(zip(tree.boxes[1:], found.per_ohm[1:], strict=True)),
        {
            kind: -sum(s * slope for s, slope in zip(row, found.per_siemens, strict=True))
            for kind, row in by_kind.items()
        },
    )


def loop_budget(
    route: Sequence[tuple[Stretch, float]], decoders_ohm: Mapping[str, float], soil: Soil
) -> tuple[Contribution, ...]:
    """Every cause of uncertainty of a loop resistance, largest first, in ohm.

    `route` has each segment with its share of the reading, see `PathLoop`.
    """
    at_test_day = at_temperature(1.0, soil.test_day_c)
    by_length: dict[str, float] = defaultdict(float)
    by_kind: dict[str, float] = defaultdict(float)
    copper20_ohm = 0.0
    squares_by_segment = 0.0
    for stretch, share in route:
        cable = stretch.cable
        per_m = cable.first.r20_ohm_per_m + cable.second.r20_ohm_per_m
        r20_ohm = share * cable.length_m * per_m
        copper20_ohm += r20_ohm
        by_length[stretch.length_by] += r20_ohm * at_test_day
        squares_by_segment += (r20_ohm * COPPER_PER_K) ** 2
        for kind, conductor in zip(stretch.kinds, (cable.first, cable.second), strict=True):
            half_width = (conductor.high_r20_ohm_per_m - conductor.low_r20_ohm_per_m) / 2
            by_kind[kind] += share * cable.length_m * half_width * at_test_day
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
            rectangular_u(math.sqrt(squares_by_segment) * soil.segment_uncertainty_k),
            "normal",
        )
    )
    found.append(
        Contribution(
            f"{2 * len(route)} joints, 0 to {MAX_JOINT_OHM * 1000:g} mohm each",
            rectangular_u(MAX_JOINT_OHM / 2) * math.sqrt(2 * sum(share**2 for _, share in route)),
            "normal",
        )
    )
    found += [
        Contribution(
            f"d.c. resistance of {kind}, ±{DC_ERROR * 100:g} % (judgement)", DC_ERROR * ohm
        )
        for kind, ohm in decoders_ohm.items()
    ]
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


def _decoders(drawing: Drawing, found: PathLoop) -> tuple[Input, ...]:
    """The d.c. resistance of every kind of decoder that conducts."""
    kinds = drawing.site.decoder_kind
    return tuple(
        Input(f"d.c. resistance of {name}", show(ohm, "ohm", "resistance"), "site file")
        for name in found.decoders_ohm
        if (ohm := kinds[name].dc_resistance_ohm) is not None
    )


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
    found = path_loop(
        drawing, path, box,
        lambda segment: segment_r_ohm(drawing.stretch(path, segment).cable, soil.test_day_c),
    )  # fmt: skip
    feeds = drawing.trees[path].feeds
    moving = [(drawing.stretch(path, feeds[to]), share) for to, share in found.shares.items()]
    value, budget = found.r_ohm, loop_budget(moving, found.decoders_ohm, soil)
    route = drawing.route(path, box)
    u = Budget(value, budget).u
    return Expectation(
        name="loop-resistance",
        quantity="resistance",
        sides="interval",
        value=value,
        low=max(0.0, value - COVERAGE_FACTOR * u),
        high=value + COVERAGE_FACTOR * u,
        u=u,
        conditions=f"pair bridged at {box}, soil at {drawing.degrees(soil.test_day_c)}",
        formula=FORMULA + (ACROSS if found.decoders_ohm else ""),
        inputs=(*_inputs(route, drawing.site.site.units), *_decoders(drawing, found)),
        source=_sources(route),
        budget=budget,
        what_below="bridged or shorted before the end, or thicker or shorter cable than drawn",
        what_above="a bad joint, or longer or thinner cable than drawn",
    )
