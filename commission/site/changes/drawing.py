"""A site file with changes made to it: as tables and a Site, and as text that keeps comments."""

from __future__ import annotations

import copy
import tomllib
from collections.abc import Callable, Iterable, Sequence
from typing import Any, NamedTuple

from commission.problems import CommissionError, InputRefused, Problem
from commission.shapes import build
from commission.site.changes.apply import apply
from commission.site.changes.kinds import Change, DeleteBox, DeleteStation
from commission.site.changes.lines import (
    blocks,
    lines_of,
    lost_comments,
    with_ends_of,
    with_kinds,
    with_plain_ends,
    without_station,
)
from commission.site.changes.words import Told, told
from commission.site.load import site_of
from commission.site.relations import Relations
from commission.site.schema import Site
from commission.text import visible
from commission.toml_place import Places, parse_toml, validated

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


def edited_text(text: str, change: Change) -> str:
    """The text of a site file with one change made; comments, order and line ends stay.

    What is deleted takes its own comments along, which are told with the change (`edited`). Undoing
    it is going back to the text before. Raises InputRefused with every problem that the file would
    have then; nothing is written anywhere.
    """
    return edited(text, change).text


class Edited(NamedTuple):
    """The text of a site file after a change, its site, the change in words, and its tables."""

    text: str
    site: Site
    told: Told
    tables: dict[str, Any]


def edited(
    text: str, change: Change, name: str = "the site file", last: Edited | None = None
) -> Edited:
    """The same text, with what it comes to.

    `last` is a change made before; where its text is this one, it need not be read again.
    """
    mark = _MARK if text.startswith(_MARK) else ""
    body = with_plain_ends(text.removeprefix(mark))
    tables = last.tables if last is not None and last.text == text else tables_of(body)
    wanted = changed_tables(tables, [change])
    ways: tuple[Callable[[], str], ...] = (
        lambda: _without_station(body, tables, change),
        lambda: _in_its_block(*_with_new_kinds(body, tables, wanted), wanted, change),
        lambda: _by_document(body, change),
    )
    for way in ways:
        found = way()
        try:
            table, places = parse_toml(found.encode("utf-8"), name)
        except InputRefused:
            continue
        lost = lost_comments(body, found) if table == wanted else ()
        if table == wanted and (not lost or isinstance(change, DeleteStation | DeleteBox)):
            site = site_of(table, places, name)
            found = mark + with_ends_of(text.removeprefix(mark), found)
            return Edited(found, site, _with_comments(told(tables, change), lost), table)
    words = "this change can't be made here without rewriting the file"
    raise InputRefused([Problem(name, words, remedy="make it in a text editor")])


def _without_station(body: str, tables: dict[str, Any], change: Change) -> str:
    """The text without the lines of a station; "" for another change."""
    if not isinstance(change, DeleteStation):
        return ""
    return without_station(body, tables["station"], change.station)


def _with_comments(words: Told, lost: Sequence[str]) -> Told:
    """A change in words, with the comments that go with what it deletes."""
    what, before, after = words
    gone = ", ".join(visible(comment) for comment in lost)
    return what, before, f"{after}; its comments go too: {gone}" if lost else after


def _with_new_kinds(
    body: str, tables: dict[str, Any], wanted: dict[str, Any]
) -> tuple[str, dict[str, Any]]:
    """Text and tables with the kinds that a change describes."""
    for key in ("cable_kind", "decoder_kind", "solenoid_kind"):
        known = tables.get(key, {})
        new = {name: kind for name, kind in wanted.get(key, {}).items() if name not in known}
        if new:
            body, tables = with_kinds(body, key, new), {**tables, key: {**known, **new}}
    return body, tables


def _by_document(body: str, change: Change) -> str:
    """The text edited as a document that keeps what stands between its values; "" if it can't."""
    import tomlkit  # takes as long to load as the rest of a start

    def edit() -> str:
        document = tomlkit.parse(body)
        apply(document, change)
        return tomlkit.dumps(document)

    return _kept(edit)


def _in_its_block(body: str, tables: dict[str, Any], wanted: dict[str, Any], change: Change) -> str:
    """The same where one path or station alone changes: only its lines are parsed; else ""."""
    import tomlkit

    key, place = _only_change(tables, wanted)
    lines = lines_of(body)
    found = blocks(lines, key)
    if not key or len(found) != len(tables[key]):
        return ""
    start, end = found[min(place, len(found) - 1)]

    def edit() -> str:
        document = tomlkit.parse("".join(lines[start:end]))
        rows: Any = document[key]
        if place < len(found):
            apply(
                {**tables, key: [*tables[key][:place], rows[0], *tables[key][place + 1 :]]}, change
            )
        else:
            rows.append(wanted[key][place])
        return "".join([*lines[:start], tomlkit.dumps(document), *lines[end:]])

    return _kept(edit)


def _kept(edit: Callable[[], str]) -> str:
    """What an edit gives, "" where the document cannot be edited so; raises what it refuses."""
    from tomlkit.exceptions import TOMLKitError

    try:
        return edit()
    except CommissionError:
        raise
    except (TOMLKitError, ValueError, TypeError, KeyError, IndexError):
        return ""


def _only_change(before: dict[str, Any], after: dict[str, Any]) -> tuple[str, int]:
    """The list of tables and the place in it where alone something changed; "" if elsewhere too."""
    keys = [key for key in before.keys() | after.keys() if before.get(key) != after.get(key)]
    key = keys[0] if len(keys) == 1 else ""
    old, new = before.get(key), after.get(key)
    if not (isinstance(old, list) and isinstance(new, list) and 0 <= len(new) - len(old) <= 1):
        return "", 0
    places = [n for n in range(len(new)) if n >= len(old) or old[n] != new[n]]
    return (key, places[0]) if len(places) == 1 else ("", 0)


def rewritten_text(text: str, change: Change) -> str:
    """The same for a change that was accepted; written anew where comments can't be kept."""
    try:
        return edited_text(text, change)
    except InputRefused:
        import tomli_w

        return tomli_w.dumps(changed_tables(tables_of(text), [change]))
