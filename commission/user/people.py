"""People, entered once and remembered for this user: `people.toml`."""

from __future__ import annotations

from dataclasses import asdict, dataclass
from pathlib import Path

from commission.user.folder import config_folder

KIND = "commission people"
FORMAT = 1
FILE = "people.toml"


@dataclass(frozen=True, slots=True)
class Person:
    """Somebody who watches, writes or signs."""

    name: str
    role: str = ""
    company: str = ""
    licence: str = ""


def people_file() -> Path:
    """Where people are remembered."""
    return config_folder() / FILE


def load_people() -> tuple[Person, ...]:
    """Everyone remembered, in the order of the file; raises InputRefused with its problems."""
    from commission.user import tables
    from commission.user.file_shapes import PeopleFile

    found = tables.read(people_file(), PeopleFile, KIND, FORMAT)
    return tuple(Person(**row.model_dump()) for row in found.person) if found else ()


def remember_person(person: Person) -> None:
    """Add somebody, or replace what was known under the same name.

    Raises InputRefused for text that cannot be kept, CouldNotWrite when the disk refuses.
    """
    from commission.user import tables
    from commission.user.file_shapes import PeopleFile, PersonRow

    new = tables.check(people_file(), PersonRow, asdict(person))
    known = [asdict(one) for one in load_people()]
    kept = tables.replaced(known, new.model_dump(), "name")
    tables.write(people_file(), PeopleFile, {"kind": KIND, "format": FORMAT, "person": kept})
