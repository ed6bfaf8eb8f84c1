"""The paths of a list: each box as its rows tell it, and the cable that leads there."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, field
from typing import Protocol

from commission.authoring.draft import DraftPath, DraftSegment, Units
from commission.authoring.station_list import Row
from commission.site.schema import MAX_LENGTH_M, ROOT
from commission.text import visible
from commission.units import FOOT_M, length_words, parse_quantity

TERMINALS = frozenset({"output", "controller", "terminals", "0"})
_SAME_M = 0.005
_THREE_DECIMALS = re.compile(r"\d{1,3}\.\d{3}")  # of which units can't tell a thousand


class Say(Protocol):
    """Tells a problem of a row and column."""

    def __call__(self, row: Row, column: str, words: str, remedy: str = "") -> None: ...


@dataclass
class _Box:
    """A box as the rows tell it; a distance from the terminals, or a length from another box."""

    row: Row
    distance_m: float | None = None
    from_box: str | None = None
    length_m: float | None = None
    cable: str = ""


@dataclass
class _Path:
    output: str
    boxes: dict[str, _Box] = field(default_factory=dict)


class PathsListed:
    """Puts the boxes of a list together; `cable` gives the kind that feeds the box of a row."""

    def __init__(
        self, taken: Mapping[str, str], units: Units, say: Say, cable: Callable[[Row], str]
    ) -> None:
        self._chained = "from" in taken
        self._far = "length" if self._chained or "distance" not in taken else "distance"
        self._units, self._say, self._cable = units, say, cable
        self._paths: dict[str, _Path] = {}
        self._path_of: dict[str, str] = {}  # box to the path on which it first stood

    def output(self, path_id: str) -> str:
        """The output that a path lies on."""
        return self._paths[path_id].output

    def box(self, row: Row, output: str, path_id: str, box_id: str) -> None:
        """Take in what a row says of its box; another row of the same box must say the same.

        `output` is "" where the row names none.
        """
        path = self._paths.setdefault(path_id, _Path(output or "1"))
        if output and output != path.output:
            words = f"path {visible(path_id, 20)} is on output {visible(path.output, 20)} above"
            self._say(row, "output", words, "a path lies on one output")
        named = visible(box_id, 20)
        if box_id.casefold() in TERMINALS:
            self._say(row, "box", f"'{named}' names the output terminals", "name it otherwise")
        other = self._path_of.setdefault(box_id, path_id)
        if other != path_id:
            words = f"box {named} stands on path {visible(other, 20)} above"
            self._say(row, "box", words, "a box id belongs to one path")
        distance_m, length_m = self._length(row, "distance"), self._length(row, "length")
        if self._chained and length_m is None:
            distance_m, length_m = None, distance_m  # then a distance is from that box
        known = path.boxes.get(box_id)
        if known is None:
            self._new_box(row, path, box_id, _Box(row, distance_m, None, length_m))
            return
        for told, before in ((distance_m, known.distance_m), (length_m, known.length_m)):
            if told is not None and (before is None or abs(told - before) > _SAME_M):
                words = f"line {known.row.line} says something else of box {named}"
                self._say(row, "box", words, "make both alike, or leave one empty")

    def _new_box(self, row: Row, path: _Path, box_id: str, box: _Box) -> None:
        named = visible(box_id, 20)
        if not row["distance"] and not row["length"]:
            self._say(row, self._far, f"how far is box {named}?", "write a length")
        if self._chained:
            source = re.sub(r"\s+", "-", row["from"])
            if source.casefold() in TERMINALS or not (source or path.boxes):
                source = ROOT
            if source == "":
                self._say(row, "from", f"from which box is {named} fed?", "name it")
            box.from_box = source
        box.cable = self._cable(row)
        path.boxes[box_id] = box

    def _length(self, row: Row, column: str) -> float | None:
        if not row[column]:
            return None
        try:
            length_m = parse_quantity(row[column], "length")
        except ValueError as error:
            self._say(row, column, visible(str(error), 200), "write 180 ft or 55 m, or (ft) above")
            return None
        if not 0 <= length_m <= MAX_LENGTH_M:
            self._say(row, column, "a length is not negative, and at most 20 km or 65,600 ft")
            return None
        return length_m

    def drafts(self) -> tuple[DraftPath, ...]:
        """The paths, once every row is taken in."""
        return tuple(self._draft(name, path) for name, path in self._paths.items())

    def _draft(self, name: str, path: _Path) -> DraftPath:
        """A path with its segments: along the distances, or from box to box."""
        if self._chained:
            self._trace(name, path)
        segments = tuple(self._segments(path))
        most = _most_used([one.cable for one in segments])
        return DraftPath(name, path.output, most, "drawing", segments)

    def _segments(self, path: _Path) -> Iterator[DraftSegment]:
        before, before_m = ROOT, 0.0
        boxes = list(path.boxes.items())
        if all(box.distance_m is not None for _, box in boxes):
            boxes.sort(key=lambda one: one[1].distance_m or 0.0)
        for box_id, box in boxes:
            length_m = box.length_m
            along_m = None if box.distance_m is None else box.distance_m - before_m
            if length_m is None:
                length_m = along_m
            elif along_m is not None and not self._chained and abs(along_m - length_m) > _SAME_M:
                far = length_words(along_m, self._units)
                words = f"by the distances it lies {far} from {visible(before, 20)}"
                self._say(box.row, "length", words, "make both agree, or leave one out")
            if length_m is not None and length_m <= 0:
                words = f"no cable leads from {visible(box.from_box or before, 20)} to it"
                self._say(box.row, self._far, words, "write more than nothing, or name one box")
            length_m, source = length_m or 0.0, box.from_box or before
            where = f"line {box.row.line}"
            yield DraftSegment(source, box_id, self._shown(length_m), box.cable, where)
            before, before_m = box_id, before_m + length_m

    def _trace(self, name: str, path: _Path) -> None:
        """Tell boxes that are fed from none, or in a circle."""
        fed = {ROOT}
        for start, box in path.boxes.items():
            source = box.from_box or ROOT
            if source not in path.boxes and source != ROOT:
                words = f"there is no box '{visible(source, 20)}' on path {visible(name, 20)}"
                self._say(box.row, "from", words)
            way: dict[str, None] = {}
            here = start
            while here in path.boxes and here not in fed and here not in way:
                way[here] = None
                here = path.boxes[here].from_box or ROOT
            if here in way:
                words = f"box {visible(here, 20)} is fed from itself, in a circle"
                self._say(path.boxes[here].row, "from", words, "begin at the output terminals")
            fed.update(way)

    def _shown(self, length_m: float) -> str:
        feet = self._units == "US"
        number = f"{round(length_m / FOOT_M if feet else length_m, 3):.9g}"
        if _THREE_DECIMALS.fullmatch(number):
            number += "0"
        return f"{number} {'ft' if feet else 'm'}"


def _most_used(names: list[str]) -> str:
    """The name that stands most often; the first of several."""
    counts: Mapping[str, int] = {name: names.count(name) for name in dict.fromkeys(names)}
    return max(counts, key=lambda name: counts[name]) if counts else ""
