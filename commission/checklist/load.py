"""Reads a checklist: all its problems at once, or a `Checklist`."""

from __future__ import annotations

import copy
from collections.abc import Iterator
from pathlib import Path
from typing import TYPE_CHECKING, Any

from commission.checklist.schema import FORMAT, KIND, Checklist
from commission.problems import InputRefused, Problem
from commission.shapes import build, validate
from commission.text import visible
from commission.toml_place import (
    Places,
    named,
    parse_toml,
    problems_of,
    read_input,
    refuse_other_kinds,
)

if TYPE_CHECKING:
    from pydantic import ValidationError

    from commission.checklist.finding import Where


def load_checklist(path: Path) -> Checklist:
    """Read a checklist; raises InputRefused with every problem of it."""
    return parse_checklist(read_input(path), visible(str(path)))


def parse_checklist(data: bytes, name: str, *, known_good: bool = False) -> Checklist:
    """A checklist from the bytes of its file; raises InputRefused with every problem of it.

    `known_good`: these bytes were accepted before, as a digest proves, and are only built.
    """
    table, places = parse_toml(data, name)
    refuse_other_kinds(table, name, KIND, FORMAT, "a checklist", places)
    if known_good:
        return build(Checklist, table)
    from pydantic import ValidationError  # a resumed job does without, and without the checks

    from commission.checklist.checks import check

    try:
        checklist = validate(Checklist, table)
    except ValidationError as error:
        problems = problems_of(error, name, places, Checklist, table)
        problems += _of_the_readable(table, error, name, places)
        raise InputRefused(_sorted(problems)) from None
    problems = [
        Problem(name, one.message, named(one.where, table), places.line(one.where), one.remedy)
        for one in check(checklist)
    ]
    if problems:
        raise InputRefused(_sorted(problems))
    return checklist


def _sorted(problems: list[Problem]) -> list[Problem]:
    return sorted(problems, key=lambda problem: (problem.line or 0, problem.key))


def _of_the_readable(
    table: dict[str, Any], error: ValidationError, name: str, places: Places
) -> Iterator[Problem]:
    """What is wrong between the items that can be read, those that cannot left out."""
    rest = copy.deepcopy(table)
    wrong = _unreadable_items(error)
    kept: dict[int, list[int]] = {}
    missing: set[str] = set()
    stages = rest.get("stage")
    if not isinstance(stages, list):
        return
    for number, stage in enumerate(stages):
        items = stage.get("item") if isinstance(stage, dict) else None
        if not isinstance(items, list):
            return
        kept[number] = [place for place in range(len(items)) if (number, place) not in wrong]
        left_out = [items[place] for place in range(len(items)) if (number, place) in wrong]
        ids = (item.get("id") for item in left_out if isinstance(item, dict))
        missing |= {one for one in ids if isinstance(one, str)}
        stage["item"] = [items[place] for place in kept[number]]
    from pydantic import ValidationError

    from commission.checklist.checks import check
    from commission.checklist.finding import ALL

    try:
        checklist = validate(Checklist, rest)
    except ValidationError:
        return
    for one in check(checklist):
        if one.rests_on != ALL and one.rests_on not in missing:
            where = _as_in_file(one.where, kept)
            yield Problem(name, one.message, named(where, table), places.line(where), one.remedy)


def _unreadable_items(error: ValidationError) -> set[tuple[int, int]]:
    """Stage and place of the items whose form is wrong."""
    found = set()
    for one in error.errors(include_url=False, include_context=False, include_input=False):
        place = one["loc"]
        if len(place) > 3 and isinstance(place[1], int) and isinstance(place[3], int):
            found.add((place[1], place[3]))
    return found


def _as_in_file(where: Where, kept: dict[int, list[int]]) -> Where:
    """A place among the readable items as a place in the file."""
    if len(where) < 4 or not isinstance(where[1], int) or not isinstance(where[3], int):
        return where
    return (*where[:3], kept[where[1]][where[3]], *where[4:])
