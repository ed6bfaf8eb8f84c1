"""Kinds of the user's own copied into the text of a site file, as a new site has them."""

from __future__ import annotations

import tomllib
from collections.abc import Sequence

from commission.authoring.catalogue import NAME
from commission.authoring.writing import kind_lines
from commission.site.changes.kinds import Change, described


def with_kinds(text: str, change: Change, where: str = f"your {NAME}") -> str:
    """The text with a block for each kind that a change describes, behind those of its sort.

    `where` says behind each key where its value comes from.

    All else stays, line ends too. Where there is no such place, or the file has that kind, the text
    comes back as it is: then it is for the change itself to bring the kind.
    """
    for table, name, kind in described(change):
        lines = text.splitlines(keepends=True)
        place = _behind(lines, table)
        if not place:
            continue
        end = "\r\n" if lines[place - 1].endswith("\r\n") else "\n"
        block = "".join(f"{line}{end}" for line in ("", *kind_lines(table, name, kind, where)))
        found = "".join([*lines[:place], block, *lines[place:]])
        if _has_only_that_more(text, found, table, name, kind):
            text = found
    return text


def _behind(lines: Sequence[str], table: str) -> int:
    """The line behind the last block of a sort of kind; 0 without one."""
    heads = [n for n, line in enumerate(lines) if line.startswith("[")]
    own = [n for n in heads if lines[n].startswith(f"[{table}.")]
    if not own:
        return 0
    place = next((n for n in heads if n > own[-1]), len(lines))
    while not lines[place - 1].strip() or lines[place - 1].startswith("#"):
        place -= 1  # what stands above the next block belongs to it
    return place if lines[place - 1].endswith("\n") else 0


def _has_only_that_more(
    before: str, after: str, table: str, name: str, kind: dict[str, str | int]
) -> bool:
    try:
        was, now = (tomllib.loads(text.removeprefix("\ufeff")) for text in (before, after))
    except tomllib.TOMLDecodeError:
        return False
    return now == {**was, table: {**was.get(table, {}), name: kind}}
