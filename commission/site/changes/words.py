"""A change in words: what it is about, as it was drawn, and as it is found."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

from commission.site.changes.apply import joined
from commission.site.changes.found import feeding, found
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

Told = tuple[str, str, str]  # what it is about, before, and after
SO_ALREADY = "this is drawn so already"  # said of a change that changes nothing


def told(table: Any, change: Change) -> Told:
    """Subject, before and after; `table` holds the site as it is before the change.

    Raises InputRefused for a place that is not there.
    """
    match change:
        case AddStation() | ChangeStation() | MoveStation() | DeleteStation():
            subject, before, after = _of_station(table, change)
        case Rename():
            before, after = _label(table, change), change.label or "no label"
            subject = f"{change.what} {change.identity}"
        case SwapAddresses():
            subject, before, after = _swapped(table, change)
        case ChangeBox():
            subject = f"path {change.path}, box {change.box}"
            before, after = _box_words(table, change)
        case _:
            subject, before, after = _of_cable(table, change)
    kinds = " and ".join(name for _, name, _ in described(change))
    return subject, before, f"{after}, with the data of {kinds}" if kinds else after


def _of_cable(table: Any, change: Length | Cable | AddBox | AddEnd | DeleteBox) -> Told:
    match change:
        case Length():
            row = feeding(table, change.path, change.box)
            after = change.length or row["length"]
            after += f" by {change.length_by}" if change.length_by else ""
            return _cable_of(change.path, row), row["length"], after
        case Cable():
            row = feeding(table, change.path, change.box)
            before = row.get("cable", found(table["path"], change.path, "path")["cable"])
            before = before if isinstance(before, str) else " and ".join(before)
            return _cable_of(change.path, row), before, change.cable
        case AddBox():
            row = feeding(table, change.path, change.before_box)
            after = f"box {change.box} after {change.length_to}, {change.length_on} on"
            return _cable_of(change.path, row), f"{row['length']}, no box", after
        case AddEnd():
            found(table["path"], change.path, "path")
            after = f"box {change.box}, {change.length} on"
            return f"path {change.path}, from {change.from_box}", "no cable", after
        case DeleteBox():
            row = feeding(table, change.path, change.box)
            before = f"{row['length']} from {row['from']}"
            after = f"not there{_joined(table, change)}"
            return f"path {change.path}, box {change.box}", before, after


def _swapped(table: Any, change: SwapAddresses) -> Told:
    rows = [found(table["station"], one, "station") for one in (change.station, change.other)]
    first, second = (row["address"] for row in rows)
    subject = " and ".join(str(row["number"]) for row in rows)
    return f"stations {subject}", f"addresses {first} and {second}", f"{second} and {first}"


def _of_station(
    table: Any, change: AddStation | ChangeStation | MoveStation | DeleteStation
) -> Told:
    if isinstance(change, AddStation):
        after = f"{change.station}, address {change.address}, box {change.box}"
        return f"station {change.number}", "not drawn", after
    row = found(table["station"], change.station, "station")
    subject, place = f"station {row['number']}", f"path {row['path']}, box {row['box']}"
    match change:
        case ChangeStation():
            return subject, *_station_words(row, change)
        case MoveStation():
            return subject, place, f"path {change.path}, box {change.box}"
        case DeleteStation():
            return subject, place, "not there"


def _cable_of(path: str, row: Any) -> str:
    return f"path {path}, cable {row['from']} to {row['to']}"


def _joined(table: Any, change: DeleteBox) -> str:
    """The one cable that a box in the middle leaves, "" where it is an end."""
    path, row = found(table["path"], change.path, "path"), feeding(table, change.path, change.box)
    below = next((one for one in path["segment"] if one["from"] == change.box), None)
    if below is None:
        return ""
    new = {**path, **below, **joined(path, row, below)}
    by = new.get("length_by", "drawing")
    return f"; one cable of {new['length']} by {by}, {new['from']} to {new['to']}"


def _label(table: Any, change: Rename) -> str:
    """The label that it has now, "" for none."""
    rows = table.get(change.what, [])
    if change.what == "box":
        rows = [row for path in table["path"] for row in path.get("box", ())]
    return str(next((r.get("label", "") for r in rows if r["id"] == change.identity), ""))


def _station_words(row: Any, change: ChangeStation) -> tuple[str, str]:
    """What of a station is another: before and after."""
    coils = row["solenoid"]
    kinds = " and ".join(dict.fromkeys(str(coil["kind"]) for coil in coils))
    pairs = (
        ("number", row["number"], change.number),
        ("address", row["address"], change.address),
        ("decoder", row["decoder"], change.decoder),
        ("solenoid", kinds, change.solenoid),
        ("solenoids", len(coils), change.solenoids),
        ("waters", row.get("waters", ""), change.waters),
        ("label", row.get("label", ""), change.label),
    )
    return _both(pairs)


def _box_words(table: Any, change: ChangeBox) -> tuple[str, str]:
    rows = found(table["path"], change.path, "path").get("box", ())
    row: Any = next((one for one in rows if one["id"] == change.box), {})
    return _both(
        (
            ("label", row.get("label", ""), change.label),
            ("location", row.get("location", ""), change.location),
        )
    )


def _both(pairs: Iterable[tuple[str, object, object]]) -> tuple[str, str]:
    """Both sides of what is another, each named; what stays is not told."""
    changed = [(name, old, new) for name, old, new in pairs if new is not None]
    before, after = (
        ", ".join(f"{row[0]} {_said(row[side])}" for row in changed) for side in (1, 2)
    )
    return before, after


def _said(value: object) -> str:
    return str(value) if value != "" else "not told"
