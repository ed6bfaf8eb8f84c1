"""Rows of the published tables, read from their TOML files."""

from __future__ import annotations

import tomllib
from dataclasses import dataclass
from pathlib import Path
from typing import Any

FOLDER = Path(__file__).parent.parent / "published"


@dataclass(frozen=True)
class Row:
    """One published value: what it is a value of, where it stands, how close to come."""

    table: str
    law: str
    given: dict[str, Any]
    value: float
    unit: str
    conditions: str
    source: str
    tolerance: float
    how: str

    def __str__(self) -> str:
        return f"{self.table}-{self.law}-{'-'.join(str(v) for v in self.given.values())}"


def read_rows() -> list[Row]:
    """All rows of all tables; a row that lacks a key is a TypeError."""
    return [
        Row(table=path.stem, **row)
        for path in sorted(FOLDER.glob("*.toml"))
        for row in tomllib.loads(path.read_text(encoding="utf-8"))["row"]
    ]
