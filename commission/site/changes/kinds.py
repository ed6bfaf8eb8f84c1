"""The kinds of change, as frozen values; places are named by ids, quantities are text with units.

A segment is named by the box that it leads to, as a path is a tree. A change that names a kind of
cable, decoder or solenoid which the site has not may describe it, so that it stands for itself.
"""

from __future__ import annotations

import json
import tomllib
from collections.abc import Iterator
from dataclasses import dataclass, fields

from commission.problems import InputRefused, nearest
from commission.text import MAX_TEXT, clean

Description = tuple[tuple[str, str | int], ...]  # the keys of a kind, as a site file has them


@dataclass(frozen=True, slots=True)
class Length:
    """Another length of a segment, how it was obtained, or both; what is empty stays."""

    path: str
    box: str
    length: str = ""
    length_by: str = ""


@dataclass(frozen=True, slots=True)
class Cable:
    """Another cable of a segment: the name of a cable kind, or a conductor size."""

    path: str
    box: str
    cable: str
    cable_kind: Description = ()


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
    cable_kind: Description = ()


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
    waters: str = ""
    decoder_kind: Description = ()
    solenoid_kind: Description = ()


@dataclass(frozen=True, slots=True)
class ChangeStation:
    """What else of a station is another than drawn; None stays as it is.

    `solenoid` is the kind of all its solenoids, `solenoids` how many there are.
    """

    station: str
    number: int | None = None
    address: int | None = None
    decoder: str | None = None
    solenoid: str | None = None
    solenoids: int | None = None
    waters: str | None = None
    label: str | None = None
    decoder_kind: Description = ()
    solenoid_kind: Description = ()

    @property
    def only_words(self) -> bool:
        """Whether nothing of it bears on what is asked or expected."""
        asked = (self.number, self.address, self.decoder, self.solenoid, self.solenoids)
        return all(one is None for one in asked)

    @property
    def other_parts(self) -> bool:
        """Whether what answers there is another: whatever was seen of it was of something else."""
        parts = (self.address, self.decoder, self.solenoid, self.solenoids)
        return any(one is not None for one in parts)


@dataclass(frozen=True, slots=True)
class ChangeBox:
    """Another label of a box, or another place where it lies; None stays as it is."""

    path: str
    box: str
    label: str | None = None
    location: str | None = None


@dataclass(frozen=True, slots=True)
class SwapAddresses:
    """Two stations each of which answers at the other's address."""

    station: str
    other: str


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
    Length
    | Cable
    | AddBox
    | AddEnd
    | AddStation
    | ChangeStation
    | SwapAddresses
    | MoveStation
    | ChangeBox
    | Rename
    | DeleteStation
    | DeleteBox
)
KINDS: dict[str, type[Change]] = {
    "length": Length,
    "cable": Cable,
    "add-box": AddBox,
    "add-end": AddEnd,
    "add-station": AddStation,
    "change-station": ChangeStation,
    "swap-addresses": SwapAddresses,
    "move-station": MoveStation,
    "change-box": ChangeBox,
    "rename": Rename,
    "delete-station": DeleteStation,
    "delete-box": DeleteBox,
}
_NAMES = {shape: name for name, shape in KINDS.items()}


# What a field may hold, by its annotation.
_TYPES: dict[object, tuple[type, ...]] = {
    "str": (str,),
    "int": (int,),
    "str | None": (str,),
    "int | None": (int,),
    "Description": (dict,),
}


def described(change: Change) -> Iterator[tuple[str, str, dict[str, str | int]]]:
    """The kinds that a change describes: the table that they belong to, name and keys."""
    for what in ("cable", "decoder", "solenoid"):
        keys = getattr(change, f"{what}_kind", ())
        if keys:
            yield f"{what}_kind", getattr(change, what), dict(keys)


def line(change: Change) -> str:
    """A change as one line of TOML: an inline table. Raises InputRefused for text it can't hold."""
    parts = [f'change = "{_NAMES[type(change)]}"']
    for field in fields(change):
        value = getattr(change, field.name)
        if value != field.default:
            parts.append(f"{field.name} = {_literal(field.name, value)}")
    text = "{ " + ", ".join(parts) + " }"
    if len(text) > MAX_TEXT:
        raise InputRefused("this is too long to be kept; shorten the notes of the kinds in it")
    return text


def _literal(name: str, value: object) -> str:
    """A value as TOML writes it on one line."""
    if isinstance(value, tuple):
        pairs = (f"{_key(key)} = {_literal(key, held)}" for key, held in value)
        return "{ " + ", ".join(pairs) + " }"
    if isinstance(value, bool):
        return "true" if value else "false"
    if not isinstance(value, str):
        return str(value)
    try:
        return json.dumps(clean(value), ensure_ascii=False)
    except ValueError as error:
        raise InputRefused(f"{name}: {error}") from None


def _key(name: str) -> str:
    """A key of a kind; those that there are need no quotes."""
    if not (name.isascii() and name.replace("_", "").isalnum()):
        raise InputRefused("a key of a kind has letters, digits and _ alone")
    return name


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
        if type(value) not in _TYPES[known[key].type]:
            raise InputRefused(f"{key}: the value is of another type")
        if isinstance(value, dict):
            table[key] = _description(key, value)
    try:
        change = shape(**table)
    except TypeError:
        raise InputRefused(f"the change '{name}' lacks one of: {', '.join(known)}") from None
    if line(change) != text:
        raise InputRefused("the change is not written as this program writes it")
    return change


def _description(key: str, table: dict[str, object]) -> Description:
    for value in table.values():
        if not isinstance(value, (str, int)):
            raise InputRefused(f"{key}: the value is of another type")
    return tuple((name, value) for name, value in table.items() if isinstance(value, (str, int)))
