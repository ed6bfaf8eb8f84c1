"""A form for each kind of change of a drawing: on site, or in a site file."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from commission.expected.sheet import Place
from commission.site.changes.kinds import (
    AddBox,
    AddEnd,
    AddStation,
    Cable,
    Change,
    DeleteBox,
    DeleteStation,
    Length,
    MoveStation,
    Rename,
)
from commission.site.schema import ROOT, Path, Site
from commission.tui.screens.form import Line, LineRefused

Values = dict[str, str]
BY = ("tape", "wheel", "drawing", "estimate")


@dataclass(frozen=True, slots=True)
class Kind:
    """One kind of change in a form: its words, its lines, and what is made of them."""

    words: str
    lines: Callable[[], list[Line]]
    make: Callable[[Values], Change]


class Kinds:
    """The kinds of change of a site as forms, filled in from where one stands."""

    def __init__(self, site: Site, at: Place) -> None:
        self._site, self._at = site, at

    def all(self) -> dict[str, Kind]:
        """Every kind, by a short name."""
        return {
            "length": Kind("Another length of cable", self._length, self._made_length),
            "cable": Kind("Another cable, or another size", self._cable, self._made_cable),
            "box": Kind("A box in the middle of a cable", self._box, self._made_box),
            "end": Kind("More cable, with a box at its end", self._end, self._made_end),
            "station": Kind("A station that is not drawn", self._station, self._made_station),
            "move": Kind("A station in another box", self._move, self._made_move),
            "rename": Kind("Another label; ids stay", self._label, self._made_label),
            "no-station": Kind("A station that is not there", self._gone, self._no_station),
            "no-box": Kind("A box that is not there", self._no, self._no_box),
        }

    @property
    def _path(self) -> Path:
        paths = self._site.path
        return next((path for path in paths if path.id == self._at.path), paths[0])

    def _boxes(self, key: str, label: str) -> Line:
        """A line for a box: the one at hand, or the first of the path at hand."""
        boxes = tuple(s.to_box for path in self._site.path for s in path.segment)
        first = self._at.box or self._path.segment[0].to_box
        return Line(key, label, first, boxes if len(boxes) < 10 else (), needed="name a box")

    def _stations(self) -> Line:
        return Line("station", "Station (number)", self._number(), needed="write its number")

    def _number(self) -> str:
        own = self._at.station
        return next((str(s.number) for s in self._site.station if s.id == own), "")

    def _path_of(self, box: str, key: str = "box") -> str:
        """The path that a box is on: box ids belong to one path."""
        for path in self._site.path:
            if any(segment.to_box == box for segment in path.segment):
                return path.id
        raise LineRefused(key, f"there is no box '{box}'")

    def _id_of(self, number: str) -> str:
        for station in self._site.station:
            if str(station.number) == number:
                return station.id
        raise LineRefused("station", f"there is no station {number}")

    def _length(self) -> list[Line]:
        return [
            self._boxes("box", "The cable that leads to box"),
            Line("length", "Length, with its unit", needed='such as "180 ft"'),
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

    def _end(self) -> list[Line]:
        cable = (
            f"Cable, where another than the path's ({', '.join(tuple(self._site.cable_kind)[:6])})"
        )
        return [
            Line("path", "Path", self._path.id, needed="name the path"),
            Line(
                "from", "From box, or output", self._at.box or ROOT, needed="name a box, or output"
            ),
            Line("id", "Id of the new box, for good", needed="1 to 16 of A-Z a-z 0-9 . _ -"),
            Line("length", "Length of the cable", needed='such as "60 ft"'),
            Line("cable", cable),
            Line("label", "Label"),
            Line("location", "Where it is"),
        ]

    def _made_end(self, v: Values) -> Change:
        return AddEnd(
            v["path"], v["from"], v["id"], v["length"], v["cable"], v["label"], v["location"]
        )

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
        what, identity, label = "path", self._path.id, self._path.label
        if self._at.station:
            what, identity = "station", self._at.station
            label = next((s.label for s in self._site.station if s.id == identity), "")
        elif self._at.box:
            what, identity = "box", self._at.box
            label = next((box.label for box in self._path.box if box.id == identity), "")
        return [
            Line("what", "Of a", what, ("path", "box", "station")),
            Line("id", "Its id", identity, needed="write its id"),
            Line("label", "Label; empty: none", label),
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
