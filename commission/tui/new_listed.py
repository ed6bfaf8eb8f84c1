"""A new site from a list of stations: how it was understood, and what no list holds, asked."""

from __future__ import annotations

from dataclasses import dataclass

from commission.authoring.draft import ANSWERED, Draft, Kinds, Supply, Units, usual_supply
from commission.authoring.from_list import Choices, drawn_from
from commission.authoring.old_bundle import with_bundle
from commission.authoring.station_list import StationList
from commission.problems import InputRefused
from commission.site.schema import MAX_AT_ONCE
from commission.tui.answers import whole_number
from commission.tui.new_answers import (
    UNITS,
    UNITS_HINT,
    USUAL,
    answered,
    bundle_line,
    check_bundle,
    check_cable,
    check_name,
    own_name,
    units_of,
)
from commission.tui.screens.form import ONE_OF_THEM, Line

CABLES: dict[Units, str] = {"US": "14 AWG", "SI": "2.5 mm²"}  # offered where none is named


@dataclass(frozen=True, slots=True)
class Offered:
    """What stands in the lines first."""

    name: str
    units: Units
    at_once: int = 1
    cable: str = ""
    solenoid: str = ""
    decoder: str = ""


class Listed:
    """Shows how a list was understood, and asks what it does not say."""

    def __init__(self, listed: StationList, own: Kinds, offered: Offered) -> None:
        """Raises InputRefused with everything wrong in the list."""
        self._listed, self._own = listed, own
        self._values = {
            "name": offered.name, "units": offered.units, "at_once": str(offered.at_once),
            "cable": offered.cable or CABLES[offered.units], "solenoid": offered.solenoid or USUAL,
            "decoder": offered.decoder or USUAL, "bundle": "",
        }  # fmt: skip
        self._asks_cable = not all(row["cable"] for row in listed.rows)
        self._drawn = self._draw(self._values, usual_supply(offered.units))
        self.about = "\n".join(
            ["How the list was understood; what it does not say is asked below.", *listed.lines()]
        )

    def lines(self) -> list[Line]:
        """The questions, answered as before where they were."""
        unnamed, needed = "where the list names no kind", ONE_OF_THEM
        valves, decoders = (USUAL, *self._own.solenoid), (USUAL, *self._own.decoder)
        cable = Line("cable", "Cable, where the list names none", hint="a size, or a kind of yours")
        lines = (
            Line("name", "Name of the site", needed="name it as the report should"),
            Line("units", "Units shown", choices=UNITS, hint=UNITS_HINT, needed=ONE_OF_THEM),
            Line("at_once", "Stations that may run together"),
            *([cable] if self._asks_cable else []),
            bundle_line(),
            Line("solenoid", f"Solenoids, {unnamed}", choices=valves, needed=needed),
            Line("decoder", f"Decoders, {unnamed}", choices=decoders, needed=needed),
        )
        return answered(lines, self._values)

    def keep(self, values: dict[str, str]) -> None:
        """Take the answers; raises LineRefused, or InputRefused with what they make of the list."""
        check_name(values)
        whole_number(values, "at_once", 1, MAX_AT_ONCE)
        if self._asks_cable:
            check_cable(values, self._own)
        values = self._values | values
        drawn = self._draw(values, usual_supply(units_of(values)))
        check_bundle(drawn, values, self._own)
        self._drawn, self._values = drawn, values

    @property
    def units(self) -> Units:
        """The units that are shown."""
        return units_of(self._values)

    @property
    def outputs(self) -> tuple[str, ...]:
        """As the list names them."""
        return tuple(dict.fromkeys(path.output for path in self._drawn.paths))

    @property
    def at_once(self) -> int:
        """How many stations may run together."""
        return int(self._values["at_once"])

    def draft(self, supply: Supply) -> Draft:
        """The site that list and answers describe, on this supply."""
        drawn = self._draw(self._values, supply)
        return with_bundle(drawn, self._values["bundle"], self._own)

    def _draw(self, values: dict[str, str], supply: Supply) -> Draft:
        units = units_of(values)
        as_measured = units == self._listed.units
        where = {
            "site.name": ANSWERED,
            "site.units": "as the list measures" if as_measured else ANSWERED,
        }
        choices = Choices(
            values["name"], units, supply, values["cable"], own_name(values["solenoid"]),
            own_name(values["decoder"]), where, by_form=True,
        )  # fmt: skip
        draft, problems = drawn_from(self._listed, choices, self._own)
        if problems:
            raise InputRefused(problems)
        return draft
