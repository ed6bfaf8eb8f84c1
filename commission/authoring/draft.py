"""What a new site file is written from. Every quantity is text with its unit, as in the file."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Literal

Kind = Mapping[str, object]  # the keys of one kind, as the site file has them
Units = Literal["US", "SI"]


@dataclass(frozen=True, slots=True)
class DraftSegment:
    """Cable from one box to the next; `cable` is a kind, "" for the path's own."""

    from_box: str
    to_box: str
    length: str
    cable: str = ""


@dataclass(frozen=True, slots=True)
class DraftPath:
    """One path, its segments in walking order."""

    id: str
    output: str
    cable: str
    length_by: str
    segments: tuple[DraftSegment, ...]


@dataclass(frozen=True, slots=True)
class DraftStation:
    """One station with so many solenoids of one kind."""

    number: int
    address: int
    path: str
    box: str
    decoder: str
    solenoid: str
    solenoids: int = 1
    waters: str = ""


@dataclass(frozen=True, slots=True)
class Kinds:
    """Kinds by their names, as the tables of a site file have them."""

    solenoid: Mapping[str, Kind] = field(default_factory=dict)
    decoder: Mapping[str, Kind] = field(default_factory=dict)
    cable: Mapping[str, Kind] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class Supply:
    """Mains and transformer, alike for all outputs."""

    mains: str
    frequency: str
    rated_voltage: str = "24 V"
    rating: str = "60 VA"
    regulation: str = "12 %"
    stations_at_once: int = 1


@dataclass(frozen=True, slots=True)
class Draft:
    """A whole site. `assumed` says in words what was not known and what stands in for it."""

    name: str
    units: Units
    supply: Supply
    kinds: Kinds
    paths: tuple[DraftPath, ...]
    stations: tuple[DraftStation, ...]
    assumed: tuple[str, ...] = ()


def usual_supply(units: Units, stations_at_once: int = 1) -> Supply:
    """Mains as they usually are where people measure in these units (common practice)."""
    mains, frequency = ("120 V", "60 Hz") if units == "US" else ("230 V", "50 Hz")
    return Supply(mains, frequency, stations_at_once=stations_at_once)
