"""Raw tables of a site file, for checks that run before their shape is known to be right."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any

from commission.toml_place import Location
from commission.units import Quantity, parse_quantity

Row = Mapping[str, Any]
Finding = tuple[Location, str, str]  # where, what, and the remedy


def rows_of(table: Row, key: str, within: Location = ()) -> Iterator[tuple[Location, Row]]:
    """The tables of a list in a table, with their places; whatever is no table is passed over."""
    rows = table.get(key)
    if isinstance(rows, list):
        for number, row in enumerate(rows):
            if isinstance(row, Mapping):
                yield (*within, key, number), row


def si(text: Any, quantity: Quantity) -> float | None:
    """The value of a quantity's text; None when it is none, which the schema tells."""
    try:
        return parse_quantity(text, quantity) if isinstance(text, str) else None
    except ValueError:
        return None
