"""A change in words: what it is about, as it was drawn, and as it is found."""

from __future__ import annotations

from typing import Any

from commission.site.changes.apply import feeding, found, joined
from commission.site.changes.kinds import (
    AddBox,
    AddEnd,
    AddStation,
    Cable,
    Change,
    DeleteBox,
    DeleteStation,
    Length,
    MoveStation,
    Rename,
)

Told = tuple[str, str, str]  # what it is about, before, and after


def told(table: Any, change: Change) -> Told:
    """Subject, before and after; `table` holds the site as it is before the change.

    Raises InputRefused for a place that is not there.
    """
    match change:
        case Length():
            row = feeding(table, change.path, change.box)
            after = f"{change.length} by {change.length_by}" if change.length_by else change.length
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
        case AddStation():
            subject = f"station {change.number}"
            after = f"{change.station}, address {change.address}, box {change.box}"
            return subject, "not drawn", after
        case MoveStation():
            row = found(table["station"], change.station, "station")
            after = f"path {change.path}, box {change.box}"
            return f"station {row['number']}", f"path {row['path']}, box {row['box']}", after
        case Rename():
            before = _label(table, change)
            return f"{change.what} {change.identity}", before, change.label or "no label"
        case DeleteStation():
            row = found(table["station"], change.station, "station")
            return f"station {row['number']}", f"path {row['path']}, box {row['box']}", "not there"
        case DeleteBox():
            row = feeding(table, change.path, change.box)
            before = f"{row['length']} from {row['from']}"
            after = f"not there{_joined(table, change)}"
            return f"path {change.path}, box {change.box}", before, after


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
