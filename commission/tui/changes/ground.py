"""What the forms know of a drawing: its boxes and stations by what people call them."""

from __future__ import annotations

import re
from collections.abc import Iterable
from functools import cached_property

from commission.expected.sheet import Place
from commission.site.changes.kinds import Description
from commission.site.pairs import with_pairs
from commission.site.schema import ROOT, Path, Segment, Site, Station, is_id
from commission.tui.changes.kinds import KindsOffered
from commission.tui.screens.form import Line, LineRefused
from commission.units import in_unit, length_unit, plain

MOST_CHOICES = 9  # more are named, not numbered
_LENGTH_DIGITS = 5


class Ground:
    """A site as drawn now, and where on it the person stands."""

    def __init__(self, site: Site, at: Place) -> None:
        self.site, self.at = with_pairs(site), at
        self._fed = {s.to_box.lower(): (path, s) for path in self.site.path for s in path.segment}
        self._numbers = {str(station.number): station for station in site.station}

    @cached_property
    def kinds(self) -> KindsOffered:
        """Kinds to choose from; the user's file is read when they are first asked for."""
        return KindsOffered(self.site)

    @property
    def units(self) -> str:
        """The units that are shown."""
        return self.site.site.units

    @property
    def path(self) -> Path:
        """The path at hand, else the first."""
        paths = self.site.path
        return next((path for path in paths if path.id == self.at.path), paths[0])

    # Boxes

    def boxes(self, key: str, label: str, *, terminals: bool = False) -> Line:
        """A line for a box, with the one at hand; the terminals too where cable may start there."""
        names = tuple(s.to_box for path in self.site.path for s in path.segment)
        names = (ROOT, *names) if terminals else names
        first = ROOT if terminals else self.path.segment[0].to_box
        choices = names if len(names) <= MOST_CHOICES else ()
        return Line(key, label, self.at.box or first, choices, needed="name a box")

    def feeding(self, box: str) -> tuple[Path, Segment] | None:
        """The path that a box is on and the cable that leads there; upper or lower case."""
        return self._fed.get(box.strip().lower())

    def named(self, values: dict[str, str], key: str = "box") -> tuple[Path, Segment]:
        """The same for the box that a line names; raises LineRefused."""
        found = self.feeding(values[key])
        if found is None:
            raise LineRefused(key, f"there is no box '{values[key]}'")
        return found

    def length(self, box: str) -> str:
        """The length of the cable to a box as it is drawn; "" for no box."""
        found = self.feeding(box)
        return shown_length(found[1].length_m, self.units) if found else ""

    def length_by(self, box: str) -> str:
        """How that was obtained."""
        found = self.feeding(box)
        return (found[1].length_by or found[0].length_by) if found else ""

    def cable(self, box: str) -> str:
        """Its kind, or both kinds of an unequal pair."""
        found = self.feeding(box)
        return " and ".join(dict.fromkeys(found[1].cable or found[0].cable)) if found else ""

    def told(self, box: str, key: str) -> str:
        """The label or location of a box, "" for none."""
        found = self.feeding(box)
        rows = found[0].box if found else ()
        return next((getattr(one, key) for one in rows if one.id.lower() == box.lower()), "")

    def new_box(self) -> Line:
        """A line for the id of a new box: the next of the usual ones."""
        ids = (segment.to_box for _, segment in self._fed.values())
        needed = "1 to 16 letters, digits or . _ -"
        return Line("id", "Id of the new box; it stays", _next_id(ids), needed=needed)

    def refuse_taken(self, box: str) -> None:
        """Raise LineRefused for the id of a new box that another one has."""
        if box.lower() == ROOT or self.feeding(box):
            raise LineRefused("id", f"there is a box {box} already: take another id")
        refuse_no_id("id", box)

    # Stations

    def stations(self, label: str = "Station (its number)") -> Line:
        """A line for a station, with the one at hand."""
        own = self.at.station
        first = next((str(s.number) for s in self.site.station if s.id == own), "")
        return Line("station", label, first, needed="write its number")

    def station(self, number: str) -> Station | None:
        """A station by its number."""
        return self._numbers.get(number.strip())

    def numbered(self, values: dict[str, str]) -> Station:
        """The station that a form names; raises LineRefused."""
        found = self.station(values["station"])
        if found is None:
            raise LineRefused("station", f"there is no station {values['station']}")
        return found

    def output_of(self, path: str) -> str:
        """The output that feeds a path."""
        return next(one.output for one in self.site.path if one.id == path)

    def most_coils(self, decoder: str) -> int:
        """How many solenoids a kind of decoder switches, the site's or the user's."""
        kind = self.site.decoder_kind.get(decoder)
        if kind is not None:
            return kind.solenoids
        description: Description = self.kinds.decoder.described(decoder)
        return int(dict(description).get("solenoids", 1))


def shown_length(length_m: float, units: str) -> str:
    """A length as it can be typed: in the units shown, never with three decimals."""
    unit = length_unit(units)
    number = plain(in_unit(length_m, unit, "length"), _LENGTH_DIGITS)
    if "." in number:
        number = number.rstrip("0").rstrip(".")
    whole, _, part = number.partition(".")
    return f"{number}{'0' if len(part) == 3 and whole != '0' else ''} {unit}"


def refuse_no_id(key: str, text: str) -> None:
    """Raise LineRefused for a text that can't be an id."""
    if not is_id(text):
        raise LineRefused(key, "an id has 1 to 16 letters, digits or . _ -, and no blanks")


def _next_id(ids: Iterable[str]) -> str:
    """The id that follows those there: B7 after B1 to B6; "" where they have no numbers."""
    found = [match for one in ids if (match := re.fullmatch(r"(.*?)(\d{1,6})", one))]
    if not found:
        return ""
    last = max(found, key=lambda match: int(match[2]))
    return f"{last[1]}{int(last[2]) + 1:0{len(last[2])}d}"[:16]
