"""Invented sites, small enough to know by heart, and the plans made on them."""

from __future__ import annotations

from collections.abc import Mapping
from functools import cache
from itertools import pairwise
from pathlib import Path
from typing import Any

from commission.checklist.load import load_checklist
from commission.checklist.plan import Plan, build_plan
from commission.checklist.schema import Checklist
from commission.shapes import validate
from commission.site.schema import Site
from commission.site.tree import build_trees

LISTS = Path(__file__).resolve().parents[2] / "checklists"
NAMES = (
    "new-installation",
    "converted-cable",
    "added-stations",
    "inspection",
    "periodic-recheck",
)


def _path(name: str, segments: list[tuple[str, str, str]], **more: Any) -> dict[str, Any]:
    lines = [{"from": a, "to": b, "length": length} for a, b, length in segments]
    return {"id": name, "output": "1", "cable": "main", "segment": lines, **more}


def _station(number: int, path: str, box: str, *coils: str) -> dict[str, Any]:
    return {
        "id": f"S{number}",
        "number": number,
        "address": 100 + number,
        "path": path,
        "box": box,
        "decoder": "D1",
        "solenoid": [{"id": coil, "kind": "coil"} for coil in coils or ("V",)],
        "waters": f"bed {number}",
    }


def site_data() -> dict[str, Any]:
    """Two paths on one output: A branches at B1 to its ends B2 and B3, B runs straight to C2."""
    return {
        "kind": "commission site",
        "format": 1,
        "site": {
            "name": "Invented garden",
            "invented": True,
            "units": "US",
            "frequency": "60 Hz",
        },
        "controller": {"description": "Wall controller"},
        "supply": {"nominal_voltage": "120 V"},
        "output": [{"id": "1", "rating": "40 VA", "regulation": "10 %"}],
        "earth": {"conductor": "6 AWG"},
        "solenoid_kind": {"coil": {"inrush_current": "0.4 A", "holding_current": "0.2 A"}},
        "decoder_kind": {"D1": {"solenoids": 2, "standby_current": "3 mA"}},
        "cable_kind": {"main": {"conductor": "14 AWG", "marking": "UF"}},
        "path": [
            _path(
                "A",
                [("output", "B1", "100 ft"), ("B1", "B2", "50 ft"), ("B1", "B3", "20 ft")],
                label="north",
            ),
            _path("B", [("output", "C1", "10 ft"), ("C1", "C2", "30 ft")]),
        ],
        "station": [
            _station(3, "A", "B3"),
            _station(1, "A", "B1"),
            _station(2, "A", "B2", "V1", "V2"),
            _station(4, "B", "C2"),
        ],
    }


def site(**changed: Any) -> Site:
    """The site, with whole tables changed."""
    return validate(Site, site_data() | changed)


def large_site() -> Site:
    """One path of 60 boxes in a row, a station in each."""
    data = site_data()
    boxes = ["output", *(f"B{number}" for number in range(1, 61))]
    data["path"] = [_path("A", [(a, b, "60 ft") for a, b in pairwise(boxes)])]
    data["station"] = [_station(number, "A", f"B{number}") for number in range(1, 61)]
    return validate(Site, data)


@cache
def checklist(name: str = "new-installation") -> Checklist:
    """One of the checklists that come with the program."""
    return load_checklist(LISTS / f"{name}.toml")


def plan_of(
    listed: Checklist | None = None,
    on: Site | None = None,
    worst: Mapping[str, tuple[str, ...]] | None = None,
) -> Plan:
    """A checklist unrolled over a site; the worst set is stations 2 and 3 unless said."""
    on = on or site()
    return build_plan(
        listed or checklist(), on, build_trees(on), {"1": ("S2", "S3")} if worst is None else worst
    )
