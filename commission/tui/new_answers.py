"""A new site with evenly spaced boxes: its first lines, and what stands in them, checked."""

from __future__ import annotations

from dataclasses import replace

from commission.authoring.catalogue import cable_named
from commission.authoring.draft import Draft, Kinds, Supply, Units, usual_supply
from commission.authoring.evenly import Answers, drawn_evenly
from commission.authoring.old_bundle import HINT, with_bundle
from commission.site.schema import MAX_AT_ONCE, MAX_NAME
from commission.text import clean
from commission.tui.answers import checked_length, whole_number
from commission.tui.screens.form import ONE_OF_THEM, Line, LineRefused

USUAL = "usual data, to be replaced"
UNITS = ("US", "SI")
UNITS_HINT = "mains: 120 V 60 Hz, or 230 V 50 Hz"


class Evenly:
    """Asks how many outputs, paths, boxes and stations there are, and how far apart."""

    about = (
        "A first site file with evenly spaced boxes; lengths, labels and data sheets follow, by "
        "`commission edit` or in the file. Nothing is written before you see what it comes to."
    )

    def __init__(self, own: Kinds) -> None:
        self._own = own
        self._values: dict[str, str] = {}

    def lines(self) -> list[Line]:
        """The questions, answered as before where they were."""
        valves, decoders = (USUAL, *self._own.solenoid), (USUAL, *self._own.decoder)
        lines = (
            Line("name", "Name of the site", needed="name it as the report should"),
            Line("units", "Units shown", "US", UNITS, UNITS_HINT, needed=ONE_OF_THEM),
            Line("outputs", "Two-wire outputs of the controller", "1"),
            Line("paths", "Paths on each output; or as 2 1, for one after the other", "1"),
            Line("cable", "Cable: a size, or a kind of your own", "14 AWG", hint="2.5 mm²"),
            Line("boxes", "Boxes on each path; or as 5 6 3", needed="write how many"),
            Line("spacing", "From box to box", hint="150 ft or 45 m", needed="write a length"),
            Line("stations", "Stations in each box", "1"),
            Line("at_once", "Stations that may run together", "1"),
            bundle_line(),
            Line("solenoid", "Solenoids", USUAL, valves, needed=ONE_OF_THEM),
            Line("decoder", "Decoders", USUAL, decoders, needed=ONE_OF_THEM),
        )
        return answered(lines, self._values)

    def keep(self, values: dict[str, str]) -> None:
        """Take the answers; raises LineRefused for the first line that cannot be meant."""
        check_name(values)
        check_cable(values, self._own)
        checked_length(values, "spacing", units_of(values))
        whole_number(values, "at_once", 1, MAX_AT_ONCE)
        try:
            drawn = drawn_evenly(_answers_of(values, usual_supply(units_of(values))), self._own)
        except ValueError as error:
            raise LineRefused("boxes", str(error)) from None
        check_bundle(drawn, values, self._own)
        self._values = dict(values)

    @property
    def units(self) -> Units:
        """The units that are shown."""
        return units_of(self._values)

    @property
    def outputs(self) -> tuple[str, ...]:
        """Counted from 1."""
        return tuple(str(one) for one in range(1, int(self._values["outputs"]) + 1))

    @property
    def at_once(self) -> int:
        """How many stations may run together."""
        return int(self._values["at_once"])

    def draft(self, supply: Supply) -> Draft:
        """The site that all answers describe, on this supply."""
        drawn = drawn_evenly(_answers_of(self._values, supply), self._own)
        return with_bundle(drawn, self._values["bundle"], self._own)


def _answers_of(values: dict[str, str], supply: Supply) -> Answers:
    """What checked lines mean; raises LineRefused for a number that is none."""
    outputs, stations = whole_number(values, "outputs"), whole_number(values, "stations")
    paths = _counts(values, "paths", outputs, "outputs")
    boxes = _counts(values, "boxes", sum(paths), "paths")
    return Answers(
        values["name"], units_of(values), supply, paths,
        values["cable"], boxes, values["spacing"], stations,
        own_name(values["solenoid"]), own_name(values["decoder"]),
    )  # fmt: skip


def _counts(values: dict[str, str], key: str, among: int, things: str) -> tuple[int, ...]:
    """A number for each of so many things, where one number stands for all; raises LineRefused."""
    words = values[key].replace(",", " ").replace(";", " ").split()
    found = tuple(whole_number({key: word}, key) for word in words or [""])
    if len(found) not in (1, among):
        raise LineRefused(key, f"write one number, or one for each of the {among} {things}")
    return found if len(found) == among else found * among


def answered(lines: tuple[Line, ...], values: dict[str, str]) -> list[Line]:
    """Lines with the answers of before in them."""
    return [replace(one, value=values.get(one.key, one.value)) for one in lines]


def units_of(values: dict[str, str]) -> Units:
    """The units that an answer names."""
    return "SI" if values["units"] == "SI" else "US"


def check_name(values: dict[str, str]) -> None:
    """Raise LineRefused for what can be no name of a site."""
    try:
        if len(clean(values["name"])) > MAX_NAME:
            raise ValueError(f"at most {MAX_NAME} characters")
    except ValueError as error:
        raise LineRefused("name", str(error)) from None


def check_cable(values: dict[str, str], own: Kinds) -> None:
    """Raise LineRefused for what names no cable."""
    try:
        cable_named(values["cable"], own)
    except ValueError as error:
        raise LineRefused("cable", str(error)) from None


def bundle_line() -> Line:
    """Asks for the conductors of an old bundle."""
    return Line("bundle", "Old bundle: its conductors, by colour or number", hint=HINT)


def check_bundle(drawn: Draft, values: dict[str, str], own: Kinds) -> None:
    """Raise LineRefused for conductors that can't be put into a site."""
    try:
        with_bundle(drawn, values["bundle"], own)
    except ValueError as error:
        raise LineRefused("bundle", str(error)) from None


def own_name(choice: str) -> str:
    """The name of a kind of the user's own, "" for the usual data."""
    return "" if choice == USUAL else choice
