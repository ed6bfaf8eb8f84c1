"""Kinds of solenoid, decoder and cable: those of the user's own file, and stand-ins for the rest.

The file is `kinds.toml` in the user's folder, with the same tables as a site file. What a new site
uses is copied into it, so that a site file stays complete by itself.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import field
from pathlib import Path
from typing import Any

from commission.authoring.draft import Kind, Kinds
from commission.problems import InputRefused, Problem
from commission.shapes import shape
from commission.site.schema import CableKind, DecoderKind, SolenoidKind, is_id
from commission.site.sense import of_tables
from commission.text import visible
from commission.toml_place import parse_toml, validated

NAME = "kinds.toml"
# Data typical of the trade (common practice, no source): to be replaced from data sheets.
USUAL_SOLENOID: Kind = {
    "inrush_current": "0.37 A",
    "holding_current": "0.19 A",
    "min_voltage": "20 V",
}
USUAL_DECODER: Kind = {"standby_current": "3 mA"}
_GAUGE = re.compile(r"#?\s*(\d{1,2}|[1-4]/0)\s*(AWG|ga|gauge|)(?:\s*-?\s*2)?", re.IGNORECASE)
_METRIC = re.compile(r"(\d+(?:[.,]\d+)?)\s*(?:mm²|mm2|mm\^2|sq\.?\s*mm)", re.IGNORECASE)


@shape
class KindsFile:
    """A file of kinds."""

    solenoid_kind: dict[str, SolenoidKind] = field(default_factory=dict)
    decoder_kind: dict[str, DecoderKind] = field(default_factory=dict)
    cable_kind: dict[str, CableKind] = field(default_factory=dict)


def own_kinds(path: Path) -> Kinds:
    """The user's own kinds; none where there is no such file.

    Raises InputRefused with every problem of the file.
    """
    name = visible(str(path))
    try:
        content = path.read_bytes()
    except FileNotFoundError:
        return Kinds()
    except OSError as error:
        raise InputRefused([Problem(name, f"can't be read: {error.strerror or error}")]) from error
    table, places = parse_toml(content, name)
    _, problems = validated(KindsFile, table, name, places)
    if not problems:
        problems = [
            Problem(name, "a name has 1 to 16 of A-Z a-z 0-9 . _ -", f"{key}.{visible(kind, 40)}")
            for key, kinds in table.items()
            for kind in kinds
            if not is_id(kind)
        ]
    if problems:
        raise InputRefused(problems)
    rows: list[dict[str, Any]] = [table.get(f"{one}_kind", {}) for one in Kinds.__slots__]
    return Kinds(*rows)


def kinds_where(used: Kinds, own: Kinds, sizes: Mapping[str, str]) -> dict[str, str]:
    """Where the data of each kind used come from; `sizes` says it of cables named by their size."""
    where = {f"cable_kind.{name}": words for name, words in sizes.items()}
    for table in ("solenoid", "decoder", "cable"):
        known: Mapping[str, Kind] = getattr(own, table)
        for name, kind in getattr(used, table).items():
            if known.get(name) == kind:
                where[f"{table}_kind.{name}"] = f"your {NAME}"
    return where


def cable_named(words: str, own: Kinds) -> tuple[str, Kind]:
    """The kind that words name: one of the user's own, or a size such as "14 AWG" or "2.5 mm²".

    A bare number is no size: it may be either. Raises ValueError.
    """
    for name, kind in own.cable.items():
        if name.casefold() == words.casefold():
            return name, kind
    metric, gauge = _METRIC.fullmatch(words), _GAUGE.fullmatch(words)
    if metric:
        size = f"{float(metric[1].replace(',', '.')):g}"
        return _standard(f"cable-{size}mm2", f"{size} mm²")
    if gauge and (gauge[2] or "#" in words or "-" in words):
        return _standard(f"cable-{gauge[1].replace('/', '-')}", f"{gauge[1]} AWG")
    raise ValueError("write a size, as 14 AWG or 2.5 mm², or the name of a kind of your own")


def _standard(name: str, size: str) -> tuple[str, Kind]:
    """A kind of one size; raises ValueError for a size that no site file may have."""
    kind = {"conductor": size}
    for _place, words, remedy in of_tables({"cable_kind": {name: kind}}):
        raise ValueError(f"{words}; {remedy.partition(', or give')[0]}")
    return name, kind
