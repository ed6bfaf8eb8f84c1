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
    ANSWERED,
    USUAL,
    Draft,
    DraftStation,
    Kind,
    Kinds,
    Supply,
    Units,
    supply_where,
)
from commission.authoring.evenly import DECODER, SOLENOID, kind_of, usual_transformers, usual_words
from commission.authoring.paths_listed import PathsListed
from commission.authoring.station_list import Row, StationList
from commission.problems import Problem
from commission.site.schema import MAX_ADDRESS, MAX_SOLENOIDS, MAX_STATION_NUMBER, is_id
from commission.text import visible

_COUNT = re.compile(r"([0-9]{1,2})|(?:([0-9]{1,2})\s*[x×]\s*)?([A-Za-z][A-Za-z0-9._-]*)")
_MOST = {"station": MAX_STATION_NUMBER, "address": MAX_ADDRESS}


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
    by_form: bool = False  # else by the options of the command


def drawn_from(listed: StationList, choices: Choices, own: Kinds) -> tuple[Draft, list[Problem]]:
    """The draft that a list describes, and everything wrong; with problems it is not whole."""
    return _Drawing(listed, choices, own).draft()


class _Drawing:
    """Puts the rows together."""

    def __init__(self, listed: StationList, choices: Choices, own: Kinds) -> None:
        self._listed, self._choices, self._own = listed, choices, own
        self._file = listed.name
        self._problems = list(listed.problems)
        self._paths = PathsListed(listed.taken, choices.units, self._say, self._cable)
        self._stations: list[DraftStation] = []
        self._cables: dict[str, Kind] = {}
        self._sizes: dict[str, str] = {}  # where a kind of cable was first named
        self._solenoids: dict[str, Kind] = {}
        self._decoders: dict[str, Kind] = {}
        self._first: dict[tuple[str, str, int], int] = {}  # to the line that has it

    def draft(self) -> tuple[Draft, list[Problem]]:
        """The draft and the problems."""
        for row in self._listed.rows:
            self._row(row)
        kinds = Kinds(self._solenoids, self._decoders, self._cables)
        paths = self._paths.drafts()
        choices = self._choices
        assumed = [
            *usual_transformers(choices.supply),
            *usual_words(choices.solenoid, choices.decoder),
        ]
        if "address" not in self._listed.taken:
            assumed.append("addresses: each station's number")
        stations = tuple(sorted(self._stations, key=lambda one: one.number))
        where = {
            **self._where(),
            **supply_where(choices.supply, choices.units),
            **choices.where,
            **kinds_where(kinds, self._own, self._sizes),
        }
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
            or (self._chosen("--decoder") if self._choices.decoder else USUAL),
            "station.solenoid": columns.get("solenoids", "one each"),
        }
        also = {"number": "station", "waters": "description"}
        return from_columns | {
            f"station.{key}": columns[name] for key, name in also.items() if name in columns
        }

    def _chosen(self, option: str) -> str:
        """Where a choice comes from."""
        return ANSWERED if self._choices.by_form else option

    def _say(self, row: Row, column: str, words: str, remedy: str = "") -> None:
        self._problems.append(Problem(self._file, words, column, row.line, remedy))

    def _row(self, row: Row) -> None:
        """One row: its station, and what it says of its box."""
        before = len(self._problems)
        number = self._number(row, "station")
        address = self._number(row, "address") if row["address"] else number
        path = self._id(row, "path", "A")
        box = self._id(row, "box", f"B{row['station']}")
        output = self._id(row, "output", "") if row["output"] else ""
        self._paths.box(row, output, path, box)
        self._alone(row, "station", "", number)
        self._alone(row, "address", self._paths.output(path), address)
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
        if number > _MOST[column]:
            self._say(row, column, f"{number} is too large", f"at most {_MOST[column]}")
        return number

    def _alone(self, row: Row, column: str, output: str, number: int | None) -> None:
        """Tell a number that an earlier row has too; an address counts on its output."""
        if number is None:
            return
        first = self._first.setdefault((column, output, number), row.line)
        if first != row.line:
            words = f"{number} stands in line {first} too"
            if column == "address" and not row["address"]:
                words = f"the station's number is the address of line {first}"
            self._say(row, column, words, "each has its own")

    def _id(self, row: Row, column: str, otherwise: str) -> str:
        words = re.sub(r"\s+", "-", row[column]) or otherwise
        if not is_id(words):
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
        count = int(found[1] or found[2] or 1)
        if not 1 <= count <= MAX_SOLENOIDS:
            self._say(row, "solenoids", f"{count} on a decoder", f"from 1 to {MAX_SOLENOIDS}")
            return 1, kind
        return count, kind

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
        named = f"line {row.line}" if row["cable"] else self._chosen("--cable")
        self._sizes.setdefault(kind, named)
        return kind


def _stand_in(name: str, own: Mapping[str, Kind]) -> str:
    """A name for a kind of usual data, that is none of the user's own."""
    return f"usual-{name}" if name in own else name
