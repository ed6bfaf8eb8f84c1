"""The causes that make an output's voltages and currents uncertain, and what each contributes."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from math import hypot, sqrt

from commission.electrical import solenoids
from commission.electrical.conductors import COPPER_PER_K
from commission.electrical.distributions import rectangular_u
from commission.electrical.segments import MAX_JOINT_OHM
from commission.electrical.uncertainty import Contribution
from commission.expected.inputs import DC_ERROR, LENGTH_ERROR, LENGTH_WORDS, Drawing
from commission.site.schema import Output, Solenoid, Station

COIL_R = "coil-r"  # the key of the resistance of a kind of coil whose data sheet is silent

# How far a source's open voltage may be from its data (judgement; transformers are wound so).
E_ERROR = 0.03
# How far all coils of a kind may be from its data, and one coil from its kind (judgement).
KIND_ERROR = 0.03
OWN_ERROR = 0.05
_NOTHING = 1e-6  # of the largest contribution


@dataclass(frozen=True, slots=True)
class Cause:
    """One cause of uncertainty: a name, the words for it, and its rectangular half-width.

    The half-width is a fraction, but for "soil" (kelvin).
    """

    key: str
    words: str
    half_width: float


def coil_key(station: Station, coil: Solenoid) -> str:
    """The variable of one coil alone; that of its kind's cause stands in front."""
    return f"own/{coil.kind}/{station.id}/{coil.id}"


def segment_u_ohm(r_ohm: float, soil_k: float) -> float:
    """Standard uncertainty that one segment has for itself [Ω], beside what all share.

    Its soil may be ± `soil_k` from the others', and each of its two joints has 0 to
    `MAX_JOINT_OHM`.
    """
    joints_ohm = rectangular_u(MAX_JOINT_OHM / 2) * sqrt(2)
    return hypot(r_ohm * COPPER_PER_K * rectangular_u(soil_k), joints_ohm)


def causes_of(
    drawing: Drawing, output: Output, paths: Sequence[str], stations: Sequence[Station]
) -> tuple[Cause, ...]:
    """Everything that makes the voltages and currents of an output uncertain, each once."""
    site, soil = drawing.site, drawing.site.soil
    stretches = [
        drawing.stretch(path, segment)
        for path in paths
        for segment in drawing.trees[path].feeds.values()
    ]
    found = [
        Cause("E", f"source E, ±{E_ERROR * 100:g} % (judgement)", E_ERROR),
        Cause(
            "Zs", f"source Zs, ±{output.source_uncertainty * 100:g} %",
            output.source_uncertainty,
        ),
        Cause(
            "soil", f"soil temperature, ±{soil.test_day_uncertainty_k:g} K",
            soil.test_day_uncertainty_k,
        ),
    ]  # fmt: skip
    for by in sorted({s.length_by for s in stretches}):
        words = f"{LENGTH_WORDS[by]}, ±{LENGTH_ERROR[by] * 100:g} %"
        found.append(Cause(f"length/{by}", words, LENGTH_ERROR[by]))
    for kind in sorted({name for s in stretches for name in s.kinds}):
        conductor = drawing.conductors[kind]
        width = conductor.high_r20_ohm_per_m - conductor.low_r20_ohm_per_m
        fraction = width / 2 / conductor.r20_ohm_per_m
        found.append(Cause(f"conductor/{kind}", f"cable {kind}, ±{fraction * 100:.1f} %", fraction))
    for name in sorted({s.decoder for s in stations}):
        part = site.decoder_kind[name].standby_uncertainty
        found.append(Cause(f"standby/{name}", f"standby of {name}, ±{part * 100:g} %", part))
        if site.decoder_kind[name].dc_resistance_ohm:
            words = f"d.c. resistance of {name}, ±{DC_ERROR * 100:g} % (judgement)"
            found.append(Cause(f"dc/{name}", words, DC_ERROR))
    for name in sorted({one.kind for s in stations for one in s.solenoid}):
        found.append(
            Cause(
                f"coil/{name}", f"all coils {name}, ±{KIND_ERROR * 100:g} % (judgement)", KIND_ERROR
            )
        )
        found.append(
            Cause(f"own/{name}", f"this coil {name}, ±{OWN_ERROR * 100:g} % (judgement)", OWN_ERROR)
        )
        if site.solenoid_kind[name].coil_resistance_ohm is None:
            part = solenoids.UNKNOWN_R_ERROR
            words = f"resistance of coils {name}, not stated, ±{part * 100:g} % (judgement)"
            found.append(Cause(f"{COIL_R}/{name}", words, part))
    return tuple(found)


def contributions(causes: Iterable[Cause], slope: Mapping[str, float]) -> tuple[Contribution, ...]:
    """What each cause gives a value that moves with these slopes, the largest first.

    To first order (JCGM 100 5.1.2); causes that do not move it are left out.
    """
    coils = {key: by for key, by in slope.items() if key.startswith("own/")}
    parts = [_contribution(cause, slope, coils) for cause in causes]
    largest = max((abs(part.effect) for part in parts), default=0.0)
    kept = [part for part in parts if abs(part.effect) > _NOTHING * largest]
    return tuple(sorted(kept, key=lambda part: -part.u))


def _contribution(
    cause: Cause, slope: Mapping[str, float], coils: Mapping[str, float]
) -> Contribution:
    """What one cause gives; of "own" each coil has its own: squares add up, the sum is normal."""
    if not cause.key.startswith("own/"):
        return Contribution(cause.words, slope.get(cause.key, 0.0) * cause.half_width)
    each = [by * cause.half_width for key, by in coils.items() if key.startswith(f"{cause.key}/")]
    if len(each) == 1:
        return Contribution(cause.words, each[0])
    return Contribution(cause.words, rectangular_u(hypot(*each)), "normal")
