"""Reads a site file: all its problems at once, or a `Site`.

Two kinds of check run on the same file and are reported together: the shape of every table, and
what must hold between them (references, trees, addresses). The second kind works on the raw tables
and passes over whatever the first kind has to complain about.
"""

from __future__ import annotations

from pathlib import Path
from typing import Any

from pydantic import ValidationError

from commission.problems import InputRefused, Problem
from commission.site.relations import Relations
from commission.site.schema import FORMAT, KIND, Site
from commission.text import visible
from commission.toml_place import Places, parse_toml, problems_of, refuse_other_kinds


def load_site(path: Path) -> Site:
    """Read a site file; raises InputRefused with every problem of it."""
    try:
        data = path.read_bytes()
    except OSError as error:
        reason = error.strerror or str(error)
        raise InputRefused([Problem(visible(str(path)), f"cannot be read: {reason}")]) from error
    return parse_site(data, visible(str(path)))


def parse_site(data: bytes, name: str) -> Site:
    """A site from the bytes of its file; raises InputRefused with every problem of it."""
    table, places = parse_toml(data, name)
    refuse_other_kinds(table, name, KIND, FORMAT, "a site file")
    problems: list[Problem] = []
    site = None
    try:
        site = Site.model_validate(table)
    except ValidationError as error:
        problems += problems_of(error, name, places, Site, table)
    problems += _between(table, name, places)
    if problems or site is None:
        raise InputRefused(sorted(problems, key=lambda problem: (problem.line or 0, problem.key)))
    return site


def _between(table: dict[str, Any], name: str, places: Places) -> list[Problem]:
    return Relations(table, name, places).problems()
