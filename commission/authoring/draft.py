"""What a new site file is written from. Every quantity is text with its unit, as in the file."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Literal

# Where a value comes from, as it stands behind it in the file.
ANSWERED, USUAL = "answered", "usual"
Kind = Mapping[str, object]  # the keys of one kind, as the site file has them
Units = Literal["US", "SI"]


@dataclass(frozen=True, slots=True)
class DraftSegment:
    """Cable from one box to the next; `cable` is a kind, "" for the path's own."""

    from_box: str
    to_box: str
    length: str
    cable: str = ""
    where: str = ""


@dataclass(frozen=True, slots=True)
class DraftConductor:
    """A conductor of an old bundle; `cable` "" is the path's own, no `passes` every box."""

    id: str
    cable: str = ""
    passes: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class DraftPath:
    """One path, its segments in walking order; with conductors where an old bundle carries it."""

    id: str
    output: str
    cable: str
    length_by: str
    segments: tuple[DraftSegment, ...]
    conductors: tuple[DraftConductor, ...] = ()


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
    where: str = ""


@dataclass(frozen=True, slots=True)
class Kinds:
    """Kinds by their names, as the tables of a site file have them."""

    solenoid: Mapping[str, Kind] = field(default_factory=dict)
    decoder: Mapping[str, Kind] = field(default_factory=dict)
    cable: Mapping[str, Kind] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class Transformer:
    """What feeds an output: keys of its table in the site file, and where each comes from."""

    keys: Mapping[str, str]
    where: Mapping[str, str] = field(default_factory=dict)


USUAL_TRANSFORMER = Transformer({"rated_voltage": "24 V", "rating": "60 VA", "regulation": "12 %"})


@dataclass(frozen=True, slots=True)
class Supply:
    """Mains, and the transformer of each output in their order; the last serves all further."""

    mains: str
    frequency: str
    stations_at_once: int = 1
    transformers: tuple[Transformer, ...] = (USUAL_TRANSFORMER,)


@dataclass(frozen=True, slots=True)
class Draft:
    """A whole site. `assumed` says in words what was not known and what stands in for it.

    `where` says by table and key, as in "site.name", where a value comes from; what it does not
    name is the usual value. What is told of a single output, segment or station stands there.
    """

    name: str
    units: Units
    supply: Supply
    kinds: Kinds
    paths: tuple[DraftPath, ...]
    stations: tuple[DraftStation, ...]
    assumed: tuple[str, ...] = ()
    where: Mapping[str, str] = field(default_factory=dict)


def where_from(answer: str, offered: str) -> str:
    """Where an answer comes from: it is the usual one that was offered, or somebody's own."""
    return USUAL if answer == offered else ANSWERED


def supply_where(supply: Supply, units: Units) -> dict[str, str]:
    """Where mains and how many run together come from; each transformer says it itself."""
    usual = usual_supply(units)
    return {
        "site.frequency": where_from(supply.frequency, usual.frequency),
        "supply.nominal_voltage": where_from(supply.mains, usual.mains),
        "output.stations_at_once": where_from(str(supply.stations_at_once), "1"),
    }


def usual_supply(units: Units, stations_at_once: int = 1) -> Supply:
    """Mains as they usually are where people measure in these units (common practice)."""
    mains, frequency = ("120 V", "60 Hz") if units == "US" else ("230 V", "50 Hz")
    return Supply(mains, frequency, stations_at_once)
