"""The shapes of the files that people write: plain dataclasses whose fields know how to be read.

A shape is a frozen dataclass made with `@shape`. A field's key in the file is its name without the
unit at its end (`length_m` is `length`), or the one in `KEYS`. Two ways lead from a parsed file to
a value: `validate` for files as people hand them in, with every problem found (pydantic does that),
and `build` for files that were validated when a job was begun and have not changed since, which
their digest proves. The second needs no pydantic, whose import alone takes as long as half a start.
"""

from __future__ import annotations

import json
import re
import typing
from collections.abc import Callable, Mapping
from dataclasses import MISSING, dataclass, fields, is_dataclass
from functools import cache
from types import UnionType
from typing import (
    TYPE_CHECKING,
    Annotated,
    Any,
    TypeVar,
    cast,
    dataclass_transform,
    get_args,
    get_origin,
)

from commission.text import clean

if TYPE_CHECKING:
    from pydantic import TypeAdapter

T = TypeVar("T")

# Keys that are not the field's name without its unit.
KEYS = {
    "from_box": "from",
    "to_box": "to",
    "equals": "is",
    "lowest_fraction_below": "lowest_below",
    "test_day_c": "test_day",
    "warmest_c": "warmest",
}
_UNIT = re.compile(r"_(ohm_per_m|ohm_m|ohm|va|hz|m|v|a|k|s)$")


def key_of(name: str) -> str:
    """The key in a file that a field is written under."""
    return KEYS.get(name) or _UNIT.sub("", name)


@dataclass_transform(frozen_default=True, kw_only_default=True)
def shape(cls: type[T]) -> type[T]:
    """Make a frozen dataclass that refuses unknown keys and does not guess types."""
    made = dataclass(frozen=True, kw_only=True)(cls)
    made.__pydantic_config__ = {  # type: ignore[attr-defined]
        "extra": "forbid",
        "strict": True,
        "allow_inf_nan": False,
        "alias_generator": key_of,
    }
    return made


@dataclass(frozen=True, eq=False)
class Checked:
    """Annotation of a field: how its value in the file becomes the value held.

    `parse` raises ValueError in words for people; `schema` is its JSON Schema.
    """

    parse: Callable[[Any], Any]
    schema: Mapping[str, Any]

    def __get_pydantic_core_schema__(self, source: Any, handler: Any) -> Any:
        from pydantic_core.core_schema import no_info_plain_validator_function

        return no_info_plain_validator_function(self.parse)

    def __get_pydantic_json_schema__(self, schema: Any, handler: Any) -> dict[str, Any]:
        return dict(self.schema)


@dataclass(frozen=True)
class AtLeast:
    """Annotation of a list of tables that may not be shorter than this."""

    count: int

    def __get_pydantic_core_schema__(self, source: Any, handler: Any) -> Any:
        return {**handler(source), "min_length": self.count}


def checked_text(
    check: Callable[[str], str] = clean, low: int = 0, high: int = 2000, **schema: Any
) -> Checked:
    """Text without control characters, of a length, that passes a check of its own."""

    def parse(value: object) -> str:
        if not isinstance(value, str):
            raise ValueError("must be text in quotes")
        text = check(clean(value))
        if not low <= len(text) <= high:
            raise ValueError(f"must be {low} to {high} characters long")
        return text

    return Checked(parse, {"type": "string", "maxLength": high, **schema})


def whole(low: int, high: int) -> Checked:
    """A whole number within bounds."""

    def parse(value: object) -> int:
        if not isinstance(value, int) or isinstance(value, bool):
            raise ValueError("must be a whole number")
        if not low <= value <= high:
            raise ValueError(f"must be {low} to {high}")
        return value

    return Checked(parse, {"type": "integer", "minimum": low, "maximum": high})


Text = Annotated[str, checked_text()]


# Reading


@cache
def adapter(kind: Any) -> TypeAdapter[Any]:
    """The validator of a shape, made when first needed."""
    import os

    # pydantic looks for plugins in every installed package; we have none, and it takes 40 ms.
    os.environ.setdefault("PYDANTIC_DISABLE_PLUGINS", "__all__")
    from pydantic import TypeAdapter

    return TypeAdapter(kind)


def validate(kind: type[T], table: Mapping[str, Any]) -> T:
    """A value of a shape from a parsed file; raises pydantic's ValidationError with all it finds.

    Goes through JSON, so that a list may fill a tuple and yet no other type is bent to fit.
    """
    made: T = adapter(cast("Any", kind)).validate_json(json.dumps(table, default=_no_such_thing))
    return made


def _no_such_thing(value: object) -> dict[str, str]:
    """What TOML has and our files have not (dates, times): never the right type for a field."""
    return {"not a value here": str(value)}


def json_schema(kind: Any) -> dict[str, Any]:
    """The JSON Schema of a shape, by the keys of the file."""
    return adapter(kind).json_schema(by_alias=True)


def build(kind: type[T], table: Mapping[str, Any]) -> T:
    """A value of a shape from a parsed file that is known to be valid."""
    made: T = _built(kind, table, from_file=True)
    return made


def build_from_values(kind: type[T], table: Mapping[str, Any]) -> T:
    """A value of a shape from its own fields and numbers (SI); raises ValueError for others.

    Undoes `dataclasses.asdict`, whatever lists or tuples it went through.
    """
    made: T = _built(kind, table, from_file=False)
    return made


def _built(kind: Any, table: Mapping[str, Any], *, from_file: bool) -> Any:
    known = _known(kind, from_file)
    odd = table.keys() - known.keys()
    if odd:
        raise ValueError(f"unknown: {', '.join(sorted(odd))}")
    values = {}
    for key, (name, annotation, required) in known.items():
        if key in table:
            values[name] = _reader(annotation, from_file)(table[key])
        elif required:
            raise ValueError(f"missing: {key}")
    return kind(**values)


@cache
def _known(kind: Any, from_file: bool) -> dict[str, tuple[str, Any, bool]]:
    """Key to field name, resolved annotation, and whether it must be there."""
    hints = typing.get_type_hints(kind, include_extras=True)
    return {
        key_of(field.name) if from_file else field.name: (
            field.name,
            hints[field.name],
            field.default is MISSING and field.default_factory is MISSING,
        )
        for field in fields(kind)
    }


@cache
def _reader(annotation: Any, from_file: bool) -> Callable[[Any], Any]:
    """What turns a value of a table into what a field of this annotation holds."""
    if is_dataclass(annotation):
        return lambda table: _built(annotation, table, from_file=from_file)
    origin, arguments = get_origin(annotation), get_args(annotation)
    if origin is Annotated:
        for mark in arguments[1:]:
            if isinstance(mark, Checked):
                return mark.parse if from_file else _tupled
        return _reader(arguments[0], from_file)
    if origin is tuple:
        one = _reader(arguments[0], from_file)
        return lambda members: tuple(one(member) for member in members)
    if origin is dict:
        entry = _reader(arguments[1], from_file)
        return lambda entries: {key: entry(member) for key, member in entries.items()}
    if origin in (typing.Union, UnionType):
        return _reader(next(a for a in arguments if a is not type(None)), from_file)
    return _same


def _same(value: Any) -> Any:
    return value


def _tupled(value: Any) -> Any:
    """Tuples for the lists that a file gives back."""
    return tuple(value) if isinstance(value, list) else value


# Looking into shapes, for messages


def keys_at(kind: Any, location: tuple[str | int, ...]) -> set[str]:
    """The keys that a table at a place of a file may hold."""
    here = kind
    for part in location:
        inner = _inner(here, part) if isinstance(part, str) else None
        here = inner or here  # a number, or the name given to an entry of a table of tables
    return set(_known(here, True))


def _inner(kind: Any, key: str) -> Any:
    found = _known(kind, True).get(key)
    return _shape_in(found[1]) if found else None


def _shape_in(annotation: Any) -> Any:
    if isinstance(annotation, type) and is_dataclass(annotation):
        return annotation
    return next((one for part in get_args(annotation) if (one := _shape_in(part))), None)
