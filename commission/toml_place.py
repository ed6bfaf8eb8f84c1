"""Reads a TOML file that people write, safely, and says what is wrong with it and where."""

from __future__ import annotations

import re
import tomllib
from collections.abc import Iterable, Mapping
from pathlib import Path
from typing import TYPE_CHECKING, Any, TypeVar

from commission.problems import InputRefused, Problem, nearest
from commission.shapes import keys_at, validate
from commission.text import visible
from commission.toml_lines import Location as Location
from commission.toml_lines import Places as Places
from commission.toml_lines import dotted_key

if TYPE_CHECKING:
    from pydantic import ValidationError

T = TypeVar("T")
MAX_FILE_BYTES = 8_000_000
MAX_LINE_CHARACTERS = 4_000
MAX_KEY_DOTS = 10  # our own keys need none, our tables are six deep
MAX_DEPTH = 10
MAX_ENTRIES = 20_000  # of one table or list
MAX_VALUES = 250_000  # ten thousand boxes with a station each are 200,000
MAX_NUMBER = 2**63  # what TOML promises to hold
HEAD_BYTES = 64_000  # in which a file states its kind
_KIND = re.compile(rb'^(?:\xef\xbb\xbf)?\s*kind\s*=\s*["\']([^"\']{1,40})["\']', re.MULTILINE)
_AT = re.compile(r"\(at line (\d+), column \d+\)$")
_PLAINER = {"Cannot overwrite a value": "a key stands twice in one table"}


def read_toml(path: Path) -> tuple[dict[str, Any], Places]:
    """Read a file; raises InputRefused naming file, line and remedy."""
    return parse_toml(read_input(path), visible(str(path)))


def read_input(path: Path) -> bytes:
    """The bytes of a file, of one that is too large only the first; raises InputRefused."""
    try:
        with path.open("rb") as file:
            return file.read(MAX_FILE_BYTES + 1)
    except (OSError, ValueError) as error:  # ValueError: a name with a null character
        reason = getattr(error, "strerror", None) or str(error)
        raise InputRefused([Problem(visible(str(path)), f"cannot be read: {reason}")]) from error


def stated_kind(content: bytes) -> str:
    """The kind that a file states at its head, before anything else of it is read; "" for none."""
    stated = _KIND.search(content[:HEAD_BYTES])
    return stated[1].decode("utf-8", "replace") if stated else ""


def parse_toml(data: bytes, file: str) -> tuple[dict[str, Any], Places]:
    """Parse the bytes of a file; raises InputRefused."""
    if len(data) > MAX_FILE_BYTES:
        raise InputRefused([Problem(file, f"larger than {MAX_FILE_BYTES // 1_000_000} MB")])
    try:
        text = data.decode("utf-8-sig")  # some editors put a mark in front
    except UnicodeDecodeError as error:
        line = data[: error.start].count(b"\n") + 1
        problem = Problem(file, "is not UTF-8 text", line=line, remedy="save it as UTF-8")
        raise InputRefused([problem]) from None
    _refuse_bombs(text, file)
    places = Places(text)
    try:
        table = tomllib.loads(text)
    except RecursionError:
        raise InputRefused([Problem(file, "tables or lists are nested too deeply")]) from None
    except tomllib.TOMLDecodeError as error:
        words = str(error)
        at = _AT.search(words)
        broken = int(at[1]) if at else None
        told = _AT.sub("", words).strip()
        message = f"is not valid TOML: {_PLAINER.get(told, told)}"
        raise InputRefused([Problem(file, message, line=broken)]) from None
    except ValueError as error:  # a number or date that TOML allows and Python does not
        raise InputRefused([Problem(file, f"holds a value that cannot be: {error}")]) from None
    _refuse_what_nobody_writes(table, file, places)
    return table, places


def _refuse_bombs(text: str, file: str) -> None:
    """Lines so long or keys so dotted that parsing them would take seconds."""
    dotted = None
    for number, line in enumerate(text.split("\n"), start=1):
        if len(line) > MAX_LINE_CHARACTERS:
            message = f"a line is longer than {MAX_LINE_CHARACTERS} characters"
            raise InputRefused([Problem(file, message, line=number)])
        if dotted is None and line.count(".") > MAX_KEY_DOTS and not line.lstrip().startswith("#"):
            dotted = number
    if dotted is not None:
        place = dotted_key(text, MAX_KEY_DOTS)
        if place is not None:
            raise InputRefused([Problem(file, "a key with too many dots", line=place)])


def _refuse_what_nobody_writes(table: dict[str, Any], file: str, places: Places) -> None:
    """Nesting, numbers and multitudes that TOML allows and that would break what comes after."""
    waiting: list[tuple[Location, Any]] = [((), table)]
    seen = 0
    while waiting:
        place, value = waiting.pop()
        seen += 1
        message = ""
        if len(place) > MAX_DEPTH:
            message, place = "tables or lists are nested too deeply", place[:2]
        elif isinstance(value, int) and abs(value) >= MAX_NUMBER:
            message = "the number is too large"
        elif isinstance(value, (dict, list)) and len(value) > MAX_ENTRIES:
            message = f"more than {MAX_ENTRIES} entries"
        elif seen > MAX_VALUES:
            message, place = f"the file holds more than {MAX_VALUES} values", ()
        if message:
            raise InputRefused([Problem(file, message, named(place, table), places.line(place))])
        if isinstance(value, dict):
            waiting += (((*place, key), inner) for key, inner in value.items())
        elif isinstance(value, list):
            waiting += (((*place, number), inner) for number, inner in enumerate(value))


def refuse_other_kinds(
    table: Mapping[str, Any], file: str, kind: str, newest: int, what: str,
    places: Places | None = None,
) -> None:  # fmt: skip
    """Refuse a file of another kind or of a newer format, before anything else is said of it."""
    lines = places or Places("")
    found = table.get("kind")
    if found != kind:
        said = f"its kind is '{visible(str(found), 60)}'" if found else "it states no kind"
        remedy = f'its first line must be kind = "{kind}"'
        first = lines.line(("kind",)) or 1
        raise InputRefused([Problem(file, f"is not {what}: {said}", "kind", first, remedy)])
    number = table.get("format")
    if isinstance(number, int) and not isinstance(number, bool) and number > newest:
        message = f"has format {number}, newer than this program reads ({newest})"
        line = lines.line(("format",))
        raise InputRefused([Problem(file, message, "format", line, "use a newer program")])


def validated(
    kind: type[T], table: Mapping[str, Any], file: str, places: Places
) -> tuple[T | None, list[Problem]]:
    """The value of a shape, or None and everything that pydantic found."""
    from pydantic import ValidationError

    try:
        return validate(kind, table), []
    except ValidationError as error:
        return None, problems_of(error, file, places, kind, table)


def problems_of(
    error: ValidationError, file: str, places: Places, kind: type[Any], raw: Any
) -> list[Problem]:
    """What pydantic found, in the file's own words, one problem a place."""
    found: dict[tuple[str, str], Problem] = {}
    for one in error.errors(include_url=False):
        location = _real(one["loc"], raw)
        if one["type"] == "too_short" and _value_at(location, raw):
            continue  # pydantic counts only the elements that were right; the others are told
        key = named(location, raw)
        message, remedy = (visible(words, 400) for words in _words(dict(one), kind, location))
        found.setdefault((key, message), Problem(file, message, key, places.line(location), remedy))
    return list(found.values())


def _real(location: Iterable[str | int], raw: Any) -> Location:
    """The part of pydantic's location that exists in the file, with one missing key at its end."""
    place: list[str | int] = []
    here = raw
    for part in location:
        if isinstance(here, Mapping) and isinstance(part, str):
            place.append(part)
            if part not in here:
                break
            here = here[part]
        elif isinstance(here, (list, tuple)) and isinstance(part, int) and part < len(here):
            place.append(part)
            here = here[part]
        else:
            break
    return tuple(place)


def _value_at(location: Location, raw: Any) -> Any:
    for part in location:
        raw = raw[part]
    return raw


def named(location: Iterable[str | int], raw: Any) -> str:
    """A location as people read it: "path.A.segment[3].length"; ids where elements have one."""
    words = ""
    here = raw
    for part in location:
        if isinstance(part, int):
            here = here[part] if isinstance(here, (list, tuple)) and part < len(here) else None
            own = here.get("id") if isinstance(here, Mapping) else None
            words += f".{visible(own, 20)}" if isinstance(own, str) else f"[{part + 1}]"
        else:
            here = here.get(part) if isinstance(here, Mapping) else None
            words += f".{visible(part, 60)}" if words else visible(part, 60)
    return words


_MESSAGES = {
    "missing": "is missing",
    "string_type": "must be text in quotes",
    "int_type": "must be a whole number",
    "bool_type": "must be true or false",
    "float_type": "must be a number",
    "tuple_type": "must be a list",
    "dict_type": "must be a table",
    "dataclass_type": "must be a table",
}


def _words(one: dict[str, Any], shape: type[Any], location: Location) -> tuple[str, str]:
    """Message and remedy of one pydantic error."""
    kind, context = one["type"], one.get("ctx", {})
    if kind in ("extra_forbidden", "unexpected_keyword_argument"):
        return "unknown key", nearest(str(location[-1]), keys_at(shape, location[:-1]))
    if kind == "literal_error":
        return (
            f"'{visible(str(one['input']), 60)}' is not valid here",
            f"valid: {context['expected']}",
        )
    if kind == "value_error":
        return str(context["error"]), ""
    if kind in _MESSAGES:
        return _MESSAGES[kind], ""
    return str(one["msg"])[0].lower() + str(one["msg"])[1:], ""
