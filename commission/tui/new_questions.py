"""What a new site is made from: the first form of its questions, and the draft that follows."""

from __future__ import annotations

from typing import Protocol

from commission.authoring.draft import Draft, Supply, Units
from commission.tui.screens.form import Line


class Questions(Protocol):
    """Asked before the supply. What is read of it is known once `keep` has taken the answers."""

    about: str  # what is said above the lines

    def lines(self) -> list[Line]:
        """The questions, answered as before where they were."""
        ...

    def keep(self, values: dict[str, str]) -> None:
        """Take the answers; raises LineRefused, or InputRefused where it is no single line."""
        ...

    @property
    def units(self) -> Units:
        """The units that are shown."""
        ...

    @property
    def outputs(self) -> tuple[str, ...]:
        """The ids of the outputs, each with a transformer."""
        ...

    @property
    def at_once(self) -> int:
        """How many stations may run together."""
        ...

    def draft(self, supply: Supply) -> Draft:
        """The site that all answers describe, on this supply."""
        ...
