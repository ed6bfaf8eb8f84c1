"""Looks up in the tables of a site file what a change names; refuses in words what is not there."""

from __future__ import annotations

from typing import Any

from commission.problems import InputRefused, nearest

Table = Any  # a mapping that can be changed; the shape is checked when the file is read


def found(rows: Any, identity: str, what: str) -> Table:
    """The row with an id; raises InputRefused naming the nearest."""
    by_id = {row["id"]: row for row in rows}
    if identity not in by_id:
        raise InputRefused(f"there is no {what} '{identity}'; {nearest(identity, by_id)}")
    return by_id[identity]


def feeding(table: Table, path: str, box: str) -> Table:
    """The segment that leads to a box; raises InputRefused naming the nearest."""
    rows = {row["to"]: row for row in found(table["path"], path, "path")["segment"]}
    if box not in rows:
        raise InputRefused(f"there is no box '{box}' on path {path}; {nearest(box, rows)}")
    return rows[box]


def drop(table: Table, key: str, by: str, value: str) -> None:
    """Take the row out whose key `by` has this value; a list that is empty then goes too."""
    rows = table[key]
    del rows[next(n for n, row in enumerate(rows) if row[by] == value)]
    if not len(rows):
        del table[key]
