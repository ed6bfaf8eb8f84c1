"""Puts a change into the tables of a site file, in place; refuses in words what cannot be.

The tables may be plain dictionaries or a document that keeps comments: only what both can do is
used, so that a job's site and the edited text of a file come about in the same way. Whether the
whole still makes sense is for the checks of the site file to say.
"""

from __future__ import annotations

import copy
import re
from collections.abc import Callable, Mapping
from typing import Any

from commission.problems import InputRefused, nearest
from commission.site.changes.found import Table, drop, feeding, found
from commission.site.changes.kinds import (
    AddBox,
    AddEnd,
    AddStation,
    Cable,
    Change,
    ChangeBox,
    ChangeStation,
    DeleteBox,
    DeleteStation,
    Length,
    MoveStation,
    Rename,
    SwapAddresses,
    described,
)
from commission.site.changes.stations import (
    add_station,
    change_station,
    delete_station,
    move_station,
    swap_addresses,
)
from commission.site.schema import CONDUCTOR_SIZE, ROOT
from commission.units import in_unit, parse_quantity

BY_STRENGTH = ("loop", "tape", "wheel", "drawing", "estimate")  # how a length was taken


def _checked(length: str) -> str:
    try:
        metres = parse_quantity(length, "length")
    except ValueError as error:
        raise InputRefused(f"the length: {error}") from None
    if metres <= 0:
        raise InputRefused("a segment of no length")
    return length


def _length(table: Table, change: Length) -> None:
    segment = feeding(table, change.path, change.box)
    if change.length:
        segment["length"] = _checked(change.length)
    if change.length_by:
        by = _pair(table, change.path, change.box)
        (segment if by is None else by)["length_by"] = change.length_by


def _cable(table: Table, change: Cable) -> None:
    segment = feeding(table, change.path, change.box)
    _refuse_pair(table, change.path, change.box)
    segment["cable"] = _cable_kind(table, change.cable)


def _describe(kinds: Table, name: str, kind: dict[str, str | int]) -> None:
    """Take in the description of a kind, unless it is there already."""
    if name not in kinds:
        kinds[name] = kind
    elif _plain(kinds[name]) != kind:
        raise InputRefused(f"the site has another kind called '{name}'; give yours another name")


def _pair(table: Table, path: str, box: str) -> Table | None:
    """The pair of an old bundle chosen for the cable to a box; it counts, not the segment."""
    rows = table.get("pair", ())
    return next((row for row in rows if (row["path"], row["box"]) == (path, box)), None)


def _refuse_pair(table: Table, path: str, box: str) -> None:
    if _pair(table, path, box) is not None:
        words = f"the cable to box {box} is a pair chosen of an old bundle"
        raise InputRefused(f"{words}; change its conductors in a text editor")


def _cable_kind(table: Table, cable: str) -> str:
    """The name of a cable kind; a size alone is described as a kind of its own where it is new."""
    kinds = table["cable_kind"]
    if cable in kinds:
        return cable
    if not CONDUCTOR_SIZE.fullmatch(cable):
        raise InputRefused(f"there is no cable kind '{cable}'; {nearest(cable, kinds)}")
    size = cable.replace("mm2", "mm²")
    name = re.sub(r"[^A-Za-z0-9]+", "-", cable.replace("mm²", "mm2"))
    if name not in kinds:
        kinds[name] = {"conductor": size}
    return name


def _add_box(table: Table, change: AddBox) -> None:
    segment = feeding(table, change.path, change.before_box)
    _refuse_pair(table, change.path, change.before_box)
    first, second = _checked(change.length_to), _checked(change.length_on)
    path = found(table["path"], change.path, "path")
    _refuse_taken(table, change.box)
    segments = path["segment"]
    place = next(n for n, row in enumerate(segments) if row["to"] == change.before_box)
    new = {"from": segment["from"], "to": change.box, "length": first}
    new |= {key: _plain(segment[key]) for key in ("length_by", "cable") if key in segment}
    segment["from"], segment["length"] = change.box, second
    segments.insert(place, new)
    _tell_new_box(path, change)


def _add_end(table: Table, change: AddEnd) -> None:
    path = found(table["path"], change.path, "path")
    if change.from_box != ROOT:
        feeding(table, change.path, change.from_box)
    _refuse_taken(table, change.box)
    new = {"from": change.from_box, "to": change.box, "length": _checked(change.length)}
    if change.cable:
        new["cable"] = _cable_kind(table, change.cable)
    path["segment"].append(new)
    _tell_new_box(path, change)


def _refuse_taken(table: Table, box: str) -> None:
    taken = {row["to"].lower() for each in table["path"] for row in each["segment"]}
    if box.lower() in taken | {ROOT}:
        raise InputRefused(f"box id '{box}' is taken")


def _tell_new_box(path: Table, change: AddBox | AddEnd) -> None:
    told = {"label": change.label, "location": change.location}
    told = {key: value for key, value in told.items() if value}
    if told:
        _tell_box(path, change.box, told)


def _plain(value: Any) -> Any:
    """A value apart from the document that it stands in."""
    return value.unwrap() if hasattr(value, "unwrap") else copy.deepcopy(value)


def _tell_box(path: Table, box: str, told: dict[str, str]) -> None:
    """Write what is known of a box into its row, made where missing."""
    row = next((one for one in path.get("box", ()) if one["id"] == box), None)
    if row is not None:
        row.update(told)
    elif "box" in path:
        path["box"].append({"id": box, **told})
    else:
        path["box"] = [{"id": box, **told}]


def _change_box(table: Table, change: ChangeBox) -> None:
    feeding(table, change.path, change.box)
    told = {"label": change.label, "location": change.location}
    said = {key: value for key, value in told.items() if value is not None}
    _tell_box(found(table["path"], change.path, "path"), change.box, said)


def _rename(table: Table, change: Rename) -> None:
    if change.what in ("path", "station"):
        found(table[change.what], change.identity, change.what)["label"] = change.label
        return
    if change.what != "box":
        raise InputRefused("a path, a box or a station has a label")
    for path in table["path"]:
        if any(row["to"] == change.identity for row in path["segment"]):
            _tell_box(path, change.identity, {"label": change.label})
            return
    raise InputRefused(f"there is no box '{change.identity}'")


def _delete_box(table: Table, change: DeleteBox) -> None:
    segment = feeding(table, change.path, change.box)
    path = found(table["path"], change.path, "path")
    inside = [
        str(row["number"])
        for row in table["station"]
        if row["path"] == change.path and row["box"] == change.box
    ]
    if inside:
        raise InputRefused(f"move or delete its stations first: number {', '.join(inside)}")
    below = [row for row in path["segment"] if row["from"] == change.box]
    if len(below) > 1:
        raise InputRefused(f"box {change.box} feeds {len(below)} others; delete those branches")
    if not below and len(path["segment"]) == 1:
        raise InputRefused(f"{change.box} is the only box of path {change.path}")
    _refuse_pair(table, change.path, change.box)
    if below:
        _refuse_pair(table, change.path, below[0]["to"])
        below[0].update(joined(path, segment, below[0]))
    drop(path, "segment", "to", change.box)
    if any(row["id"] == change.box for row in path.get("box", ())):
        drop(path, "box", "id", change.box)


def joined(path: Table, segment: Table, below: Table) -> dict[str, str]:
    """What another is of a segment that takes in the one before it, whose box is not there.

    Its length is taken in the weaker of both ways, whose error then counts for the whole: never
    less than the errors of both together. Raises InputRefused where the cables are not the same.
    """
    if _cables(path, segment) != _cables(path, below):
        words = f"the cables on both sides of box {segment['to']} are of two kinds"
        raise InputRefused(f"{words} and can't become one; make them alike first")
    new = {"from": str(segment["from"]), "length": _sum(segment["length"], below["length"])}
    ways = [str(row.get("length_by", path.get("length_by", "drawing"))) for row in (segment, below)]
    weaker = max(ways, key=BY_STRENGTH.index)
    return new if weaker == ways[1] else {**new, "length_by": weaker}


def _cables(path: Table, segment: Table) -> list[str]:
    """The kind of each of the two conductors."""
    cable = segment.get("cable", path["cable"])
    return [str(cable)] * 2 if isinstance(cable, str) else [str(one) for one in cable]


def _sum(first: str, second: str) -> str:
    """Two lengths as one, in the unit of the first."""
    unit = re.sub(r"^[-+0-9.,\s]+", "", first)
    metres = parse_quantity(first, "length") + parse_quantity(second, "length")
    return f"{round(in_unit(metres, unit, 'length'), 6):g} {unit}"


_WAYS: Mapping[type, Callable[[Table, Any], None]] = {
    Length: _length,
    Cable: _cable,
    AddBox: _add_box,
    AddEnd: _add_end,
    AddStation: add_station,
    ChangeStation: change_station,
    SwapAddresses: swap_addresses,
    MoveStation: move_station,
    ChangeBox: _change_box,
    Rename: _rename,
    DeleteStation: delete_station,
    DeleteBox: _delete_box,
}


def apply(table: Table, change: Change) -> None:
    """Make the change; raises InputRefused in words, and then the tables are of no use any more."""
    for key, name, kind in described(change):
        _describe(table[key], name, kind)
    _WAYS[type(change)](table, change)
