"""A site file with changes made to it: as tables and a Site, and as text that keeps comments."""

from __future__ import annotations

import copy
import tomllib
from collections.abc import Iterable
from typing import Any

from commission.problems import CommissionError, InputRefused, Problem
from commission.shapes import build
from commission.site.changes.apply import apply
from commission.site.changes.kinds import Change, DeleteStation
from commission.site.load import parse_site
from commission.site.relations import Relations
from commission.site.schema import Site
from commission.toml_place import Places, validated

_AS_CHANGED = "the drawing as changed"
_MARK = "\ufeff"  # some editors put it in front of a file


def changed_site(text: str, changes: Iterable[Change], *, known_good: bool = False) -> Site:
    """The site of a file that was accepted, with changes made to it.

    Raises InputRefused for a change that does not fit, and every problem that the site has then.
    `known_good`: these changes were accepted before, and the site is only built.
    """
    table = changed_tables(tables_of(text), changes)
    if known_good:
        return build(Site, table)
    nowhere = Places("")
    site, problems = validated(Site, table, _AS_CHANGED, nowhere)
    problems += Relations(table, _AS_CHANGED, nowhere).problems()
    if problems or site is None:
        raise InputRefused(problems)
    return site


def tables_of(text: str) -> dict[str, Any]:
    """The tables of a site file that was accepted before."""
    return tomllib.loads(text.removeprefix(_MARK))


def changed_tables(table: dict[str, Any], changes: Iterable[Change]) -> dict[str, Any]:
    """The tables with the changes made, the given ones left as they are; raises InputRefused."""
    changed = copy.deepcopy(table)
    for change in changes:
        apply(changed, change)
    return changed


def edited_text(text: str, change: Change, name: str = "the site file") -> str:
    """The text of a site file with one change made; comments, order and line ends stay.

    Undoing it is going back to the text before. Raises InputRefused with every problem that the
    file would have then; nothing is written anywhere.
    """
    mark = _MARK if text.startswith(_MARK) else ""
    body = text.removeprefix(mark)
    tables = tomllib.loads(body)
    wanted = changed_tables(tables, [change])
    edited = _without_station(body, tables, change) if isinstance(change, DeleteStation) else ""
    if _read(edited) != wanted:
        edited = _by_document(body, change)
    if _read(edited) != wanted or _comments(edited) < _comments(body):
        words = "this change can't be made here without rewriting the file"
        raise InputRefused([Problem(name, words, remedy="make it in a text editor")])
    parse_site((mark + edited).encode("utf-8"), name)
    return mark + edited


def _read(text: str) -> dict[str, Any] | None:
    try:
        return tomllib.loads(text)
    except tomllib.TOMLDecodeError:
        return None


def _comments(text: str) -> int:
    """How many lines are nothing but a comment."""
    return sum(line.lstrip().startswith("#") for line in text.split("\n"))


def _by_document(body: str, change: Change) -> str:
    """The text edited as a document that keeps what stands between its values; "" if it can't."""
    import tomlkit  # takes as long to load as the rest of a start
    from tomlkit.exceptions import TOMLKitError

    document = tomlkit.parse(body)
    try:
        apply(document, change)
        return tomlkit.dumps(document)
    except CommissionError:
        raise
    except (TOMLKitError, ValueError, TypeError, KeyError, IndexError):
        return ""


def _without_station(body: str, tables: dict[str, Any], change: DeleteStation) -> str:
    """The text without a station's block; comments above the next block stay."""
    place = [row["id"] for row in tables["station"]].index(change.station)
    lines = body.splitlines(keepends=True)
    starts = [n for n, line in enumerate(lines) if line.startswith("[[station]]")]
    if len(starts) != len(tables["station"]):
        return ""
    start = starts[place]
    end = next(
        (
            n
            for n in range(start + 1, len(lines))
            if lines[n].startswith("[") and not lines[n].lstrip("[").startswith("station.")
        ),
        len(lines),
    )
    while end > start and (not lines[end - 1].strip() or lines[end - 1].startswith("#")):
        end -= 1
    if end < len(lines) and not lines[end].strip():
        end += 1
    return "".join([*lines[:start], *lines[end:]])


def rewritten_text(text: str, change: Change) -> str:
    """The same for a change that was accepted; written anew where comments can't be kept."""
    try:
        return edited_text(text, change)
    except InputRefused:
        import tomli_w

        return tomli_w.dumps(changed_tables(tables_of(text), [change]))
