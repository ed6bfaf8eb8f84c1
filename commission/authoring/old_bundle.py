"""The conductors of an old bundle from one line of words, put into the paths of a draft."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from dataclasses import replace

from commission.authoring.catalogue import cable_named
from commission.authoring.draft import (
    ANSWERED,
    Draft,
    DraftConductor,
    DraftPath,
    Kind,
    Kinds,
)
from commission.site.schema import ROOT
from commission.text import visible

LEAST = 2
HINT = "white 12 AWG, red, blue to A2; empty: new cable"
_APART = re.compile(r"\s*;\s*|\s*,(?:\s+|$)")  # a comma within a number sets nothing apart
_ONE = re.compile(
    r"(?P<id>[A-Za-z0-9._-]{1,16})(?:\s+(?!to\s)(?P<size>.+?))?(?:\s+to\s+(?P<box>\S+))?"
)


def with_bundle(draft: Draft, words: str, own: Kinds) -> Draft:
    """The draft with these conductors on every path, all of them old cable; nothing: new cable.

    As "white 12 AWG, red, blue to A2": each by colour or number, its size where that is not the
    path's, and the last box that it reaches where that is not every one. Raises ValueError.
    """
    if not words:
        return draft
    listed = [_conductor(one, own) for one in _APART.split(words) if one]
    names = [name for name, *_ in listed]
    for name in names:
        if names.count(name) > 1:
            raise ValueError(f"'{name}' is named twice")
    if len(names) < LEAST:
        raise ValueError("one conductor is no pair: name all of the bundle")
    known = {segment.to_box for path in draft.paths for segment in path.segments}
    for *_, box in listed:
        if box and box not in known:
            raise ValueError(f"there is no box '{visible(box, 40)}'")
    cables = {name: kind for _, found, _ in listed for name, kind in found.items()}
    conductors = [(name, next(iter(found), ""), box) for name, found, box in listed]
    paths = tuple(replace(one, conductors=tuple(_on(one, conductors))) for one in draft.paths)
    kinds = replace(draft.kinds, cable=cables | dict(draft.kinds.cable))
    where = {f"cable_kind.{name}": ANSWERED for name in cables} | dict(draft.where)
    return replace(
        draft, paths=paths, kinds=kinds,
        where=where | {"path.new_cable": ANSWERED, "path.conductor": ANSWERED},
    )  # fmt: skip


def _conductor(words: str, own: Kinds) -> tuple[str, Mapping[str, Kind], str]:
    """Its id, its kind of cable where one is named, and the last box; raises ValueError."""
    found = _ONE.fullmatch(words)
    if found is None:
        raise ValueError(f"'{visible(words, 40)}' is no conductor; write it as in {HINT!r}")
    if not found["size"]:
        return found["id"], {}, found["box"] or ""
    try:
        name, kind = cable_named(found["size"], own)
    except ValueError as error:
        raise ValueError(f"{found['id']}: '{visible(found['size'], 40)}': {error}") from None
    return found["id"], {name: kind}, found["box"] or ""


def _on(path: DraftPath, listed: list[tuple[str, str, str]]) -> Iterator[DraftConductor]:
    """The conductors on a path; one that ends at a box passes every box on the way there."""
    before = {segment.to_box: segment.from_box for segment in path.segments}
    for name, cable, last in listed:
        way: list[str] = []
        box = last
        while box in before:
            way.insert(0, box)
            box = before[box]
        yield DraftConductor(name, cable, (ROOT, *way) if way else ())
