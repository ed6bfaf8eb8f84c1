"""Every kind of change as a form: its words, its lines, and what is made of them."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from commission.expected.sheet import Place
from commission.site.changes.kinds import Change
from commission.site.schema import Site
from commission.tui.changes.cables import CableForms
from commission.tui.changes.ground import Ground
from commission.tui.changes.stations import StationForms
from commission.tui.screens.form import Line

Values = dict[str, str]


@dataclass(frozen=True, slots=True)
class ChangeForm:
    """One kind of change in a form, in the words of somebody who finds it on site."""

    words: str
    lines: Callable[[], list[Line]]
    make: Callable[[Values], Change]

    def change(self, values: Values) -> Change:
        """The change that a filled-in form means; raises InputRefused, most at a line."""
        return self.make({key: text.strip() for key, text in values.items()})


def change_forms(site: Site, at: Place) -> dict[str, ChangeForm]:
    """Every kind by a short name, filled in from where one stands."""
    ground = Ground(site, at)
    cable, station = CableForms(ground), StationForms(ground)
    return {
        "length": ChangeForm("Another length of cable", cable.length, cable.made_length),
        "cable": ChangeForm("Another cable, or another size", cable.cable, cable.made_cable),
        "box": ChangeForm("A box in the middle of a cable", cable.box, cable.made_box),
        "end": ChangeForm("More cable, with a box at its end", cable.end, cable.made_end),
        "station": ChangeForm("A station that is not drawn", station.new, station.made_new),
        "parts": ChangeForm(
            "Another address, decoder, solenoid or number of a station",
            station.parts,
            station.made_parts,
        ),
        "swap": ChangeForm(
            "Two stations, each at the other's address", station.swap, station.made_swap
        ),
        "move": ChangeForm("A station in another box", station.move, station.made_move),
        "no-station": ChangeForm("A station that is not there", station.gone, station.made_gone),
        "no-box": ChangeForm("A box that is not there", cable.gone, cable.made_gone),
        "words": ChangeForm("Another label or place of a box", cable.words, cable.made_words),
        "path-label": ChangeForm("Another label of a path", cable.label, cable.made_label),
    }
