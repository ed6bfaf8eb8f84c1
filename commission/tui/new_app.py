"""A new site by a form: a few answers, what they come to, and the file."""

from __future__ import annotations

from functools import partial
from pathlib import Path

from commission.authoring.catalogue import cable_named
from commission.authoring.draft import Kinds, Units, usual_supply
from commission.authoring.evenly import Answers, drawn_evenly
from commission.authoring.shown import summary
from commission.authoring.writing import site_text
from commission.host import Disk
from commission.new_file import write_new_file
from commission.problems import CommissionError, InputRefused
from commission.site.load import parse_site
from commission.text import visible
from commission.tui.base import BaseApp
from commission.tui.screens.form import FormScreen, Line, LineRefused, MenuScreen
from commission.units import parse_quantity

USUAL = "usual data, to be replaced"
_ABOUT = (
    "A first site file with evenly spaced boxes; lengths, labels and data sheets are put in "
    "afterwards, in the file. Nothing is written before you see what it comes to."
)


class NewApp(BaseApp[Path]):
    """Asks, shows, writes; ends with the file, or with nothing."""

    def __init__(self, path: Path, own: Kinds, disk: Disk) -> None:
        super().__init__()
        self._path, self._own, self._disk = path, own, disk
        self._values: dict[str, str] = {}
        self._text = ""

    def on_mount(self) -> None:
        """Ask at once."""
        super().on_mount()
        self._ask()

    def _ask(self) -> None:
        def closed(kept: bool | None) -> None:
            if kept:
                self._show()
            else:
                self.exit()

        form = FormScreen(
            f"New site: {visible(self._path.name)}", self._lines(), self._keep, about=_ABOUT,
            keep_words="See what it comes to",
        )  # fmt: skip
        self.push_screen(form, closed)

    def _lines(self) -> list[Line]:
        """The questions, answered as before where they were."""
        valves = (USUAL, *self._own.solenoid)
        decoders = (USUAL, *self._own.decoder)
        lines = [
            Line("name", "Name of the site", needed="name it as the report should"),
            Line("units", "Units shown", "US", ("US", "SI"), "mains: 120 V 60 Hz, or 230 V 50 Hz"),
            Line("outputs", "Two-wire outputs of the controller", "1"),
            Line("paths", "Paths on each output", "1"),
            Line("cable", "Cable: a size, or a kind of your own", "14 AWG", hint="2.5 mm²"),
            Line("boxes", "Boxes on each path", needed="write how many"),
            Line("spacing", "From box to box", hint="150 ft or 45 m", needed="write a length"),
            Line("stations", "Stations in each box", "1"),
            Line("at_once", "Stations that may run together", "1"),
            Line("solenoid", "Solenoids", USUAL, valves),
            Line("decoder", "Decoders", USUAL, decoders),
        ]
        return [
            Line(
                one.key, one.label, self._values.get(one.key, one.value), one.choices, one.hint,
                needed=one.needed,
            )
            for one in lines
        ]  # fmt: skip

    def _keep(self, values: dict[str, str]) -> None:
        """Draw the site that was described; refuse the line that cannot be drawn."""
        self._values = dict(values)
        units: Units = "SI" if values["units"].upper() == "SI" else "US"
        count = partial(_whole, values)
        try:
            cable_named(values["cable"], self._own)
        except ValueError as error:
            raise LineRefused("cable", str(error)) from None
        try:
            parse_quantity(values["spacing"], "length")
        except ValueError as error:
            raise LineRefused("spacing", str(error)) from None
        answers = Answers(
            values["name"], units, usual_supply(units, count("at_once")), count("outputs"),
            count("paths"), values["cable"], count("boxes"), values["spacing"], count("stations"),
            _own_name(values["solenoid"]), _own_name(values["decoder"]),
        )  # fmt: skip
        try:
            self._text = site_text(drawn_evenly(answers, self._own))
        except ValueError as error:
            raise LineRefused("boxes", str(error)) from None
        parse_site(self._text.encode("utf-8"), self._path.name)

    def _show(self, said: str = "") -> None:
        """What it comes to; write it, or go back to the answers."""
        site = parse_site(self._text.encode("utf-8"), self._path.name)
        about = "\n".join([*([said] if said else []), *summary(site)])
        rows = [("write", f"Write {visible(self._path.name)}"), ("back", "Back to the answers")]

        def chosen(key: str | None) -> None:
            if key == "write":
                self._write()
            else:
                self._ask()

        self.push_screen(MenuScreen("What it comes to", rows, about), chosen)

    def _write(self) -> None:
        try:
            self.exit(write_new_file(self._text, str(self._path), self._path, self._disk))
        except CommissionError as error:
            self._show(str(error))


def _own_name(choice: str) -> str:
    return "" if choice == USUAL else choice


def _whole(values: dict[str, str], key: str) -> int:
    """A number of things. Raises LineRefused."""
    try:
        number = int(values[key])
    except ValueError:
        raise LineRefused(key, "write a whole number") from None
    if not 1 <= number <= 1_000:
        raise LineRefused(key, "from 1 to 1000")
    return number


def ask(path: Path, own: Kinds, disk: Disk) -> Path | None:
    """The file that was written; None when nothing was. Raises what failed."""
    app = NewApp(path, own, disk)
    written = app.run()
    if app.failure is not None:
        raise app.failure
    if app.return_code:
        raise InputRefused("ended before anything was written")
    return written
