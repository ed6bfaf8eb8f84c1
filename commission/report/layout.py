"""From a dictionary to TOML that reads from top to bottom: headings, tables, one line per check.

`tomli_w` writes what needs escapes. The tables are laid out here, because it puts short arrays of
tables inline or not depending on their length, and a report should look the same whatever it holds.
A list of tables is written as `[[...]]` blocks unless its key is in `INLINE`, where each table is
one line. Texts with several lines come back exactly as they went in.
"""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Mapping
from datetime import datetime
from functools import lru_cache
from math import isfinite
from typing import Any

import tomli_w

INLINE = frozenset(
    {
        "alone",
        "boxes",
        "budget",
        "cables",
        "checks",
        "comparison",
        "conductors",
        "found",
        "inputs",
        "stations",
        "story",
    }
)
MAX_LINE = 100
_BARE = re.compile(r"[A-Za-z0-9_-]+")
_PLAIN = re.compile(r"[^\x00-\x1f\x7f\"\\]*")  # nothing that TOML wants escaped
_ESCAPED = frozenset({"Cc", "Cf", "Cs", "Co", "Cn", "Zl", "Zp"})


def toml_text(document: Mapping[str, Any], headings: Mapping[str, str]) -> str:
    """The document as TOML; `headings` maps a top-level key to the comments written above it.

    An empty line in a heading stands between two comments.
    """
    lines: list[str] = []
    _write(document, "", headings, lines)
    return "\n".join(lines) + "\n"


def _is_table(key: str, value: Any) -> bool:
    kind = type(value)
    if kind is str or kind is float or kind is int:
        return False
    if isinstance(value, Mapping):
        return True
    return (
        isinstance(value, list)
        and bool(value)
        and all(isinstance(member, Mapping) for member in value)
        and key not in INLINE
    )


def _write(
    table: Mapping[str, Any], prefix: str, headings: Mapping[str, str], lines: list[str]
) -> None:
    """Write the plain keys of a table first, as TOML asks, then the tables below it."""
    for key, value in table.items():
        if not _is_table(key, value):
            lines.append(pair(key, value))
    for key, value in table.items():
        if not _is_table(key, value):
            continue
        name = f"{prefix}{key_text(key)}"
        if not prefix and key in headings:
            for heading in headings[key].split("\n\n"):
                lines += ["", *comment(heading)]
        for member in [value] if isinstance(value, Mapping) else value:
            if not isinstance(value, Mapping):
                lines += ["", f"[[{name}]]"]
            elif not member or not all(_is_table(k, v) for k, v in member.items()):
                lines += ["", f"[{name}]"]
            _write(member, f"{name}.", {}, lines)


def comment(text: str) -> list[str]:
    """Lines of a TOML comment; a character that a comment must not hold is left out."""
    return [
        "# " + "".join(c for c in line if unicodedata.category(c) not in _ESCAPED)
        for line in text.split("\n")
    ]


@lru_cache(maxsize=512)
def key_text(key: str) -> str:
    """A key as TOML writes it: bare, or quoted where needed."""
    return key if _BARE.fullmatch(key) else tomli_w.dumps({key: 0}).rsplit(" = ", 1)[0]


def pair(key: str, value: Any) -> str:
    """One `key = value`; lists of tables one table per line, long texts on lines of their own."""
    if isinstance(value, str) and "\n" in value:
        return f"{key_text(key)} = {long_text(value)}"
    if isinstance(value, list) and value and isinstance(value[0], Mapping):
        members = "".join(f"    {inline_text(member)},\n" for member in value)
        return f"{key_text(key)} = [\n{members}]"
    if isinstance(value, list):
        literals = [value_text(member) for member in value]
        one_line = f"{key_text(key)} = [{', '.join(literals)}]"
        if len(one_line) <= MAX_LINE:
            return one_line
        return f"{key_text(key)} = [\n" + "".join(f"    {one},\n" for one in literals) + "]"
    return f"{key_text(key)} = {value_text(value)}"


def value_text(value: Any) -> str:
    """A value as TOML writes it; what needs no escape is written here, it is most of a report."""
    kind = type(value)
    if kind is str and _PLAIN.fullmatch(value):
        return f'"{value}"'
    if kind is float and isfinite(value):
        return repr(value)
    if kind is int:
        return str(value)
    if isinstance(value, datetime):
        return value.isoformat()
    return tomli_w.dumps({"v": value}).removeprefix("v = ").rstrip("\n")


def inline_text(table: Mapping[str, Any]) -> str:
    """A table in braces, on one line."""
    return "{ " + ", ".join(f"{key_text(k)} = {value_text(v)}" for k, v in table.items()) + " }"


def long_text(text: str) -> str:
    """A multi-line TOML string that parses to exactly `text`, carriage returns included."""
    if "'''" in text or text.endswith("'") or _hidden(text):
        return f'"""\n{_escaped(text)}"""'
    return f"'''\n{text}'''"


def _hidden(text: str) -> bool:
    """Whether a text holds what cannot be seen; a blank of another kind is none of that."""
    return any(
        unicodedata.category(character) in _ESCAPED
        for line in text.replace("\t", " ").split("\n")
        if not line.isprintable()
        for character in line
    )


def _escaped(text: str) -> str:
    """Text for a multi-line basic string: what cannot be seen is written as its code point."""
    parts = []
    for character in text:
        if character == "\\" or character == '"':
            parts.append("\\" + character)
        elif character not in "\n\t" and unicodedata.category(character) in _ESCAPED:
            parts.append(f"\\U{ord(character):08X}")
        else:
            parts.append(character)
    return "".join(parts)
