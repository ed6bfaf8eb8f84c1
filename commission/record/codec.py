"""The header and the entries of a record, to TOML and strictly back.

A record is a header and then entries, each a block of `key = value` lines that ends in the
SHA-256 of its own bytes above that line:

    kind = "commission record"            the header: what the job was made from
    format = 1
    ...
    sha256 = "..."

    [[entry]]
    number = 1
    type = "answer"
    ...
    previous = "..."                      the sha256 of the block above
    sha256 = "..."

There is one way to write a block, and a block written in any other is refused. So it can be read
line by line, and what is read is what any TOML reader reads.
"""

from __future__ import annotations

import dataclasses
import hashlib
import json
import math
import re
from collections.abc import Callable
from datetime import datetime, timedelta, timezone
from operator import attrgetter
from typing import Any, get_args

from commission.problems import nearest
from commission.record.entry import FORMAT, KIND, Entry, EntryType, Header
from commission.text import MAX_TEXT, clean

MAX_HEADER_BYTES = 16_000
ENTRY_LINE = b"[[entry]]\n"
_SHA256_LINE = re.compile(rb'sha256 = "[0-9a-f]{64}"\n')
_SHA256_LINE_BYTES = len('sha256 = ""\n') + 64
_INTEGER = re.compile(r"-?[0-9]{1,18}")
_FLOAT = re.compile(r"-?[0-9]+(\.[0-9]+)?(e[+-][0-9]+)?")

# The type of each key, in the order in which they are written.
_HEADER_KEYS = {field.name: str(field.type) for field in dataclasses.fields(Header)}
_MAY_BE_MISSING = {"follows_report"}  # of the header: left out where it says nothing
_ENTRY_KEYS = {
    field.name: str(field.type).removesuffix(" | None")
    for field in dataclasses.fields(Entry)
    if field.name != "sha256"
}
_TYPES: tuple[str, ...] = get_args(EntryType)


class NewerFormat(ValueError):
    """A record of a newer format: nothing is wrong with it, but this program can't read it."""

    remedy = "use a newer program"


def encode_header(header: Header) -> bytes:
    """The top of a record. Raises ValueError for text or times that a record can't hold."""
    lines = [f"kind = {_quoted(KIND)}", f"format = {FORMAT}"]
    for key, kind in _HEADER_KEYS.items():
        value = getattr(header, key)
        if key not in _MAY_BE_MISSING or value:
            lines.append(f"{key} = {_LITERALS.get(kind, _quoted)(value)}")
    return _sealed(lines)


def decode_header(block: bytes) -> Header:
    """The header of a sealed block. Raises ValueError in words."""
    first = [line.decode("utf-8", "replace") for line in block[:200].split(b"\n")]
    if first[0] != f"kind = {_quoted(KIND)}":
        raise ValueError("this is not a record")
    version = first[1].removeprefix("format = ") if len(first) > 1 else ""
    if _INTEGER.fullmatch(version) and int(version) > FORMAT:
        raise NewerFormat(f"format {version} is newer than this program reads ({FORMAT})")
    if not is_sealed(block):
        raise ValueError("its digest does not match: it was changed or is damaged")
    values = _values(_lines(block)[2:-1], _HEADER_KEYS)
    missing = [key for key in _HEADER_KEYS if key not in values and key not in _MAY_BE_MISSING]
    if missing:
        raise ValueError(f"{missing[0]} is missing")
    header = Header(**values)
    if encode_header(header) != block:
        raise ValueError("it is not written as this program writes it")
    return header


def header_block(data: bytes) -> bytes:
    """The header at the top of a record; when it has no end, as much as a header may have."""
    end = end_of_block(data, 0)
    return data[: end if end > 0 else MAX_HEADER_BYTES]


def encode_entry(entry: Entry) -> bytes:
    """An entry as its block; its `sha256` is computed, whatever it says.

    Raises ValueError for text, numbers or times that a record can't hold.
    """
    lines = ["[[entry]]"]
    for (key, literal), value in zip(_ENTRY_LITERALS, _entry_values(entry), strict=True):
        if value is not None and value != "":
            try:
                lines.append(f"{key} = {literal(value)}")
            except ValueError as error:
                raise ValueError(f"{key}: {error}") from None
    return _sealed(lines)


def decode_entry(block: bytes) -> Entry:
    """The entry of a sealed block. Raises ValueError in words."""
    lines = _lines(block)
    values = _values(lines[1:-1], _ENTRY_KEYS)
    for key in ("number", "type", "previous"):
        if key not in values:
            raise ValueError(f"{key} is missing")
    refuse_unknown_type(values["type"])
    entry = Entry(**values, sha256=digest_of(block))
    if encode_entry(entry) != block:
        raise ValueError("it is not written as this program writes it")
    return entry


def refuse_unknown_type(kind: str) -> None:
    """Raise ValueError for a type that no entry has."""
    if kind not in _TYPES:
        raise ValueError(f"{kind!r} is not a type of entry; {nearest(kind, _TYPES)}")


def end_of_block(data: bytes, start: int) -> int:
    """Where the block that begins at `start` ends, behind its sha256 line; -1 when nowhere."""
    at = data.find(b'\nsha256 = "', start) + 1
    end = at + _SHA256_LINE_BYTES
    return end if at > 0 and _SHA256_LINE.fullmatch(data, at, end) else -1


def is_sealed(block: bytes) -> bool:
    """Whether a block ends in the SHA-256 of its own bytes above that line."""
    body = block[:-_SHA256_LINE_BYTES]
    return block == body + _sha256_line(body)


def digest_of(block: bytes) -> str:
    """The digest that a sealed block states."""
    return block[-_SHA256_LINE_BYTES:].decode("ascii").split('"')[1]


def _sealed(lines: list[str]) -> bytes:
    body = ("\n".join(lines) + "\n").encode("utf-8")
    return body + _sha256_line(body)


def _sha256_line(body: bytes) -> bytes:
    return f'sha256 = "{hashlib.sha256(body).hexdigest()}"\n'.encode("ascii")


def _lines(block: bytes) -> list[str]:
    try:
        return block.decode("utf-8").removesuffix("\n").split("\n")
    except UnicodeDecodeError:
        raise ValueError("it is not UTF-8 text") from None


def _values(lines: list[str], kinds: dict[str, str]) -> dict[str, Any]:
    values: dict[str, Any] = {}
    for line in lines:
        key, equals, literal = line.partition(" = ")
        if not equals:
            raise ValueError("a line is not 'key = value'")
        if key not in kinds:
            raise ValueError(f"an unknown key; {nearest(key, kinds)}")
        try:
            values[key] = _value(literal, kinds[key])
        except ValueError as error:
            raise ValueError(f"{key}: {error}") from None
    return values


def _float(value: float) -> str:
    if not math.isfinite(value):
        raise ValueError("this is not a number")
    return repr(float(value))


def _int(value: int) -> str:
    return str(int(value))


def _bool(value: bool) -> str:
    return "true" if value else "false"


def _moment(value: datetime) -> str:
    return _whole_seconds(value).isoformat()


def _quoted(text: str) -> str:
    # Where all is visible, quotes and backslashes are all there is to escape.
    escaped = _visible(text).replace("\\", "\\\\").replace('"', '\\"')
    return f'"{escaped}"'


# A value as TOML writes it, by its kind; all others are text.
_LITERALS: dict[str, Callable[[Any], str]] = {
    "float": _float, "int": _int, "bool": _bool, "datetime": _moment,
}  # fmt: skip
_ENTRY_LITERALS = [(key, _LITERALS.get(kind, _quoted)) for key, kind in _ENTRY_KEYS.items()]
_entry_values = attrgetter(*_ENTRY_KEYS)


def _value(literal: str, kind: str) -> Any:
    """The value of a literal, when it is of this type; raises ValueError."""
    if kind == "float" and _FLOAT.fullmatch(literal):
        return float(literal)
    if kind == "int" and _INTEGER.fullmatch(literal):
        return int(literal)
    if kind == "bool" and literal in ("true", "false"):
        return literal == "true"
    if kind == "datetime":
        return datetime.fromisoformat(literal)
    if kind not in ("float", "int", "bool") and literal[:1] == '"' == literal[-1:]:
        return _unquoted(literal)
    raise ValueError("the value is of another type")


def _unquoted(literal: str) -> str:
    text: str = json.loads(literal) if "\\" in literal else literal[1:-1]
    return _visible(text)


def _visible(text: str) -> str:
    """The text as it is; raises ValueError for what may steer a terminal, or is too long."""
    if not text.isprintable() or len(text) > MAX_TEXT:
        clean(text)
    return text


def _whole_seconds(moment: datetime) -> datetime:
    """The moment in whole seconds, its offset in whole minutes, as TOML has it."""
    offset = moment.utcoffset()
    if offset is None:
        raise ValueError("a time without its offset from UTC")
    if offset % timedelta(minutes=1):
        minutes = round(offset / timedelta(minutes=1))
        moment = moment.astimezone(timezone(timedelta(minutes=minutes)))
    return moment.replace(microsecond=0)
