"""Forms for stations that are not as drawn."""

from __future__ import annotations

from collections.abc import Callable

from commission.problems import InputRefused
from commission.site.changes.kinds import (
    AddStation,
    Change,
    ChangeStation,
    DeleteStation,
    MoveStation,
    SwapAddresses,
)
from commission.site.changes.words import SO_ALREADY
from commission.site.schema import MAX_ADDRESS, MAX_SOLENOIDS, MAX_STATION_NUMBER, Station
from commission.tui.answers import whole_number
from commission.tui.changes.ground import Ground, refuse_no_id
from commission.tui.screens.form import ONE_OF_THEM, Line, LineRefused

Values = dict[str, str]
WHOLE = "a whole number"


class StationForms:
    """The lines of each form, and the change that its answers mean."""

    def __init__(self, ground: Ground) -> None:
        self._ground = ground

    def new(self) -> list[Line]:
        """A station that is not drawn, with the next number and address."""
        ground = self._ground
        number = max(s.number for s in ground.site.station) + 1
        address = max(s.address for s in ground.site.station) + 1
        decoder, solenoid = ground.kinds.decoder, ground.kinds.solenoid
        return [
            ground.boxes("box", "Box"),
            Line("number", "Number, as the controller shows it", str(number), needed=WHOLE),
            Line("address", "Address of its decoder", str(address), needed=WHOLE),
            self._kind("decoder", "Decoder", decoder.names[0]),
            self._kind("solenoid", "Solenoid", solenoid.names[0]),
            Line("count", "How many solenoids", "1", needed=WHOLE),
            Line("waters", "What it waters"),
            Line("id", "Id, as reports name it; it stays", f"S{number}", needed="write an id"),
        ]

    def _kind(
        self, key: str, label: str, value: str = "", follows: Callable[[str], str] | None = None
    ) -> Line:
        offered = getattr(self._ground.kinds, key)
        needed = "" if follows else ONE_OF_THEM
        return Line(key, label, value, offered.names, offered.hint, needed=needed, follows=follows)

    def made_new(self, values: Values) -> Change:
        """The station; what another has already is refused at its line."""
        ground = self._ground
        path, segment = ground.named(values)
        number = self._number(values, None)
        address = self._address(values, path.id, None)
        decoder, solenoid = values["decoder"], values["solenoid"]
        count = self._count(values, decoder)
        refuse_no_id("id", values["id"])
        if values["id"].lower() in {one.id.lower() for one in ground.site.station}:
            raise LineRefused("id", "another station has this id")
        return AddStation(
            values["id"], number, address, path.id, segment.to_box, decoder, solenoid, count,
            waters=values["waters"],
            decoder_kind=ground.kinds.decoder.described(decoder),
            solenoid_kind=ground.kinds.solenoid.described(solenoid),
        )  # fmt: skip

    def _number(self, values: Values, own: Station | None) -> int:
        number = whole_number(values, "number", 1, MAX_STATION_NUMBER)
        for other in self._ground.site.station:
            if other.number == number and other is not own:
                raise LineRefused("number", f"there is a station {number} in box {other.box}")
        return number

    def _address(self, values: Values, path: str, own: Station | None) -> int:
        """An address that no other decoder on the same output has."""
        address = whole_number(values, "address", 0, MAX_ADDRESS)
        other = self._answering(address, path, own)
        if other is not None:
            words = f"station {other.number} in box {other.box} has this address"
            raise LineRefused("address", f"{words}; there is a line in the menu for two swapped")
        return address

    def _answering(self, address: int, path: str, own: Station | None) -> Station | None:
        """Another station that answers at an address on the output of a path."""
        ground = self._ground
        output = ground.output_of(path)
        others = (one for one in ground.site.station if one is not own and one.address == address)
        return next((one for one in others if ground.output_of(one.path) == output), None)

    def _count(self, values: Values, decoder: str) -> int:
        count = whole_number(values, "count", 1, MAX_SOLENOIDS)
        most = self._ground.most_coils(decoder)
        if count > most:
            raise LineRefused("count", f"a decoder of the kind {decoder} switches {most} at most")
        return count

    def parts(self) -> list[Line]:
        """What a station is made of, as it is drawn now."""

        return [
            self._ground.stations("Station (its number as drawn)"),
            Line("address", "Address", needed=WHOLE, follows=self._now("address")),
            self._kind("decoder", "Decoder", follows=self._now("decoder")),
            self._kind(
                "solenoid",
                "Kind of its solenoids; empty: each stays",
                follows=self._now("solenoid"),
            ),
            Line("count", "How many solenoids", needed=WHOLE, follows=self._now("solenoids")),
            Line("number", "Number on the controller", needed=WHOLE, follows=self._now("number")),
            Line("waters", "What it waters; empty: not told", follows=self._now("waters")),
            Line("label", "Label; empty: none", follows=self._now("label")),
        ]

    def _now(self, key: str) -> Callable[[str], str]:
        """What is drawn of the station of a number."""

        def found(number: str) -> str:
            station = self._ground.station(number)
            return str(_DRAWN[key](station)) if station else ""

        return found

    def made_parts(self, values: Values) -> Change:
        """What of it is another; the rest stays."""
        station, kinds = self._ground.numbered(values), self._ground.kinds
        if not values["decoder"]:
            raise LineRefused("decoder", ONE_OF_THEM)
        meant: dict[str, int | str] = {
            "address": self._address(values, station.path, station),
            "decoder": values["decoder"],
            "solenoid": values["solenoid"] or _coil_kind(station),
            "solenoids": self._count(values, values["decoder"]),
            "number": self._number(values, station),
            "waters": values["waters"],
            "label": values["label"],
        }
        other = {key: value for key, value in meant.items() if value != _DRAWN[key](station)}
        if not other:
            raise InputRefused(SO_ALREADY)
        return ChangeStation(
            station.id, **other,  # type: ignore[arg-type]
            decoder_kind=kinds.decoder.described(values["decoder"]),
            solenoid_kind=kinds.solenoid.described(values["solenoid"]),
        )  # fmt: skip

    def swap(self) -> list[Line]:
        """Two stations that answer in each other's place."""
        return [
            self._ground.stations(),
            Line("other", "Station that has its address (number)", needed="write its number"),
        ]

    def made_swap(self, values: Values) -> Change:
        """Each gets the other's address."""
        station = self._ground.numbered(values)
        other = self._ground.station(values["other"])
        if other is None or other is station:
            words = f"there is no other station {values['other']}"
            raise LineRefused("other", words)
        if self._ground.output_of(station.path) != self._ground.output_of(other.path):
            raise LineRefused("other", "it is on another output: there it may have any address")
        return SwapAddresses(station.id, other.id)

    def move(self) -> list[Line]:
        """A station in another box."""

        box = self._ground.boxes("box", "It is in box")
        return [
            self._ground.stations(),
            Line("box", box.label, "", box.choices, needed="name a box", follows=self._now("box")),
        ]

    def made_move(self, values: Values) -> Change:
        """The other box."""
        station = self._ground.numbered(values)
        path, segment = self._ground.named(values)
        if (path.id, segment.to_box) == (station.path, station.box):
            raise LineRefused("box", "it is drawn there already: name the box it is in")
        other = self._answering(station.address, path.id, station)
        if other is not None:
            words = f"station {other.number} has its address {station.address} on that output"
            raise LineRefused("box", f"{words}; give one of them another first")
        return MoveStation(station.id, path.id, segment.to_box)

    def gone(self) -> list[Line]:
        """A station that is not there."""
        return [self._ground.stations()]

    def made_gone(self, values: Values) -> Change:
        """It goes."""
        return DeleteStation(self._ground.numbered(values).id)


def _coil_kind(station: Station) -> str:
    """The kind of all its solenoids, "" where they are of several."""
    kinds = {one.kind for one in station.solenoid}
    return kinds.pop() if len(kinds) == 1 else ""


# What is drawn of a station, by what a form asks of it.
_DRAWN: dict[str, Callable[[Station], int | str]] = {
    "address": lambda station: station.address,
    "decoder": lambda station: station.decoder,
    "solenoid": _coil_kind,
    "solenoids": lambda station: len(station.solenoid),
    "number": lambda station: station.number,
    "waters": lambda station: station.waters,
    "label": lambda station: station.label,
    "box": lambda station: station.box,
}
