"""What must hold between the tables of a site file: references, ids, trees, addresses, sense.

Works on the raw tables, so that these problems are told even when a table has others; what is not
of the right shape is passed over here, the schema says it.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any

from commission.electrical.conductors import MAX_METRIC_OHM_PER_KM
from commission.problems import Problem, nearest
from commission.site.schema import ROOT
from commission.text import visible
from commission.toml_place import Location, Places, named
from commission.units import Quantity, parse_quantity

Row = Mapping[str, Any]


class Relations:
    """The checks of one raw site file."""

    def __init__(self, table: Row, file: str, places: Places) -> None:
        self._table = table
        self._file = file
        self._places = places
        self._found: list[Problem] = []

    def problems(self) -> list[Problem]:
        """Every problem between tables."""
        self._ids()
        self._outputs()
        self._kinds()
        boxes = self._paths()
        self._stations(boxes)
        return self._found

    # Looking into raw tables

    def _rows(self, key: str, within: Location = ()) -> Iterator[tuple[Location, Row]]:
        """The tables of a list, with their places; whatever is no table is passed over."""
        here: Any = self._table
        for part in within:
            here = here[part]
        rows = here.get(key)
        if isinstance(rows, list):
            for number, row in enumerate(rows):
                if isinstance(row, Mapping):
                    yield (*within, key, number), row

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
            self._say(place, f"there is no {what} '{visible(name, 40)}'", nearest(name, known))
        return name in known

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

    def _outputs(self) -> None:
        for place, row in self._rows("output"):
            by_regulation = "regulation" in row and ("rating" in row or "rated_current" in row)
            by_source = "open_circuit_voltage" in row and "source_resistance" in row
            if not by_regulation and not by_source:
                self._say(place, "the source is not given completely",
                          "give regulation with rating (or rated_current), or "
                          "open_circuit_voltage with source_resistance")  # fmt: skip
            if by_source and not ("rating" in row or "rated_current" in row):
                self._say(place, "what the output may carry is missing",
                          "give rating or rated_current")  # fmt: skip
            if row.get("earthing") == "impedance" and "earthing_impedance" not in row:
                self._say(place, "earthing_impedance is missing", "give it, or another earthing")

    def _kinds(self) -> None:
        for name in self._names("cable_kind"):
            self._cable_kind(("cable_kind", name), self._table["cable_kind"][name])
        for name in self._names("solenoid_kind"):
            self._solenoid_kind(("solenoid_kind", name), self._table["solenoid_kind"][name])

    def _cable_kind(self, place: Location, row: Any) -> None:
        if not isinstance(row, Mapping) or "resistance" in row:
            return
        size = str(row.get("conductor", ""))
        number = size.partition(" ")[0]
        if size.endswith("AWG"):
            if number.isdigit() and not 0 <= int(number) <= 40:
                self._say((*place, "conductor"), f"'{size}' is not a wire gauge")
        elif size.endswith(("mm²", "mm2")):
            known = {f"{one:g}": one for one in MAX_METRIC_OHM_PER_KM}
            if number not in known:
                self._say((*place, "conductor"), f"'{size}' is not a standard size",
                          f"valid: {', '.join(known)} mm², or give its resistance")  # fmt: skip

    def _solenoid_kind(self, place: Location, row: Any) -> None:
        if not isinstance(row, Mapping):
            return
        inrush = _si(row.get("inrush_current"), "current")
        holding = _si(row.get("holding_current"), "current")
        rated = _si(row.get("rated_voltage", "24 V"), "voltage")
        coil = _si(row.get("coil_resistance"), "resistance")
        minimum = _si(row.get("min_voltage", "20 V"), "voltage")
        for key, value in (("inrush_current", inrush), ("holding_current", holding)):
            if value is not None and value <= 0:
                self._say((*place, key), "must be more than nothing")
        if inrush and holding and holding > inrush:
            self._say((*place, "holding_current"), "holding current above inrush current",
                      "change them over?")  # fmt: skip
        if coil is not None and inrush and rated and coil > rated / inrush:
            self._say((*place, "coil_resistance"),
                      f"more than {rated / inrush:.3g} ohm cannot draw the inrush current",
                      "the d.c. resistance is below rated voltage over inrush current")  # fmt: skip
        if minimum is not None and rated is not None and minimum > rated:
            self._say((*place, "min_voltage"), "the minimum is above the rated voltage")

    def _paths(self) -> dict[str, str]:
        """Check every path; returns box id (as written) to path id for boxes that are reached."""
        outputs = {row["id"] for _, row in self._rows("output") if isinstance(row.get("id"), str)}
        cables = self._names("cable_kind")
        owner: dict[str, str] = {}
        taken: dict[str, str] = {}
        for place, path in self._rows("path"):
            self._refers((*place, "output"), path.get("output"), outputs, "output")
            self._cables((*place, "cable"), path.get("cable"), cables)
            feeds = self._feeds(place, cables)
            for box in self._tree(place, feeds):
                own = str(path.get("id"))
                if box.lower() in taken and taken[box.lower()] != own:
                    self._say(place, f"box id '{visible(box, 40)}' stands on path "
                              f"{visible(taken[box.lower()], 20)} too",
                              "a box id belongs to one path")  # fmt: skip
                taken[box.lower()] = own
                owner.setdefault(box, own)
            for box_place, row in self._rows("box", place):
                self._reached((*box_place, "id"), row.get("id"), set(feeds))
        return owner

    def _cables(self, place: Location, cable: Any, known: set[str]) -> None:
        for name in [cable] if isinstance(cable, str) else cable if isinstance(cable, list) else []:
            self._refers(place, name, known, "cable kind")

    def _feeds(self, path: Location, cables: set[str]) -> dict[str, tuple[str, Location]]:
        """Box to the box that feeds it and the place of the segment that says so."""
        feeds: dict[str, tuple[str, Location]] = {}
        for place, segment in self._rows("segment", path):
            self._cables((*place, "cable"), segment.get("cable"), cables)
            if _si(segment.get("length"), "length") == 0:
                self._say((*place, "length"), "a segment of no length")
            source, target = segment.get("from"), segment.get("to")
            if not isinstance(source, str) or not isinstance(target, str):
                continue
            if target == ROOT:
                self._say((*place, "to"), f"'{ROOT}' is the output terminals; nothing feeds them")
            elif target in feeds:
                self._say((*place, "to"), f"box '{visible(target, 40)}' is fed twice",
                          "a path is a tree: one segment leads to each box")  # fmt: skip
            else:
                feeds[target] = (source, place)
        return feeds

    def _tree(self, path: Location, feeds: dict[str, tuple[str, Location]]) -> list[str]:
        """The boxes that hang from the terminals; says which do not, and where a loop closes."""
        reached: dict[str, bool] = {ROOT: True}
        for box in feeds:
            trail: list[str] = []
            here = box
            while here not in reached and here in feeds and here not in trail:
                trail.append(here)
                here = feeds[here][0]
            if here in trail:
                loop = " to ".join(visible(one, 20) for one in [*reversed(trail), trail[-1]][:8])
                self._say((*feeds[here][1], "from"), f"a loop: {loop}",
                          "a path is a tree that starts at the output")  # fmt: skip
            elif here not in reached:
                self._say((*feeds[trail[-1]][1], "from"),
                          f"box '{visible(here, 40)}' is reached by no segment",
                          f"a path starts from '{ROOT}'; "
                          f"{nearest(here, {*feeds, ROOT} - {here})}")  # fmt: skip
            reached |= dict.fromkeys(trail, reached.get(here, False))
        return [box for box in feeds if reached.get(box)]

    def _reached(self, place: Location, box: Any, boxes: set[str]) -> None:
        if isinstance(box, str) and box not in boxes:
            self._say(place, f"box '{visible(box, 40)}' is reached by no segment",
                      nearest(box, boxes))  # fmt: skip

    def _stations(self, boxes: dict[str, str]) -> None:
        output_of = {
            row["id"]: row.get("output")
            for _, row in self._rows("path")
            if isinstance(row.get("id"), str)
        }
        decoders = self._names("decoder_kind")
        numbers: dict[int, str] = {}
        addresses: dict[tuple[Any, int], str] = {}
        for place, row in self._rows("station"):
            own = visible(str(row.get("id", "?")), 20)
            known = self._refers((*place, "path"), row.get("path"), set(output_of), "path")
            if known:
                here = {box for box, path in boxes.items() if path == row["path"]}
                self._refers((*place, "box"), row.get("box"), here | {ROOT},
                             f"box on path {visible(str(row['path']), 20)} called")  # fmt: skip
            if self._refers((*place, "decoder"), row.get("decoder"), decoders, "decoder kind"):
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
        kinds, count = self._names("solenoid_kind"), 0
        for coil_place, coil in self._rows("solenoid", place):
            count += 1
            self._refers((*coil_place, "kind"), coil.get("kind"), kinds, "solenoid kind")
        decoder = self._table["decoder_kind"][row["decoder"]]
        most = decoder.get("solenoids", 1) if isinstance(decoder, Mapping) else count
        if isinstance(most, int) and count > most:
            self._say((*place, "solenoid"), f"{count} solenoids on a decoder for {most}")


def _si(text: Any, quantity: Quantity) -> float | None:
    """The value of a quantity's text; None when it is none, which the schema tells."""
    try:
        return parse_quantity(text, quantity) if isinstance(text, str) else None
    except ValueError:
        return None
