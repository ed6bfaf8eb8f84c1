"""Who is at work on a job and with which instrument: entered once, kept with every entry."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date
from typing import Any

from commission.checklist.schema import Offer
from commission.electrical.instruments import Accuracy
from commission.judging import warning_of
from commission.record.entry import Entry
from commission.user import at_work, instruments, people
from commission.user.at_work import AtWork
from commission.user.instruments import Instrument
from commission.user.people import Person


@dataclass(frozen=True, slots=True)
class Hands:
    """Who watches, who writes, and with which instrument."""

    observed_by: str = ""
    entered_by: str = ""
    instrument: Instrument | None = None


def fields_of(instrument: Instrument, accuracy: Accuracy | None, today: date) -> dict[str, Any]:
    """An instrument as an entry holds it, with its accuracy at that reading, SI."""
    due = instrument.calibration_due
    fields: dict[str, Any] = {
        "instrument": instrument.id,
        "instrument_make": instrument.make,
        "instrument_serial": instrument.serial,
        "instrument_calibration_due": due.isoformat() if due else "",
        "instrument_true_rms": instrument.true_rms,
    }
    if accuracy is not None:
        fields["instrument_percent"] = accuracy.percent_of_reading
        fields["instrument_counts"] = accuracy.counts
        fields["instrument_resolution"] = accuracy.resolution
        fields["instrument_offset"] = accuracy.offset_half_width or None
    fields["warning"] = warning_of(due, today)
    return fields


class Crew:
    """The hands of one job, and everyone and everything this user has entered before."""

    def __init__(self, entries: Sequence[Entry], *, practice: bool) -> None:
        self._entries = entries  # of the record as it was opened
        self._practice = practice
        self._hands: Hands | None = None

    @property
    def anyone_named(self) -> bool:
        """Whether it is known who enters readings; costs nothing, unlike `hands`."""
        if self._hands is not None:
            return bool(self._hands.entered_by)
        return any(entry.entered_by for entry in reversed(self._entries))

    @property
    def hands(self) -> Hands:
        """Who and what stand in every entry from now on; after a restart, those of the last one."""
        if self._hands is None:
            self._hands = self._of_last_entry()
        return self._hands

    @property
    def instrument_name(self) -> str:
        """The instrument in use, by its id; costs nothing, unlike `hands`."""
        if self._hands is not None:
            return self._hands.instrument.id if self._hands.instrument else ""
        return next((entry.instrument for entry in reversed(self._entries) if entry.instrument), "")

    def _of_last_entry(self) -> Hands:
        last = next((entry for entry in reversed(self._entries) if entry.entered_by), None)
        if last is None:
            return Hands()
        used = next((entry for entry in reversed(self._entries) if entry.instrument), None)
        known = {one.id: one for one in self.instruments()} if used else {}
        return Hands(
            observed_by=last.observed_by,
            entered_by=last.entered_by,
            instrument=known.get(used.instrument) if used else None,
        )

    def take(self, hands: Hands) -> None:
        """From now on these people and this instrument; new names are remembered."""
        known = {person.name for person in self.people()}
        for name in sorted({hands.entered_by, hands.observed_by} - known - {""}):
            people.remember_person(Person(name=name))
        self._hands = hands
        self._remember_hands()

    @property
    def proposed(self) -> Hands:
        """Whom to propose: the hands of this job, or those of this user's last one."""
        if self.anyone_named:
            return self.hands
        last = at_work.last_at_work()
        known = {one.id: one for one in self.instruments()}
        instrument = self.hands.instrument or known.get(last.instrument)
        return Hands(last.observed_by, last.entered_by, instrument)

    def known(self, what: Offer) -> str:
        """What is known already of what a step asks for, in words; "" when nothing is."""
        if not self.anyone_named or what in ("report", "sample"):
            return ""
        hands = self.hands
        if what == "licence":
            return self.person(hands.entered_by).licence
        if what == "instrument":
            return hands.instrument.in_words if hands.instrument else ""
        if hands.observed_by in ("", hands.entered_by):
            return f"{self._described(hands.entered_by)} watches and writes"
        return f"{self._described(hands.observed_by)} watches, " + (
            f"{self._described(hands.entered_by)} writes"
        )

    def _described(self, name: str) -> str:
        role = self.person(name).role
        return f"{name} ({role})" if role else name

    def _remember_hands(self) -> None:
        hands = self.hands
        used = hands.instrument.id if hands.instrument else ""
        at_work.remember_at_work(AtWork(hands.entered_by, hands.observed_by, used))

    def people(self) -> tuple[Person, ...]:
        """Everyone this user has entered before."""
        return people.load_people()

    def person(self, name: str) -> Person:
        """What is remembered of a person; a bare name when nothing is."""
        known = {person.name: person for person in self.people()}
        return known.get(name) or Person(name=name)

    def remember(self, person: Person) -> None:
        """Remember a person for the next time."""
        people.remember_person(person)

    def instruments(self) -> tuple[Instrument, ...]:
        """Every instrument this user has entered before; in practice an invented one too."""
        known = instruments.load_instruments()
        return (*known, instruments.DEMO) if self._practice else known

    def remember_instrument(self, instrument: Instrument) -> None:
        """Remember an instrument, and use it from now on."""
        instruments.remember_instrument(instrument)
        self._hands = replace(self.hands, instrument=instrument)
        if self.anyone_named:
            self._remember_hands()
