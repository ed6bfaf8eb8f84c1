"""The kinds of change, as frozen values; places are named by ids, quantities are text with units.

A segment is named by the box that it leads to, as a path is a tree.
"""

from __future__ import annotations

import json
import tomllib
from dataclasses import dataclass, fields

from commission.problems import InputRefused, nearest
from commission.text import clean


@dataclass(frozen=True, slots=True)
class Length:
    """Another length of a segment, and how it was obtained, where that is another."""

    path: str
    box: str
    length: str
    length_by: str = ""


@dataclass(frozen=True, slots=True)
class Cable:
    """Another cable of a segment: the name of a cable kind, or a conductor size."""

    path: str
    box: str
    cable: str


@dataclass(frozen=True, slots=True)
class AddBox:
    """A box in the middle of the segment that leads to `before_box`, with both new lengths."""

    path: str
    before_box: str
    box: str
    length_to: str
    length_on: str
    label: str = ""
    location: str = ""


@dataclass(frozen=True, slots=True)
class AddEnd:
    """More cable from a box, or from the terminals ("output"), to a box at its end."""

    path: str
    from_box: str
    box: str
    length: str
    cable: str = ""
    label: str = ""
    location: str = ""


@dataclass(frozen=True, slots=True)
class AddStation:
    """A station in a box, with one solenoid or more of one kind."""

    station: str
    number: int
    address: int
    path: str
    box: str
    decoder: str
    solenoid: str
    solenoids: int = 1
    label: str = ""


@dataclass(frozen=True, slots=True)
class MoveStation:
    """A station that is in another box, on the same path or another."""

    station: str
    path: str
    box: str


@dataclass(frozen=True, slots=True)
class Rename:
    """Another label of a path, a box or a station; its id stays."""

    what: str
    identity: str
    label: str


@dataclass(frozen=True, slots=True)
class DeleteStation:
    """A station that is not there."""

    station: str


@dataclass(frozen=True, slots=True)
class DeleteBox:
    """A box that is not there: an end goes with its cable, in the middle both cables are one."""

    path: str
    box: str


Change = (
    Length | Cable | AddBox | AddEnd | AddStation | MoveStation | Rename | DeleteStation | DeleteBox
)
KINDS: dict[str, type[Change]] = {
    "length": Length,
    "cable": Cable,
    "add-box": AddBox,
    "add-end": AddEnd,
    "add-station": AddStation,
    "move-station": MoveStation,
    "rename": Rename,
    "delete-station": DeleteStation,
    "delete-box": DeleteBox,
}
_NAMES = {shape: name for name, shape in KINDS.items()}


def line(change: Change) -> str:
    """A change as one line of TOML: an inline table. Raises InputRefused for text it can't hold."""
    parts = [f'change = "{_NAMES[type(change)]}"']
    for field in fields(change):
        value = getattr(change, field.name)
        if value == field.default:
            continue
        if isinstance(value, str):
            try:
                value = json.dumps(clean(value), ensure_ascii=False)
            except ValueError as error:
                raise InputRefused(f"{field.name}: {error}") from None
        parts.append(f"{field.name} = {value}")
    return "{ " + ", ".join(parts) + " }"


def read_line(text: str) -> Change:
    """The change that a line holds; raises InputRefused in words."""
    try:
        held = tomllib.loads(f"held = {text}")
    except (tomllib.TOMLDecodeError, RecursionError, ValueError):
        raise InputRefused("this is not a change of a drawing, written as one line") from None
    table = held["held"]
    if len(held) != 1 or not isinstance(table, dict):
        raise InputRefused("this is not a change of a drawing, written as one line")
    name = table.pop("change", None)
    if not isinstance(name, str) or name not in KINDS:
        raise InputRefused(f"there is no such change of a drawing; {nearest(str(name), KINDS)}")
    shape = KINDS[name]
    known = {field.name: field for field in fields(shape)}
    for key, value in table.items():
        if key not in known:
            raise InputRefused(f"an unknown key of a change; {nearest(key, known)}")
        if type(value) is not (int if known[key].type == "int" else str):
            raise InputRefused(f"{key}: the value is of another type")
    try:
        change = shape(**table)
    except TypeError:
        raise InputRefused(f"the change '{name}' lacks one of: {', '.join(known)}") from None
    if line(change) != text:
        raise InputRefused("the change is not written as this program writes it")
    return change
