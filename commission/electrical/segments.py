"""Loop resistance and impedance of a piece of cable, and the chart rule.

A *loop* is both conductors in series, as an ohmmeter at one end sees the cable when its other end
is bridged.  The two conductors may be of different cable.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

from commission.electrical.conductors import Conductor, at_temperature

JOINT_OHM: Final = 0.005
"""Best estimate of one joint of one conductor [Ω], between 0 and `MAX_JOINT_OHM` (judgement)."""

MAX_JOINT_OHM: Final = 0.010
"""Highest resistance of a sound joint [Ω] (judgement)."""


@dataclass(frozen=True, slots=True)
class Segment:
    """The cable between two boxes: its length and the two conductors of its pair."""

    length_m: float
    first: Conductor
    second: Conductor
    joint_ohm: float = JOINT_OHM


def loop_r_ohm(
    length_m: float,
    first_ohm_per_m: float,
    second_ohm_per_m: float,
    joint_ohm: float,
) -> float:
    """Loop resistance of a segment, R = L·(r₁ + r₂) + 2·Rj [Ω]: one joint on each conductor."""
    return length_m * (first_ohm_per_m + second_ohm_per_m) + 2 * joint_ohm


def loop_x_ohm(length_m: float, first_ohm_per_m: float, second_ohm_per_m: float) -> float:
    """Loop reactance of a segment, X = L·(x₁ + x₂) [Ω]."""
    return length_m * (first_ohm_per_m + second_ohm_per_m)


def segment_r_ohm(segment: Segment, temperature_c: float) -> float:
    """Loop resistance of a segment in soil of a temperature [Ω]; joints do not warm."""
    return loop_r_ohm(
        segment.length_m,
        at_temperature(segment.first.r20_ohm_per_m, temperature_c),
        at_temperature(segment.second.r20_ohm_per_m, temperature_c),
        segment.joint_ohm,
    )


def chart_length_m(
    source_v: float, min_v: float, active: float, current_a: float, r_ohm_per_m: float
) -> float:
    """Farthest distance of the sizing chart, L = (V_source - V_min)/(n·I·2·r) [m].

    n solenoids active at the far end, each drawing I (its inrush: the conservative case), on a pair
    of which each conductor has r.  The distance is inversely proportional to n.  Source: Ohm's law;
    the chart itself is common practice.
    """
    return (source_v - min_v) / (active * current_a * 2 * r_ohm_per_m)
