"""The form of a new site, first part: its lines, and what stands in them, checked."""

from __future__ import annotations

from dataclasses import replace
from functools import partial

from commission.authoring.catalogue import cable_named
from commission.authoring.draft import Kinds, Supply, Units
from commission.authoring.evenly import Answers
from commission.text import clean
from commission.tui.answers import checked_length, whole_number
from commission.tui.screens.form import ONE_OF_THEM, Line, LineRefused

USUAL = "usual data, to be replaced"
MAX_AT_ONCE, MAX_NAME = 50, 60  # stations and characters, as a site file may have


def answer_lines(values: dict[str, str], own: Kinds) -> list[Line]:
    """The questions, answered as before where they were."""
    valves, decoders = (USUAL, *own.solenoid), (USUAL, *own.decoder)
    lines = (
        Line("name", "Name of the site", needed="name it as the report should"),
        Line(
            "units",
            "Units shown",
            "US",
            ("US", "SI"),
            "mains: 120 V 60 Hz, or 230 V 50 Hz",
            needed=ONE_OF_THEM,
        ),
        Line("outputs", "Two-wire outputs of the controller", "1"),
        Line("paths", "Paths on each output", "1"),
        Line("cable", "Cable: a size, or a kind of your own", "14 AWG", hint="2.5 mm²"),
        Line("boxes", "Boxes on each path", needed="write how many"),
        Line("spacing", "From box to box", hint="150 ft or 45 m", needed="write a length"),
        Line("stations", "Stations in each box", "1"),
        Line("at_once", "Stations that may run together", "1"),
        Line("solenoid", "Solenoids", USUAL, valves, needed=ONE_OF_THEM),
        Line("decoder", "Decoders", USUAL, decoders, needed=ONE_OF_THEM),
    )
    return [replace(one, value=values.get(one.key, one.value)) for one in lines]


def check_answers(values: dict[str, str], own: Kinds) -> None:
    """Raise LineRefused for the first line that cannot be meant."""
    try:
        if len(clean(values["name"])) > MAX_NAME:
            raise ValueError(f"at most {MAX_NAME} characters")
    except ValueError as error:
        raise LineRefused("name", str(error)) from None
    try:
        cable_named(values["cable"], own)
    except ValueError as error:
        raise LineRefused("cable", str(error)) from None
    checked_length(values, "spacing", units_of(values))
    whole_number(values, "at_once", 1, MAX_AT_ONCE)


def answers_of(values: dict[str, str], supply: Supply) -> Answers:
    """What checked lines mean; raises LineRefused for a number that is none."""
    count = partial(whole_number, values)
    return Answers(
        values["name"], units_of(values), supply, count("outputs"), count("paths"),
        values["cable"], count("boxes"), values["spacing"], count("stations"),
        _own_name(values["solenoid"]), _own_name(values["decoder"]),
    )  # fmt: skip


def units_of(values: dict[str, str]) -> Units:
    """The units that are shown."""
    return "SI" if values["units"] == "SI" else "US"


def _own_name(choice: str) -> str:
    return "" if choice == USUAL else choice
