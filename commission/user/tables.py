"""The user's own files: read strictly, written whole, private to the user."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import Any, TypeVar

import tomli_w
from pydantic import ValidationError

from commission.problems import InputRefused, Problem, nearest
from commission.text import visible
from commission.toml_place import parse_toml, refuse_other_kinds
from commission.user.file_shapes import Table
from commission.user.folder import make_private

T = TypeVar("T", bound=Table)


def read(path: Path, shape: type[T], kind: str, newest: int) -> T | None:
    """Return a user file checked against its shape; None when there is none yet.

    Raises InputRefused with every problem of the file.
    """
    try:
        content = path.read_bytes()
    except FileNotFoundError:
        return None
    except OSError as error:
        raise InputRefused([Problem(str(path), error.strerror or str(error))]) from error
    table, _places = parse_toml(content, str(path))
    refuse_other_kinds(table, str(path), kind, newest, f"a file of {kind.split()[-1]}")
    return check(path, shape, table)


def check(path: Path, shape: type[T], table: Mapping[str, Any]) -> T:
    """Return a table checked against its shape; raises InputRefused with every problem."""
    try:
        return shape.model_validate(table)
    except ValidationError as error:
        problems = [_problem(path, shape, dict(one)) for one in error.errors(include_url=False)]
        raise InputRefused(problems) from None


def write(path: Path, shape: type[Table], table: Mapping[str, Any]) -> None:
    """Check a table and replace a user file with it whole; what says nothing is left out.

    Raises InputRefused, CouldNotWrite.
    """
    from commission.host import Disk, write_atomically

    content = tomli_w.dumps(check(path, shape, table).model_dump(exclude_defaults=True))
    make_private(path.parent)
    write_atomically(Disk(), path, content.encode("utf-8"))


def replaced(rows: list[dict[str, Any]], new: dict[str, Any], key: str) -> list[dict[str, Any]]:
    """Return the rows with `new` in the place of the one of the same key, or at the end."""
    if any(row[key] == new[key] for row in rows):
        return [new if row[key] == new[key] else row for row in rows]
    return [*rows, new]


def _problem(path: Path, shape: type[Table], error: dict[str, Any]) -> Problem:
    """One pydantic error in our words: its key counted from 1, and the nearest valid key."""
    keys = [str(key + 1) if isinstance(key, int) else visible(key, 60) for key in error["loc"]]
    message = str(error["msg"]).removeprefix("Value error, ")
    remedy = ""
    if error["type"] == "extra_forbidden":
        message = "this key is not known"
        remedy = nearest(keys[-1], _known_keys(shape, error["loc"][:-1]))
    elif error["type"] == "missing":
        message = "this key is missing"
    return Problem(str(path), visible(message, 300), ".".join(keys), remedy=remedy)


def _known_keys(shape: type[Table], place: tuple[int | str, ...]) -> list[str]:
    """The keys that a table may have at this place of a file."""
    for key in place:
        if isinstance(key, int):
            continue
        inner = [
            argument
            for argument in getattr(shape.model_fields[key].annotation, "__args__", ())
            if isinstance(argument, type) and issubclass(argument, Table)
        ]
        if not inner:
            return []
        shape = inner[0]
    return list(shape.model_fields)
