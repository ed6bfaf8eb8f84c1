"""Who is at work on a job and with which instrument: entered once, kept with every entry."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

from commission.record.entry import Entry
from commission.user import instruments, people
from commission.user.instruments import Instrument
from commission.user.people import Person


@dataclass(frozen=True, slots=True)
class Hands:
    """Who watches, who writes, and with which instrument."""

    observed_by: str = ""
    entered_by: str = ""
    instrument: Instrument | None = None


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
