"""What must hold between the tables of a site file: references, ids, trees, addresses, sense.

Works on the raw tables, so that these problems are told even when a table has others; what is not
of the right shape is passed over here, the schema says it.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any

from commission.problems import Problem, nearest
from commission.site.bundles import of_bundles
from commission.site.schema import ROOT
from commission.site.sense import of_tables
from commission.site.tables import Row, rows_of, si
from commission.text import visible
from commission.toml_place import Location, Places, named

MOST_REMEDIES = 100


class Relations:
    """The checks of one raw site file."""

    def __init__(self, table: Row, file: str, places: Places) -> None:
        self._table = table
        self._file = file
        self._places = places
        self._found: list[Problem] = []
        self._cable_kinds = self._names("cable_kind")
        self._decoder_kinds = self._names("decoder_kind")
        self._solenoid_kinds = self._names("solenoid_kind")

    def problems(self) -> list[Problem]:
        """Every problem between tables."""
        self._ids()
        for place, message, remedy in of_tables(self._table):
            self._say(place, message, remedy)
        boxes = self._paths()
        self._stations(boxes)
        for place, message, remedy in of_bundles(self._table, boxes, self._cable_kinds):
            self._say(place, message, remedy)
        return self._found

    # Looking into raw tables

    def _rows(self, key: str, within: Location = ()) -> Iterator[tuple[Location, Row]]:
        """The tables of a list, with their places; whatever is no table is passed over."""
        here: Any = self._table
        for part in within:
            here = here[part]
        return rows_of(here, key, within)

    def _names(self, key: str) -> set[str]:
        found = self._table.get(key)
        return set(found) if isinstance(found, Mapping) else set()

    def _say(self, place: Location, message: str, remedy: str = "") -> None:
        key = named(place, self._table)
        self._found.append(Problem(self._file, message, key, self._places.line(place), remedy))

    def _refers(self, place: Location, name: object, known: set[str], what: str) -> bool:
        """Whether a name is known; says so when it is not."""
        if not isinstance(name, str):
            return False
        if name not in known:
            self._say(
                place, f"there is no {what} '{visible(name, 40)}'", self._nearest(name, known)
            )
        return name in known

    def _nearest(self, word: str, known: set[str]) -> str:
        """The nearest name, for the first problems; looking for thousands takes minutes."""
        return nearest(word, known) if len(self._found) < MOST_REMEDIES else ""

    # The checks

    def _ids(self) -> None:
        """Ids are unique ignoring case, each among its own kind."""
        kinds: dict[str, list[tuple[Location, Row]]] = {
            "output": list(self._rows("output")),
            "path": list(self._rows("path")),
            "station": list(self._rows("station")),
            "solenoid": [
                one
                for place, _station in self._rows("station")
                for one in self._rows("solenoid", place)
            ],
        }
        for what, rows in kinds.items():
            seen: dict[str, str] = {}
            for place, row in rows:
                own = row.get("id")
                if isinstance(own, str):
                    if own.lower() in seen:
                        self._say((*place, "id"), f"{what} id '{visible(own, 40)}' is taken twice "
                                  "(upper and lower case count as the same)")  # fmt: skip
                    seen[own.lower()] = own

    def _paths(self) -> dict[str, set[str]]:
        """Check every path; returns by path id the boxes that segments lead to."""
        outputs = {row["id"] for _, row in self._rows("output") if isinstance(row.get("id"), str)}
        boxes: dict[str, set[str]] = {}
        taken: dict[str, str] = {}
        for number, (place, path) in enumerate(self._rows("path")):
            self._refers((*place, "output"), path.get("output"), outputs, "output")
            self._cables((*place, "cable"), path.get("cable"))
            feeds = self._feeds(place)
            own = str(path.get("id", number + 1))
            self._tree(feeds)
            for box, (_source, segment) in feeds.items():
                other = taken.setdefault(box.lower(), own)
                if other != own:
                    self._say(
                        (*segment, "to"),
                        f"box id '{visible(box, 40)}' stands on path {visible(other, 20)} too",
                        "a box id belongs to one path",
                    )
            boxes.setdefault(own, {ROOT}).update(feeds)
            self._boxes(place, set(feeds))
        return boxes

    def _boxes(self, path: Location, known: set[str]) -> None:
        """What is told of boxes is told of boxes of the path, once each."""
        told: set[str] = set()
        for place, row in self._rows("box", path):
            own = row.get("id")
            if not isinstance(own, str):
                continue
            if own not in known:
                self._say((*place, "id"), f"box '{visible(own, 40)}' is reached by no segment",
                          self._nearest(own, known))  # fmt: skip
            elif own in told:
                self._say((*place, "id"), f"box '{visible(own, 40)}' is described twice")
            told.add(own)

    def _cables(self, place: Location, cable: Any) -> None:
        for name in [cable] if isinstance(cable, str) else cable if isinstance(cable, list) else []:
            self._refers(place, name, self._cable_kinds, "cable kind")

    def _feeds(self, path: Location) -> dict[str, tuple[str, Location]]:
        """Box to the box that feeds it and the place of the segment that says so."""
        feeds: dict[str, tuple[str, Location]] = {}
        fed = set()
        for place, segment in self._rows("segment", path):
            self._cables((*place, "cable"), segment.get("cable"))
            if si(segment.get("length"), "length") == 0:
                self._say((*place, "length"), "a segment of no length")
            source, target = segment.get("from"), segment.get("to")
            if not isinstance(source, str) or not isinstance(target, str):
                continue
            if target.lower() == ROOT:
                self._say((*place, "to"), f"'{ROOT}' is the output terminals; nothing feeds them")
            elif target.lower() in fed:
                self._say((*place, "to"), f"box '{visible(target, 40)}' is fed twice",
                          "a path is a tree: one segment leads to each box "
                          "(upper and lower case count as the same)")  # fmt: skip
            else:
                feeds[target] = (source, place)
                fed.add(target.lower())
        return feeds

    def _tree(self, feeds: dict[str, tuple[str, Location]]) -> None:
        """Say which boxes do not hang from the terminals, and where a loop closes."""
        settled = {ROOT}
        starts = {ROOT, *feeds}
        for box in feeds:
            trail: dict[str, None] = {}  # in the order walked, from the box towards the output
            here = box
            while here not in settled and here in feeds and here not in trail:
                trail[here] = None
                here = feeds[here][0]
            if here in trail:
                ring = list(trail)[list(trail).index(here) :]
                loop = " to ".join(visible(one, 20) for one in [here, *reversed(ring)][:8])
                self._say((*feeds[here][1], "from"), f"a loop: {loop}",
                          "a path is a tree that starts at the output")  # fmt: skip
            elif here not in settled:
                self._say((*feeds[next(reversed(trail))][1], "from"),
                          f"box '{visible(here, 40)}' is reached by no segment",
                          f"a path starts from '{ROOT}'; "
                          f"{self._nearest(here, starts)}")  # fmt: skip
            settled.update(trail, (here,))

    def _stations(self, boxes: dict[str, set[str]]) -> None:
        output_of = {
            row["id"]: str(row.get("output"))
            for _, row in self._rows("path")
            if isinstance(row.get("id"), str)
        }
        paths = set(output_of)
        numbers: dict[int, str] = {}
        addresses: dict[tuple[str, int], str] = {}
        for place, row in self._rows("station"):
            own = visible(str(row.get("id", "?")), 20)
            known = self._refers((*place, "path"), row.get("path"), paths, "path")
            if known:
                self._refers((*place, "box"), row.get("box"), boxes[row["path"]],
                             f"box on path {visible(str(row['path']), 20)} called")  # fmt: skip
            if self._refers(
                (*place, "decoder"), row.get("decoder"), self._decoder_kinds, "decoder kind"
            ):
                self._coils(place, row)
            number = row.get("number")
            if isinstance(number, int):
                if number in numbers:
                    self._say((*place, "number"), f"station number {number} is taken by "
                              f"{numbers[number]}")  # fmt: skip
                numbers.setdefault(number, own)
            address = row.get("address")
            if known and isinstance(address, int):
                at = (output_of[row["path"]], address)
                if at in addresses:
                    self._say((*place, "address"), f"address {address} is taken by "
                              f"{addresses[at]} on the same output")  # fmt: skip
                addresses.setdefault(at, own)

    def _coils(self, place: Location, row: Row) -> None:
        """The solenoids of a station: their kinds, and no more than its decoder switches."""
        count = 0
        for coil_place, coil in self._rows("solenoid", place):
            count += 1
            self._refers(
                (*coil_place, "kind"), coil.get("kind"), self._solenoid_kinds, "solenoid kind"
            )
        decoder = self._table["decoder_kind"][row["decoder"]]
        most = decoder.get("solenoids", 1) if isinstance(decoder, Mapping) else count
        if isinstance(most, int) and count > most:
            self._say((*place, "solenoid"), f"{count} solenoids on a decoder for {most}")
