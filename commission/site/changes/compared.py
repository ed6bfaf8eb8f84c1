"""What differs between two states of a site file, value by value, in words."""

from __future__ import annotations

import tomllib
from collections.abc import Iterator, Mapping
from typing import Any

from commission.site.changes.drawing import tables_of
from commission.site.changes.words import Told
from commission.text import visible

_NAMED_BY = ("id", "to", "box")  # what tells the rows of a list apart
_WORDS = {"segment": "cable to"}
_MOST_SHOWN = 60  # characters of a value


def differences(before: Mapping[str, Any], after: Mapping[str, Any]) -> tuple[Told, ...]:
    """Every value of a site's tables that is another, comes or goes; a whole row as one."""
    return tuple(_differences(before, after, ()))


def given_up(began: str, file: str, kept: str) -> tuple[Told, ...]:
    """What a file says now that goes when a kept text takes its place: as it is, and what comes.

    `began` is the file's text from which the kept one began: what the file says now as it did then
    is changed by the kept text alone, and not told. A text that is no TOML tells nothing.
    """
    try:
        tables = tables_of(file)
        lost = differences(tables, tables_of(kept))
        others = [what for what, _, _ in differences(tables_of(began), tables)]
    except (tomllib.TOMLDecodeError, RecursionError, ValueError):
        return ()
    return tuple(one for one in lost if any(_same_thing(one[0], what) for what in others))


def _same_thing(one: str, other: str) -> bool:
    """Whether two subjects are the same, or one is a part of the other."""
    return f"{one}, ".startswith(f"{other}, ") or f"{other}, ".startswith(f"{one}, ")


def _differences(
    before: Mapping[str, Any], after: Mapping[str, Any], place: tuple[str, ...]
) -> Iterator[Told]:
    for key in dict.fromkeys((*before, *after)):
        old, new = before.get(key), after.get(key)
        if old == new:
            continue
        here = (*place, _WORDS.get(key, visible(key.replace("_", " "), _MOST_SHOWN)))
        if all(value is None or _is_rows(value) for value in (old, new)):
            yield from _of_rows(_by_name(old or ()), _by_name(new or ()), here)
        elif isinstance(old, Mapping) and isinstance(new, Mapping):
            yield from _differences(old, new, here)
        else:
            yield ", ".join(here), _shown(old), _shown(new)


def _of_rows(
    before: Mapping[str, Any], after: Mapping[str, Any], place: tuple[str, ...]
) -> Iterator[Told]:
    for name in dict.fromkeys((*before, *after)):
        old, new = before.get(name), after.get(name)
        here = (*place[:-1], f"{place[-1]} {visible(name, _MOST_SHOWN)}")
        if old is None or new is None:
            yield ", ".join(here), _shown(old), _shown(new)
        elif old != new:
            yield from _differences(old, new, here)


def _is_rows(value: Any) -> bool:
    return isinstance(value, list) and bool(value) and all(isinstance(o, Mapping) for o in value)


def _by_name(rows: Any) -> dict[str, Any]:
    """The rows of a list by what names them, else by their number."""
    named: dict[str, Any] = {}
    for number, row in enumerate(rows, start=1):
        name = next((str(row[key]) for key in _NAMED_BY if key in row), str(number))
        named[name if name not in named else f"{name}, row {number}"] = row
    return named


def _shown(value: Any) -> str:
    if value is None:
        return "not there"
    if isinstance(value, Mapping):
        return "there"
    if isinstance(value, list):
        return visible(", ".join(str(one) for one in value), _MOST_SHOWN)
    return visible(str(value), _MOST_SHOWN)
