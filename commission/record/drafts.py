"""The half-typed entry, kept when the program is ended, and offered again at the next opening.

It is no part of the record: a convenience that may fail without harm.
"""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import tomli_w

from commission.problems import CommissionError
from commission.text import clean
from commission.toml_place import parse_toml

if TYPE_CHECKING:
    from commission.host import Disk

NAME = "unfinished.toml"


def read(disk: Disk, folder: Path, after_entry: int) -> tuple[str, str]:
    """The step and the text typed but not confirmed for it; both "" for none or unreadable.

    `after_entry` is the number of entries in the record: a text typed before the last was
    confirmed is out of date.
    """
    try:
        table, _places = parse_toml(disk.read(folder / NAME), NAME)
        if table["after_entry"] != after_entry:
            return "", ""
        return str(table["step"]), clean(str(table["text"]))
    except (OSError, CommissionError, ValueError, KeyError):
        return "", ""


def write(disk: Disk, folder: Path, after_entry: int, step: str, text: str) -> None:
    """Keep a half-typed text; an empty one clears what was kept. Never raises for the disk."""
    from commission.host import write_atomically

    try:
        if text.strip() or read_any(disk, folder):
            kept = {
                "kind": "commission unfinished entry",
                "format": 1,
                "after_entry": after_entry,
                "step": step,
                "text": text,
            }
            write_atomically(disk, folder / NAME, tomli_w.dumps(kept).encode("utf-8"))
    except (OSError, CommissionError):
        return


def read_any(disk: Disk, folder: Path) -> bool:
    """Whether a draft file is there at all."""
    try:
        return bool(disk.read(folder / NAME))
    except OSError:
        return False
