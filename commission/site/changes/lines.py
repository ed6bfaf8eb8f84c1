"""The lines of a site file: their ends, their comments, and the block of a station."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Mapping, Sequence
from difflib import SequenceMatcher
from typing import Any

import tomli_w

from commission.toml_lines import comments

_CRLF = "\r\n"


def with_plain_ends(text: str) -> str:
    """The same lines with the same end each, the last one too."""
    plain = text.replace(_CRLF, "\n")
    return plain if plain.endswith("\n") else f"{plain}\n"


def with_ends_of(text: str, edited: str) -> str:
    """An edited text of plain ends with the ends of the text that was edited.

    Lines that stay keep theirs; in a file of both kinds a new line has the one that most have. A
    file without an end of its last line stays so.
    """
    count, crlf = text.count("\n"), text.count(_CRLF)
    if crlf and crlf == count:
        edited = edited.replace("\n", _CRLF)
    elif crlf:
        edited = _matched(text, edited, _CRLF if 2 * crlf > count else "\n")
    return edited if text.endswith("\n") else edited.removesuffix("\n").removesuffix("\r")


def _matched(text: str, edited: str, usual: str) -> str:
    """The edited lines, each with the end of the line of the text that it is, else the usual."""
    before = text.split("\n")
    old = [line.removesuffix("\r") for line in before]
    new = edited.split("\n")[:-1]
    ends = [_CRLF if line.endswith("\r") else "\n" for line in before[:-1]] + [usual]
    found = [usual] * len(new)
    for tag, i, i_end, j, j_end in SequenceMatcher(None, old, new, autojunk=False).get_opcodes():
        if tag == "equal" or i_end - i == j_end - j:
            found[j:j_end] = ends[i:i_end]
    return "".join(line + end for line, end in zip(new, found, strict=True))


def lines_of(text: str) -> list[str]:
    """The lines of a text of plain ends; not split at what else passes for an end elsewhere."""
    return [f"{line}\n" for line in text.split("\n")[:-1]]


def lost_comments(before: str, after: str) -> tuple[str, ...]:
    """The comments of a text that another no longer has, in their order."""
    missing = Counter(comments(before)) - Counter(comments(after))
    lost = []
    for comment in comments(before):
        if missing[comment] > 0:
            missing[comment] -= 1
            lost.append(comment)
    return tuple(lost)


def blocks(lines: Sequence[str], key: str) -> list[tuple[int, int]]:
    """The lines of each table of a list, from its header up to the next of another."""
    starts = [n for n, line in enumerate(lines) if line.startswith("[")]
    heads = [n for n in starts if not lines[n].lstrip("[").startswith(f"{key}.")]
    ends = [*heads[1:], len(lines)]
    return [
        (start, end)
        for start, end in zip(heads, ends, strict=True)
        if lines[start].startswith(f"[[{key}]]")
    ]


def with_kinds(body: str, key: str, kinds: Mapping[str, Any]) -> str:
    """The text with tables of more kinds below the last of their sort; "" where there is none."""
    lines = lines_of(body)
    heads = [n for n, line in enumerate(lines) if line.startswith(f"[{key}.")]
    if not heads:
        return ""
    start = heads[-1]
    later = (n for n in range(start + 1, len(lines)) if lines[n].startswith("["))
    end = _end_of_block(lines, start, next(later, len(lines)))
    return "".join([*lines[:end], "\n", tomli_w.dumps({key: kinds}), *lines[end:]])


def without_station(body: str, stations: Sequence[Any], identity: str) -> str:
    """The text without the block of a station; "" where its lines can't be told.

    Comments in the block and at the ends of its lines go with it. So do those right above it where
    they name this station and no other ("S4", "station 4"), and those right below it where a blank
    line parts them from what follows. All others may be about what follows, and stay.
    """
    lines = lines_of(body)
    found = blocks(lines, "station")
    if len(found) != len(stations):
        return ""
    place = [row["id"] for row in stations].index(identity)
    start, below = found[place]
    end = _end_of_block(lines, start, below)
    above = start
    while above and _is_comment(lines[above - 1]):
        above -= 1
    if _named(lines[above:start], stations) == {identity}:
        start = above
    if end == len(lines):
        while start and not lines[start - 1].strip():
            start -= 1
    elif not lines[end].strip() and not (start and _is_comment(lines[start - 1])):
        end += 1
    return "".join([*lines[:start], *lines[end:]])


def _end_of_block(lines: Sequence[str], start: int, below: int) -> int:
    """After the last line of a block that ends before the header at `below`."""
    end = below
    while end > start and (not lines[end - 1].strip() or _is_comment(lines[end - 1])):
        end -= 1
    after = end
    while after < below and _is_comment(lines[after]):
        after += 1
    apart = after == len(lines) or not lines[after].strip()
    return after if apart else end


def _is_comment(line: str) -> bool:
    return line.lstrip().startswith("#")


def _named(comment: Sequence[str], stations: Sequence[Any]) -> set[str]:
    """The ids of the stations that a comment names, by id or by number."""
    text = " ".join(comment)
    return {
        row["id"]
        for row in stations
        if re.search(
            rf"(?<![\w.-])({re.escape(row['id'])}|station {row['number']})(?![\w-]|\.\w)",
            text,
            re.IGNORECASE,
        )
    }
