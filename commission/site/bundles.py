"""What must hold of an old bundle's conductors, and of the pairs chosen out of them.

Works on the raw tables, as `relations` does; what is not of the right shape is passed over here.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from typing import Any

from commission.problems import nearest
from commission.site.tables import Finding, Row, rows_of
from commission.text import visible
from commission.toml_place import Location


def of_bundles(
    table: Row, boxes: Mapping[str, set[str]], cable_kinds: set[str]
) -> Iterator[Finding]:
    """Every problem; `boxes` holds for each path the boxes that its segments lead to."""
    conductors: dict[str, set[str]] = {}
    for place, path in rows_of(table, "path"):
        own = str(path.get("id"))
        names: set[str] = set()
        conductors[own] = names
        for at, row in rows_of(path, "conductor", place):
            yield from _of_conductor(at, row, boxes.get(own, set()), cable_kinds)
            name = row.get("id")
            if isinstance(name, str):
                if name.lower() in {one.lower() for one in names}:
                    yield (*at, "id"), f"conductor '{visible(name, 40)}' is described twice", ""
                names.add(name)
        if len(names) == 1:
            yield (*place, "conductor"), "one conductor is no pair", "describe all of the bundle"
    yield from _of_pairs(table, boxes, cable_kinds, conductors)


def _of_conductor(place: Location, row: Row, boxes: set[str], kinds: set[str]) -> Iterator[Finding]:
    yield from _unknown((*place, "cable"), row.get("cable"), kinds, "cable kind")
    passes = row.get("passes")
    for number, box in enumerate(passes if isinstance(passes, Sequence) else ()):
        yield from _unknown((*place, "passes", number), box, boxes, "box on this path called")


def _of_pairs(
    table: Row,
    boxes: Mapping[str, set[str]],
    kinds: set[str],
    conductors: Mapping[str, set[str]],
) -> Iterator[Finding]:
    seen: set[tuple[str, str]] = set()
    for place, row in rows_of(table, "pair"):
        path, box, names = row.get("path"), row.get("box"), row.get("conductors")
        yield from _unknown((*place, "path"), path, set(boxes), "path")
        cable = row.get("cable")
        for name in cable if isinstance(cable, list) else [cable]:
            yield from _unknown((*place, "cable"), name, kinds, "cable kind")
        if not isinstance(path, str) or not isinstance(box, str) or path not in boxes:
            continue
        led_to = boxes[path] - {"output"}
        yield from _unknown((*place, "box"), box, led_to, "box on this path called")
        if (path, box) in seen:
            yield (*place, "box"), f"two pairs lead to box '{visible(box, 40)}'", "leave one"
        seen.add((path, box))
        known = conductors.get(path, set())
        for number, name in enumerate(names if known and isinstance(names, list) else ()):
            at = (*place, "conductors", number)
            yield from _unknown(at, name, known, "conductor of this path called")


def _unknown(place: Location, name: Any, known: set[str], what: str) -> Iterator[Finding]:
    if isinstance(name, str) and name not in known:
        yield place, f"there is no {what} '{visible(name, 40)}'", nearest(name, known)
