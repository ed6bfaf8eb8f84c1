"""Who watches, who writes, and with which instrument; and the form of a new instrument."""

from __future__ import annotations

from collections.abc import Collection
from datetime import date
from typing import TYPE_CHECKING

from commission.checklist.schema import NO, YES
from commission.crew import Hands
from commission.problems import InputRefused
from commission.tui.screens.form import FormScreen, Line, LineRefused
from commission.units import Quantity
from commission.user import accuracy_text
from commission.user.instruments import DEMO, Instrument, Range

if TYPE_CHECKING:
    from commission.tui.screens.walk import WalkScreen

NONE = "none"
_ABOUT = (
    "Asked once, kept with every entry. A reading without an instrument is judged by its last "
    "digit alone. Station number and value are read back on the radio; when contact is lost, "
    "stop and isolate."
)
_MEASURED: tuple[tuple[str, str, Quantity, str], ...] = (
    ("resistance", "Accuracy, resistance", "resistance", "to 40 ohm: 0.5 % + 2 x 0.01 ohm"),
    ("voltage", "Accuracy, a.c. voltage", "voltage", "to 40 V: 1 % + 3 x 0.01 V"),
    ("current", "Accuracy, a.c. current", "current", "to 4 A: 1.5 % + 3 x 1 mA"),
    ("time", "Accuracy, time", "time", "to 600 s: 0 % + 1 x 1 s"),
    ("temperature", "Accuracy, temperature", "temperature", "to 60 °C: 0 % + 1 x 0.5 °C"),
    ("pressure", "Accuracy, pressure", "pressure", "to 10 bar: 1 % + 1 x 0.1 bar"),
)


def people_form(walk: WalkScreen) -> FormScreen:
    """The form of the people and the instrument at work from now on."""
    session = walk.session
    hands = session.crew.proposed
    names = tuple(person.name for person in session.crew.people())
    instruments = {one.id: one for one in session.crew.instruments()}
    meter = DEMO if session.ground is not None else hands.instrument  # the simulated one reads it

    def keep(values: dict[str, str]) -> None:
        wanted = values["instrument"]
        if wanted not in (NONE, "") and wanted not in instruments:
            words = f"'{wanted}' is not known yet: Esc menu, new instrument"
            raise LineRefused("instrument", words)
        session.crew.take(
            Hands(
                observed_by=values["observed_by"] or values["entered_by"],
                entered_by=values["entered_by"],
                instrument=instruments.get(wanted),
            )
        )

    return FormScreen(
        "People and instrument",
        [
            Line(
                "entered_by", "Who enters the readings here", hands.entered_by, names,
                needed="write the name of whoever enters the readings", free=True,
            ),
            Line(
                "observed_by", "Who watches in the field", hands.observed_by, names,
                "empty: the same person.", free=True,
            ),
            Line(
                "instrument", "Instrument", meter.id if meter else NONE,
                (NONE, *instruments), "a new one: afterwards, by Esc, New instrument.", free=True,
            ),
        ],
        keep,
        about=_ABOUT,
    )  # fmt: skip


def _due(text: str) -> date | None:
    try:
        return date.fromisoformat(text) if text else None
    except ValueError:
        words = f"write the date as 2027-06-30, not '{text}'"
        raise LineRefused("due", words) from None


def _at_its_line(refused: InputRefused, lines: Collection[str]) -> InputRefused:
    """A refusal of one key of an instrument, at the line of the form that has its name."""
    first = next(iter(refused.problems), None)
    if first is not None and first.key in lines:
        return LineRefused(first.key, first.message)
    return refused


def instrument_form(walk: WalkScreen) -> FormScreen:
    """The form of an instrument: entered once, remembered for this user, used from now on."""
    session = walk.session
    old = session.crew.hands.instrument

    def keep(values: dict[str, str]) -> None:
        found: list[Range] = []
        for key, _label, quantity, _example in _MEASURED:
            try:
                found += accuracy_text.ranges(values[key], quantity)
            except ValueError as error:
                raise LineRefused(key, str(error)) from None
        described = {quantity for _key, _label, quantity, _example in _MEASURED}
        found += [one for one in (old.accuracy if old else ()) if one.quantity not in described]
        instrument = Instrument(
            id=values["id"],
            make=values["make"],
            serial=values["serial"],
            calibration_due=_due(values["due"]),
            true_rms=values["true_rms"] == YES,
            burden=values["burden"],
            note=old.note if old and old.id == values["id"] else "",
            accuracy=tuple(found),
        )
        try:
            session.crew.remember_instrument(instrument)
        except InputRefused as refused:
            raise _at_its_line(refused, values) from None
        walk.tell(f"Instrument {instrument.id} is kept for you, and used from now on")

    def accuracy_line(key: str, label: str, quantity: str, example: str) -> Line:
        shown = accuracy_text.text_of(old.accuracy, quantity) if old else ""
        also = "; counts for d.c. too" if key == "voltage" else ""
        return Line(key, label, shown, hint=f"like {example}; more ranges after ';'{also}")

    return FormScreen(
        "Instrument",
        [
            Line("id", "Short name", old.id if old else "", needed="write a short name for it"),
            Line(
                "make", "Make and model", old.make if old else "",
                needed="write its make and model",
            ),
            Line("serial", "Serial number", old.serial if old else ""),
            Line(
                "due", "Calibration due",
                old.calibration_due.isoformat() if old and old.calibration_due else "",
                hint="like 2027-06-30; empty when not known",
            ),
            Line("true_rms", "True r.m.s.", YES if old and old.true_rms else "", (YES, NO)),
            Line("burden", "What it adds in line (burden)", old.burden if old else ""),
            *(accuracy_line(*one) for one in _MEASURED),
        ],
        keep,
        about="From its label and data sheet. Kept for you on this computer and in each entry.",
    )  # fmt: skip
