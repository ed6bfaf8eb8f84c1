"""What is believed before any reading, as data.

All of this is judgement: no statistics of faults in two-wire paths are published. Whoever has
better numbers for a region or an age of cable puts them in.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from types import MappingProxyType
from typing import Final

from commission.locate.faults import FaultKind

STATEMENT: Final = (
    "How often each kind of fault occurs, before anything was read, is judgement; there are no "
    "published numbers."
)

_KINDS: Final[Mapping[FaultKind, float]] = MappingProxyType(
    {
        "none": 0.3,
        "joint": 1.0,
        "cable": 0.1,
        "open": 1.0,
        "short": 1.0,
        "leak": 0.3,
        "bridge": 0.05,
        "decoder dead": 1.0,
        "wrong address": 0.5,
        "same address": 0.25,
        "swapped": 0.25,
        "solenoid open": 1.0,
        "solenoid shorted": 1.0,
        "solenoid joint": 0.2,
        "low supply": 0.1,
    }
)


@dataclass(frozen=True, slots=True)
class Priors:
    """How likely kinds of fault are, what sizes they have, and how often people slip."""

    kinds: Mapping[FaultKind, float] = field(default_factory=lambda: _KINDS)  # relative
    joint_ohm: tuple[float, float] = (0.2, 100.0)  # each ratio equally likely
    short_ohm: tuple[float, float] = (0.0, 5.0)  # evenly
    leak_ohm: tuple[float, float] = (100.0, 1e6)  # each ratio equally likely
    solenoid_short_ohm: tuple[float, float] = (0.3, 12.0)  # evenly
    solenoid_joint_ohm: tuple[float, float] = (3.0, 300.0)  # each ratio equally likely
    # What a segment lacks when its cable is shorter or thicker than drawn, as a part of it, evenly.
    # Longer or thinner cable reads like a joint in the segment and is that place.
    cable_shorter: tuple[float, float] = (0.05, 0.7)
    supply_lost: tuple[float, float] = (0.05, 0.35)  # of the source voltage, evenly
    second: float = 0.1  # how likely a further, independent fault is
    no_water: float = 0.005  # a valve that is switched gives none, or nobody sees it
    false_water: float = 0.002  # a valve that is not switched is said to give water
    false_indicator: float = 0.01  # an indicator is misread
    pull_in_over_min: float = 0.75  # where a coil pulls in, over its stated minimum
    pull_in_spread: float = 0.08  # standard deviation of that
    decoder_min_v: float = 10.0  # below this a decoder does nothing
    decoder_spread_v: float = 1.0
    trip_spread: float = 0.1  # of the current at which the output gives up, as a fraction
