"""The ground differs from the drawing: a form for each kind of change."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import partial
from typing import TYPE_CHECKING

from commission.site.changes.kinds import (
    AddBox,
    AddStation,
    Cable,
    Change,
    DeleteBox,
    DeleteStation,
    Length,
    MoveStation,
    Rename,
)
from commission.site.schema import Path
from commission.tui.screens.form import Line, LineRefused

if TYPE_CHECKING:
    from commission.tui.screens.walk import WalkScreen

Values = dict[str, str]
REASON = "write in a few words why, or how it was found"
ABOUT = (
    "Kept in the record with who, when and why. Expected values and steps follow it from now on. "
    "Answered steps that it touches ask for a second look; the others stay."
)
BY = ("tape", "wheel", "drawing", "estimate")


@dataclass(frozen=True, slots=True)
class Kind:
    """One kind of change in a form: its words, its lines, and what is made of them."""

    words: str
    lines: Callable[[], list[Line]]
    make: Callable[[Values], Change]


class Kinds:
    """The kinds of change as forms, filled in from where the walk stands."""

    def __init__(self, walk: WalkScreen) -> None:
        self._site, self._target = walk.job.site, walk.status.step.target
        self._trees = walk.job.sheet.drawing.trees

    def all(self) -> dict[str, Kind]:
        """Every kind, by a short name."""
        return {
            "length": Kind("Another length of cable", self._length, self._made_length),
            "cable": Kind("Another cable, or another size", self._cable, self._made_cable),
            "box": Kind("A box in the middle of a cable", self._box, self._made_box),
            "station": Kind("A station that is not drawn", self._station, self._made_station),
            "move": Kind("A station in another box", self._move, self._made_move),
            "rename": Kind("Another label; ids stay", self._label, self._made_label),
            "no-station": Kind("A station that is not there", self._gone, self._no_station),
            "no-box": Kind("A box that is not there", self._no, self._no_box),
        }

    @property
    def _path(self) -> Path:
        paths = self._site.path
        return next((path for path in paths if path.id == self._target.path), paths[0])

    def _boxes(self, key: str, label: str) -> Line:
        """A line for a box: the one at hand, or the first of the path at hand."""
        boxes = tuple(s.to_box for path in self._site.path for s in path.segment)
        first = self._target.box or self._path.segment[0].to_box
        return Line(key, label, first, boxes if len(boxes) < 10 else (), needed="name a box")

    def _stations(self) -> Line:
        return Line("station", "Station (number)", self._number(), needed="write its number")

    def _number(self) -> str:
        own = self._target.station
        return next((str(s.number) for s in self._site.station if s.id == own), "")

    def _path_of(self, box: str, key: str = "box") -> str:
        """The path that a box is on: box ids belong to one path."""
        for path, tree in self._trees.items():
            if box in tree.feeds:
                return path
        raise LineRefused(key, f"there is no box '{box}'")

    def _id_of(self, number: str) -> str:
        for station in self._site.station:
            if str(station.number) == number:
                return station.id
        raise LineRefused("station", f"there is no station {number}")

    def _length(self) -> list[Line]:
        return [
            self._boxes("box", "The cable that leads to box"),
            Line("length", "Length found, with its unit", needed='such as "180 ft"'),
            Line("by", "Taken by", "tape", BY),
        ]

    def _made_length(self, values: Values) -> Change:
        return Length(self._path_of(values["box"]), values["box"], values["length"], values["by"])

    def _cable(self) -> list[Line]:
        kinds = tuple(self._site.cable_kind)
        return [
            self._boxes("box", "The cable that leads to box"),
            Line(
                "cable",
                f"A kind ({', '.join(kinds[:6])}), or a size",
                needed='such as "16 AWG" or "2.5 mm²"',
            ),
        ]

    def _made_cable(self, values: Values) -> Change:
        return Cable(self._path_of(values["box"]), values["box"], values["cable"])

    def _box(self) -> list[Line]:
        return [
            self._boxes("before", "In the cable that leads to box"),
            Line("id", "Id of the new box, for good", needed="1 to 16 of A-Z a-z 0-9 . _ -"),
            Line("first", "Length up to the new box", needed='such as "60 ft"'),
            Line("second", "Length on from it", needed='such as "80 ft"'),
            Line("label", "Label"),
            Line("location", "Where it is"),
        ]

    def _made_box(self, v: Values) -> Change:
        path = self._path_of(v["before"], "before")
        found = v["id"], v["first"], v["second"], v["label"], v["location"]
        return AddBox(path, v["before"], *found)

    def _station(self) -> list[Line]:
        number = max(s.number for s in self._site.station) + 1
        address = max(s.address for s in self._site.station) + 1
        decoders, solenoids = tuple(self._site.decoder_kind), tuple(self._site.solenoid_kind)
        return [
            self._boxes("box", "Box"),
            Line("number", "Number", str(number), needed="a whole number"),
            Line("id", "Id, for good", f"S{number}", needed="1 to 16 of A-Z a-z 0-9 . _ -"),
            Line("address", "Address", str(address), needed="a whole number"),
            Line("decoder", "Decoder", decoders[0], decoders),
            Line("solenoid", "Solenoid", solenoids[0], solenoids),
            Line("count", "How many solenoids", "1", needed="a whole number"),
        ]

    def _made_station(self, v: Values) -> Change:
        number, address, count = (_whole(v, key) for key in ("number", "address", "count"))
        path, decoder = self._path_of(v["box"]), v["decoder"]
        return AddStation(
            v["id"], number, address, path, v["box"], decoder, v["solenoid"], count
        )  # fmt: skip

    def _move(self) -> list[Line]:
        return [self._stations(), self._boxes("box", "It is in box")]

    def _made_move(self, values: Values) -> Change:
        path = self._path_of(values["box"])
        return MoveStation(self._id_of(values["station"]), path, values["box"])

    def _label(self) -> list[Line]:
        what, identity = "path", self._path.id
        if self._target.station:
            what, identity = "station", self._target.station
        elif self._target.box:
            what, identity = "box", self._target.box
        return [
            Line("what", "Of a", what, ("path", "box", "station")),
            Line("id", "Its id", identity, needed="write its id"),
            Line("label", "Label"),
        ]

    def _made_label(self, values: Values) -> Change:
        return Rename(values["what"], values["id"], values["label"])

    def _gone(self) -> list[Line]:
        return [self._stations()]

    def _no_station(self, values: Values) -> Change:
        return DeleteStation(self._id_of(values["station"]))

    def _no(self) -> list[Line]:
        return [self._boxes("box", "Box")]

    def _no_box(self, values: Values) -> Change:
        return DeleteBox(self._path_of(values["box"]), values["box"])


def _whole(values: Values, key: str) -> int:
    if not (values[key].isascii() and values[key].isdecimal() and len(values[key]) < 7):
        raise LineRefused(key, "a whole number")
    return int(values[key])


class DrawingDialogue:
    """Which kind of change, then its form; `form` and `choose` open dialogues over the walk."""

    def __init__(
        self,
        walk: WalkScreen,
        form: Callable[..., None],
        choose: Callable[..., None],
        after: Callable[[], None],
    ) -> None:
        self._walk, self._form, self._choose, self._after = walk, form, choose, after

    def show(self) -> None:
        """Choose the kind; what has no kind is noted in words only."""
        options = {
            key: (kind.words, partial(self._redraw, kind))
            for key, kind in Kinds(self._walk).all().items()
        }
        other = "Something else, only to be noted", self._note
        self._choose("The ground differs from the drawing", {**options, "other": other})

    def _redraw(self, kind: Kind) -> None:
        lines = [*kind.lines(), Line("reason", "Why, or how it was found", needed=REASON)]
        self._form(kind.words, lines, partial(self._keep, kind), self._after, ABOUT)

    def _keep(self, kind: Kind, values: Values) -> None:
        """Make the change and keep it; raises InputRefused, StepRefused."""
        reason = values.pop("reason")
        change = kind.make({key: text.strip() for key, text in values.items()})
        self._walk.session.change_site(self._walk.status.step, change, reason)

    def _note(self) -> None:
        step = self._walk.status.step
        self._form(
            "The ground differs from the drawing",
            [
                Line("subject", "What", step.target.label, needed="write what differs"),
                Line("before", "As drawn"),
                Line("after", "As found", needed="write what was found"),
                Line("reason", "Why, or how it was found", needed=REASON),
            ],
            lambda values: self._walk.session.change_drawing(step, **values),
            self._after,
            "Kept in the record and in the report, in words only: expected values and steps stay "
            "as they are.",
        )
