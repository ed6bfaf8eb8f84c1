"""Limits that a reading must keep, from the site file: defaults that local code overrides."""

from __future__ import annotations

import math
from typing import Literal

from commission.electrical.earth import MIN_DISTANCE_RATIO
from commission.electrical.segments import segment_r_ohm
from commission.electrical.sources import EARTH_TESTING, citation
from commission.expected.earth import AUXILIARY, electrode_expectation
from commission.expected.electrodes import largest_size_m
from commission.expected.inputs import DC_ERROR, Drawing
from commission.expected.loops import path_loop
from commission.expected.values import Expectation, Input
from commission.units import Quantity, length_unit, show

LOCAL = "local code and the authority having jurisdiction decide"


def limit(
    name: str,
    quantity: Quantity,
    sides: Literal["minimum", "maximum"],
    value: float,
    conditions: str,
    source: str,
    inputs: tuple[Input, ...] = (),
    what_beyond: str = "",
    estimate: Expectation | None = None,
) -> Expectation:
    """A one-sided limit as an `Expectation` (SI)."""
    at_least = sides == "minimum"
    return Expectation(
        name=name,
        quantity=quantity,
        sides=sides,
        value=value,
        low=value if at_least else None,
        high=None if at_least else value,
        u=0.0,
        conditions=conditions,
        formula=f"reading {'at least' if at_least else 'at most'} the limit",
        inputs=inputs,
        source=source,
        what_below=what_beyond if at_least else "",
        what_above="" if at_least else what_beyond,
        estimate=estimate,
    )


def site_limit(drawing: Drawing, name: str) -> Expectation | None:
    """The limit of that name that the site file sets; None when it is no limit of the site."""
    limits, supply = drawing.site.limits, drawing.site.supply
    practice, judged = citation("common practice, no source"), citation("judgement")
    if name == "insulation":
        return limit(
            name, "resistance", "minimum", limits.min_insulation_ohm,
            f"250 V d.c., no decoders connected; {LOCAL}", citation("IEC 60364-6"),
            what_beyond="damaged insulation or a wet joint",
        )  # fmt: skip
    if name == "leak-resistance":
        return limit(
            name, "resistance", "minimum", limits.min_leak_ohm,
            "multimeter only, decoders connected: indicative", f"site file; {practice}",
            what_beyond="a leak to earth: a damaged cable or a wet joint",
        )  # fmt: skip
    if name == "dead-voltage":
        return limit(
            name, "voltage", "maximum", limits.max_dead_voltage_v,
            "supply isolated", f"site file; {judged}",
            what_beyond="the path is not dead: stop, find what feeds it",
        )  # fmt: skip
    if name == "mains-voltage":
        lowest_v = supply.lowest_voltage_v
        nominal = Input("nominal", f"{supply.nominal_voltage_v:g} V", "site file")
        below = Input("lowest", f"{supply.lowest_fraction_below * 100:g} % below", "site file")
        return limit(
            name, "voltage", "minimum", lowest_v, LOCAL, f"site file; {judged}",
            inputs=(nominal, below), what_beyond="mains lower than the design allows for",
        )  # fmt: skip
    if name == "closing-time":
        return limit(
            name, "time", "maximum", limits.max_closing_time_s,
            "from switching off to the flow stopping", f"site file; {judged}",
            what_beyond="debris under the valve's seat, a bleed left open, or low pressure",
        )  # fmt: skip
    return _earth_limit(drawing, name)


def unbridged_limit(drawing: Drawing, path: str) -> Expectation:
    """What an unbridged path must show at least: the site's limit, or what its decoders let it.

    Decoders that state a d.c. resistance lie across the pair; were all of them 20 % lower than
    stated, a sound path would show that.
    """
    least_ohm, decoders_ohm = drawing.site.limits.min_unbridged_ohm, _decoders_ohm(drawing, path)
    inputs: tuple[Input, ...] = ()
    if decoders_ohm < least_ohm:
        shown = (show(ohm, "ohm", "resistance") for ohm in (least_ohm, decoders_ohm))
        names = ("limit of the site", f"decoders across the pair, {DC_ERROR * 100:g} % low")
        inputs = tuple(Input(*row, "site file") for row in zip(names, shown, strict=True))
    return limit(
        "unbridged-resistance", "resistance", "minimum", min(least_ohm, decoders_ohm),
        "nothing bridged; the reading may climb while it is taken",
        f"site file; {citation('judgement')}",
        inputs=inputs, what_beyond="a short, or a bridge left on",
    )  # fmt: skip


def _decoders_ohm(drawing: Drawing, path: str) -> float:
    """The least that the decoders of a path show an ohmmeter; infinite for a place on no path."""
    if path not in drawing.trees:
        return math.inf
    soil_c = drawing.site.soil.test_day_c
    return path_loop(
        drawing, path, None,
        lambda segment: segment_r_ohm(drawing.stretch(path, segment).cable, soil_c),
        lambda kind: 1 - DC_ERROR,
    ).r_ohm  # fmt: skip


# How the electrode is measured -> conditions of the reading, and what one beyond the limit means.
_SLOPE = (
    "what the readings at 20, 40 and 60 % give together",
    "too little electrode for this soil",
)
_ELECTRODE = {
    "earth-resistance": (
        "electrode disconnected",
        "too little electrode for this soil, or probes too close",
    ),
    "earth-clamp": (
        "electrode connected, the rest of its loop is read with it: an upper bound",
        "too little electrode for this soil, or the rest of the loop",
    ),
    "slope-20": _SLOPE,
    "slope-40": _SLOPE,
    "slope-60": _SLOPE,
}


def _earth_limit(drawing: Drawing, name: str) -> Expectation | None:
    earth = drawing.site.earth
    practice, judged = citation("common practice, no source"), citation("judgement")
    if name in _ELECTRODE:
        conditions, beyond = _ELECTRODE[name]
        method = "" if name == "earth-resistance" else f"{citation(EARTH_TESTING)}; "
        return limit(
            name, "resistance", "maximum", earth.limit_ohm, f"{conditions}; {LOCAL}",
            f"site file; usual value: {practice}; {method}{AUXILIARY}",
            what_beyond=beyond, estimate=electrode_expectation(drawing),
        )  # fmt: skip
    if name == "probe-distance":
        return _probe_distance(drawing)
    if name == "earthing-conductor":
        return limit(
            name, "resistance", "maximum", earth.conductor_limit_ohm,
            f"terminal to electrode, reconnected; {LOCAL}", f"site file; {judged}",
            what_beyond="a loose clamp or a broken earthing conductor",
        )  # fmt: skip
    return None


def _probe_distance(drawing: Drawing) -> Expectation | None:
    """Least distance of the current probe from an electrode of known size, in m."""
    size_m = largest_size_m(drawing.site.earth)
    if size_m is None:
        return None
    unit = length_unit(drawing.site.site.units)
    size = Input("largest size of the electrode", show(size_m, unit, "length"), "site file")
    several = len(drawing.site.earth.electrode) > 1
    return limit(
        "probe-distance", "length", "minimum", MIN_DISTANCE_RATIO * size_m,
        f"{MIN_DISTANCE_RATIO:g} times the largest size of the electrode"
        + ("; more where its parts lie apart" if several else ""),
        citation(EARTH_TESTING), (size,),
        what_beyond="move it farther out; where there is no room, use the slope method",
    )  # fmt: skip
