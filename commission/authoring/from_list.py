"""From a list of stations to a draft: boxes, segments and stations, and everything wrong."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass, field

from commission.authoring.catalogue import (
    USUAL_DECODER,
    USUAL_SOLENOID,
    cable_named,
    kinds_where,
)
from commission.authoring.draft import (
    USUAL,
    Draft,
    DraftPath,
    DraftSegment,
    DraftStation,
    Kind,
    Kinds,
    Supply,
    Units,
)
from commission.authoring.evenly import DECODER, SOLENOID, kind_of, usual_transformers, usual_words
from commission.authoring.station_list import Row, StationList
from commission.problems import Problem
from commission.site.schema import ROOT
from commission.text import visible
from commission.units import FOOT_M, parse_quantity

_TERMINALS = frozenset({"output", "controller", "terminals", "0"})
_ID = re.compile(r"[A-Za-z0-9._-]{1,16}")
_COUNT = re.compile(r"([0-9]{1,2})|(?:([0-9]{1,2})\s*[x×]\s*)?([A-Za-z][A-Za-z0-9._-]*)")
_SAME_M = 0.005


@dataclass(frozen=True, slots=True)
class Choices:
    """What a list does not say: name, units, supply, and the kinds that stand in."""

    name: str
    units: Units
    supply: Supply
    cable: str = ""
    solenoid: str = ""
    decoder: str = ""
    where: Mapping[str, str] = field(default_factory=dict)  # where these come from


@dataclass
class _Box:
    """A box as the rows tell it; a distance from the terminals, or a length from another box."""

    line: int
    distance_m: float | None = None
    from_box: str | None = None
    length_m: float | None = None
    cable: str = ""


@dataclass
class _Path:
    output: str
    boxes: dict[str, _Box] = field(default_factory=dict)


def drawn_from(listed: StationList, choices: Choices, own: Kinds) -> tuple[Draft, list[Problem]]:
    """The draft that a list describes, and everything wrong; with problems it is not whole."""
    return _Drawing(listed, choices, own).draft()


class _Drawing:
    """Puts the rows together."""

    def __init__(self, listed: StationList, choices: Choices, own: Kinds) -> None:
        self._listed, self._choices, self._own = listed, choices, own
        self._file = listed.name
        self._problems = list(listed.problems)
        self._paths: dict[str, _Path] = {}
        self._stations: list[DraftStation] = []
        self._cables: dict[str, Kind] = {}
        self._sizes: dict[str, str] = {}  # where a kind of cable was first named
        self._solenoids: dict[str, Kind] = {}
        self._decoders: dict[str, Kind] = {}
        self._first: dict[tuple[str, int], int] = {}  # (column, number) to the line that has it

    def draft(self) -> tuple[Draft, list[Problem]]:
        """The draft and the problems."""
        for row in self._listed.rows:
            self._row(row)
        kinds = Kinds(self._solenoids, self._decoders, self._cables)
        paths = tuple(self._path(name, path) for name, path in self._paths.items())
        choices = self._choices
        assumed = [
            *usual_transformers(choices.supply),
            *usual_words(choices.solenoid, choices.decoder),
        ]
        if "address" not in self._listed.taken:
            assumed.append("addresses: each station's number")
        stations = tuple(sorted(self._stations, key=lambda one: one.number))
        where = {**self._where(), **choices.where, **kinds_where(kinds, self._own, self._sizes)}
        draft = Draft(
            choices.name, choices.units, choices.supply, kinds, paths, stations, tuple(assumed),
            where,
        )  # fmt: skip
        return draft, sorted(self._problems, key=lambda one: one.line or 0)

    def _where(self) -> dict[str, str]:
        """Where what stands in the file comes from, but for the kinds."""
        columns = {
            name: f"column '{visible(head, 40)}'" for name, head in self._listed.taken.items()
        }
        only, counted = "the list names none", "from its station's number"
        from_columns = {
            "output.id": columns.get("output", only),
            "path.id": columns.get("path", only),
            "path.output": columns.get("output", only),
            "path.cable": "most used of its segments",
            "path.segment": columns.get("length") or columns.get("distance", ""),
            "station.id": "counted on",
            "station.path": columns.get("path", only),
            "station.address": columns.get("address", f"{USUAL}: its number"),
            "station.box": columns.get("box", counted),
            "station.decoder": columns.get("decoder kind")
            or ("--decoder" if self._choices.decoder else USUAL),
            "station.solenoid": columns.get("solenoids", "one each"),
        }
        also = {"number": "station", "waters": "description"}
        return from_columns | {
            f"station.{key}": columns[name] for key, name in also.items() if name in columns
        }

    def _say(self, row: Row, column: str, words: str, remedy: str = "") -> None:
        self._problems.append(Problem(self._file, words, column, row.line, remedy))

    def _row(self, row: Row) -> None:
        """One row: its station, and what it says of its box."""
        before = len(self._problems)
        number = self._number(row, "station")
        address = self._number(row, "address") if row["address"] else number
        path = self._id(row, "path", "A")
        box = self._id(row, "box", f"B{row['station']}")
        self._box(row, path, box)
        count, kind = self._solenoid(row)
        decoder = self._decoder(row, count)
        if len(self._problems) == before and number is not None and address is not None:
            self._stations.append(
                DraftStation(
                    number, address, path, box, decoder, kind, count, row["description"],
                    f"line {row.line}",
                )
            )  # fmt: skip

    def _number(self, row: Row, column: str) -> int | None:
        words = row[column]
        if not re.fullmatch(r"[0-9]{1,5}", words) or int(words) < 1:
            said = f"'{visible(words, 40)}' is no whole number" if words else "nothing is written"
            self._say(row, column, said, "write a number from 1")
            return None
        number = int(words)
        first = self._first.setdefault((column, number), row.line)
        if first != row.line:
            self._say(row, column, f"{number} stands in line {first} too", "each has its own")
        return number

    def _id(self, row: Row, column: str, otherwise: str) -> str:
        words = re.sub(r"\s+", "-", row[column]) or otherwise
        if not _ID.fullmatch(words):
            self._say(
                row, column, f"'{visible(row[column] or words, 40)}' is no id",
                "1 to 16 of A-Z a-z 0-9 . _ -",
            )  # fmt: skip
        return words

    def _solenoid(self, row: Row) -> tuple[int, str]:
        """How many solenoids a station has, and of which kind."""
        found = _COUNT.fullmatch(row["solenoids"] or "1")
        named = found[3] if found and found[3] else self._choices.solenoid
        if found is None or (named and named not in self._own.solenoid):
            said = visible(row["solenoids"] or named, 40)
            remedy = "a number, or one with the name of a kind of your own: 2 x valve-1in"
            self._say(row, "solenoids", f"'{said}' is no number and no kind of solenoid", remedy)
            return 1, SOLENOID
        kind = named or _stand_in(SOLENOID, self._own.solenoid)
        self._solenoids[kind] = kind_of(named, self._own.solenoid, USUAL_SOLENOID)
        return int(found[1] or found[2] or 1), kind

    def _decoder(self, row: Row, solenoids: int) -> str:
        """The kind of decoder for so many solenoids."""
        name = row["decoder kind"] or self._choices.decoder
        if name and name not in self._own.decoder:
            words = f"'{visible(name, 40)}' is no kind of decoder"
            self._say(row, "decoder kind", words, "the name of a kind of your own, or nothing")
            name = ""
        if not name:
            several = f"{DECODER}-{solenoids}"
            name = _stand_in(DECODER if solenoids == 1 else several, self._own.decoder)
            self._decoders[name] = {"solenoids": solenoids, **USUAL_DECODER}
            return name
        self._decoders[name] = self._own.decoder[name]
        switches = self._own.decoder[name].get("solenoids", 1)
        if isinstance(switches, int) and switches < solenoids:
            words = f"{solenoids} solenoids on a decoder for {switches}"
            self._say(row, "solenoids", words, "take another kind, by --decoder or its column")
        return name

    def _cable(self, row: Row) -> str:
        """The kind of cable that feeds the box of a row, "" where it names none."""
        words = row["cable"] or self._choices.cable
        if not words:
            self._say(row, "cable", "no cable is named", "add a column, or name one with --cable")
            return ""
        try:
            kind, table = cable_named(words, self._own)
        except ValueError as error:
            self._say(row, "cable", f"'{visible(words, 40)}' is no cable", str(error))
            return ""
        self._cables[kind] = table
        self._sizes.setdefault(kind, f"line {row.line}" if row["cable"] else "--cable")
        return kind

    def _length(self, row: Row, column: str) -> float | None:
        if not row[column]:
            return None
        try:
            length_m = parse_quantity(row[column], "length")
        except ValueError as error:
            self._say(row, column, visible(str(error), 200), "write 180 ft or 55 m, or (ft) above")
            return None
        if length_m < 0:
            self._say(row, column, "a length is not negative")
            return None
        return length_m

    def _box(self, row: Row, path_id: str, box_id: str) -> None:
        """What a row says of its box; another row of the same box must say the same."""
        path = self._paths.setdefault(path_id, _Path(row["output"] or "1"))
        if row["output"] and row["output"] != path.output:
            words = f"path {visible(path_id, 20)} is on output {visible(path.output, 20)} above"
            self._say(row, "output", words, "a path lies on one output")
        found_before = len(self._problems)
        distance_m, length_m = self._length(row, "distance"), self._length(row, "length")
        chained = "from" in self._listed.taken
        if chained and length_m is None:
            distance_m, length_m = None, distance_m  # then a distance is from that box
        known = path.boxes.get(box_id)
        if known is not None:
            for told, before in ((distance_m, known.distance_m), (length_m, known.length_m)):
                if told is not None and (before is None or abs(told - before) > _SAME_M):
                    words = f"line {known.line} says something else of box {visible(box_id, 20)}"
                    self._say(row, "box", words, "make both alike, or leave one empty")
            return
        source = re.sub(r"\s+", "-", row["from"]) if chained else None
        if distance_m is None and length_m is None and len(self._problems) == found_before:
            column = "length" if chained or "distance" not in self._listed.taken else "distance"
            self._say(row, column, f"how far is box {visible(box_id, 20)}?", "write a length")
        if source is not None and (source.casefold() in _TERMINALS or not (source or path.boxes)):
            source = ROOT
        if source == "":
            self._say(row, "from", f"from which box is {visible(box_id, 20)} fed?", "name it")
        path.boxes[box_id] = _Box(row.line, distance_m, source, length_m, self._cable(row))

    def _path(self, name: str, path: _Path) -> DraftPath:
        """A path with its segments: along the distances, or from box to box."""
        before, before_m, segments = ROOT, 0.0, []
        boxes = list(path.boxes.items())
        if all(box.distance_m is not None for _, box in boxes):
            boxes.sort(key=lambda one: one[1].distance_m or 0.0)
        for box_id, box in boxes:
            source, length_m = box.from_box or before, box.length_m
            if box.from_box is not None and source != ROOT and source not in path.boxes:
                words = f"there is no box '{visible(source, 20)}' on path {visible(name, 20)}"
                self._problems.append(Problem(self._file, words, "from", box.line))
            if length_m is None:
                length_m = (box.distance_m or 0.0) - before_m
            segments.append(
                DraftSegment(source, box_id, self._shown(length_m), box.cable, f"line {box.line}")
            )
            before, before_m = box_id, box.distance_m or 0.0
        most = _most_used([one.cable for one in segments])
        return DraftPath(name, path.output, most, "drawing", tuple(segments))

    def _shown(self, length_m: float) -> str:
        if self._choices.units == "US":
            return f"{round(length_m / FOOT_M, 3):.9g} ft"
        return f"{round(length_m, 3):.9g} m"


def _stand_in(name: str, own: Mapping[str, Kind]) -> str:
    """A name for a kind of usual data, that is none of the user's own."""
    return f"usual-{name}" if name in own else name


def _most_used(names: list[str]) -> str:
    """The name that stands most often; the first of several."""
    counts: Mapping[str, int] = {name: names.count(name) for name in dict.fromkeys(names)}
    return max(counts, key=lambda name: counts[name]) if counts else ""
