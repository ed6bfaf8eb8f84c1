"""Reads a site file: all its problems at once, or a `Site`.

Two kinds of check run on the same file and are reported together: the shape of every table, and
what must hold between them (references, trees, addresses). The second kind works on the raw tables
and passes over whatever the first kind has to complain about.
"""

from __future__ import annotations

from pathlib import Path
from typing import Any

from commission.problems import InputRefused
from commission.shapes import build
from commission.site.pairs import with_pairs
from commission.site.schema import FORMAT, KIND, Site
from commission.text import visible
from commission.toml_place import Places, parse_toml, read_input, refuse_other_kinds, validated


def load_site(path: Path) -> Site:
    """Read a site file; raises InputRefused with every problem of it."""
    return parse_site(read_input(path), visible(str(path)))


def parse_site(data: bytes, name: str, *, known_good: bool = False) -> Site:
    """A site from the bytes of its file; raises InputRefused with every problem of it.

    `known_good`: these bytes were accepted before, as a digest proves, and are only built.
    """
    table, places = parse_toml(data, name)
    if not known_good:
        return site_of(table, places, name)
    refuse_other_kinds(table, name, KIND, FORMAT, "a site file", places)
    return with_pairs(build(Site, table))


def site_of(table: dict[str, Any], places: Places, name: str) -> Site:
    """A site from the tables of its file; raises InputRefused with every problem of it."""
    refuse_other_kinds(table, name, KIND, FORMAT, "a site file", places)
    from commission.site.relations import Relations  # a resumed job does without

    site, problems = validated(Site, table, name, places)
    problems += Relations(table, name, places).problems()
    if problems or site is None:
        raise InputRefused(sorted(problems, key=lambda problem: (problem.line or 0, problem.key)))
    return with_pairs(site)
