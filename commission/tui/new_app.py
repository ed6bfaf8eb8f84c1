"""A new site by forms: a few answers, what they come to, and the file."""

from __future__ import annotations

import asyncio
import contextlib
import threading
from dataclasses import dataclass
from datetime import datetime
from functools import partial
from pathlib import Path

from commission.asked import is_there
from commission.authoring.draft import Supply
from commission.authoring.shown import assumed_lines, at_work, outline
from commission.authoring.transformer import AnswerRefused, mains_of, transformer_of
from commission.authoring.writing import site_text
from commission.expected.sheet import Sheet
from commission.host import Disk
from commission.new_file import kept_name, replace_file, write_new_file
from commission.problems import CommissionError, Ended
from commission.site.load import parse_site
from commission.site.schema import Site
from commission.text import visible
from commission.tui.base import BaseApp
from commission.tui.new_questions import Questions
from commission.tui.new_supply import ABOUT_SUPPLY, ALIKE, supply_lines
from commission.tui.screens.form import FormScreen, LineRefused, MenuScreen

_WORKING = "Its voltages are being worked out; they will stand here ..."
_THERE = " A file of this name is there already; before it is replaced you are asked."


@dataclass(frozen=True, slots=True)
class Written:
    """What was written; where a file that was there before is kept."""

    path: Path
    kept: Path | None = None


@dataclass(frozen=True, slots=True)
class _Drawn:
    """The text of a site file, and what it holds."""

    text: str
    site: Site
    assumed: tuple[str, ...]


class NewApp(BaseApp[Written]):
    """Asks, shows, writes; ends with the file, or with nothing."""

    def __init__(self, path: Path, questions: Questions, disk: Disk) -> None:
        super().__init__()
        self._path, self._questions, self._disk = path, questions, disk
        self._plates: list[dict[str, str]] = []  # what was answered for each transformer
        self._mains: dict[str, str] = {}
        self._units = ""  # those for which the mains were asked
        self._drawn: _Drawn | None = None

    @property
    def half_typed(self) -> bool:
        """Also while what was answered before is not written."""
        return bool(self._units) or super().half_typed

    def on_mount(self) -> None:
        """Ask at once."""
        super().on_mount()
        self._ask()

    def _ask(self) -> None:
        def closed(kept: bool | None) -> None:
            if kept:
                self._ask_supply(0)
            else:
                self.exit()

        about = f"{self._questions.about}{_THERE if is_there(self._path) else ''}"
        form = FormScreen(
            f"New site: {visible(self._path.name)}", self._questions.lines(),
            self.keep_answers, about=about, keep_words="On to the supply",
        )  # fmt: skip
        self.push_screen(form, closed)

    def _ask_supply(self, place: int) -> None:
        """Mains and the transformer of an output, then of the next, then show what it comes to."""
        outputs = self._questions.outputs
        lines = supply_lines(place, len(outputs), self._questions.units, self._plates, self._mains)

        def keep(values: dict[str, str]) -> None:
            self._keep_supply(place, values)

        def closed(kept: bool | None) -> None:
            if not kept:
                self._ask()
            elif self._drawn is None:
                self._ask_supply(place + 1)
            else:
                self._show(self._drawn)

        title = "The supply, and the transformer" if place == 0 else "The transformer"
        title += f" of output {outputs[place]}" if len(outputs) > 1 else ""
        self.push_screen(
            FormScreen(title, lines, keep, about=ABOUT_SUPPLY, keep_words="Go on"), closed
        )

    def _keep_supply(self, place: int, values: dict[str, str]) -> None:
        """Check what was answered; draw the site once the last transformer is known."""
        try:
            if place == 0:
                self._mains = mains_of(values)
            transformer_of(values)
        except AnswerRefused as error:
            raise LineRefused(error.key, str(error)) from None
        self._plates[place : place + 1] = [values]
        self._drawn = None
        if place + 1 == len(self._questions.outputs) or values.get("alike") == ALIKE:
            self._drawn = self._draw(place + 1)

    def keep_answers(self, values: dict[str, str]) -> None:
        """Take the answers; raises what is wrong in them."""
        self._questions.keep(values)
        if self._questions.units != self._units:
            self._units, self._mains = self._questions.units, {}  # what is usual is another now

    def _draw(self, transformers: int) -> _Drawn:
        """The site that all answers describe; raises InputRefused for one that can't be."""
        plates = tuple(transformer_of(one) for one in self._plates[:transformers])
        mains, frequency = self._mains["mains"], self._mains["frequency"]
        draft = self._questions.draft(Supply(mains, frequency, self._questions.at_once, plates))
        text = site_text(draft)
        return _Drawn(text, parse_site(text.encode("utf-8"), self._path.name), draft.assumed)

    def _show(self, drawn: _Drawn, said: str = "") -> None:
        """What it comes to; write it, or go back to the answers."""
        sheet = Sheet(drawn.site)
        about = "\n".join(
            [*([said] if said else []), *outline(sheet), *assumed_lines(drawn.assumed)]
        )
        rows = [("write", f"Write {visible(self._path.name)}"), ("back", "Back to the answers")]

        def chosen(key: str | None) -> None:
            if key != "write":
                self._ask()
            elif is_there(self._path):
                self._ask_to_replace(drawn)
            else:
                self._write(drawn)

        screen = MenuScreen("What it comes to", rows, f"{about}\n{_WORKING}")
        self.push_screen(screen, chosen)
        worker = threading.Thread(
            target=self._work_out,
            args=(asyncio.get_running_loop(), screen, sheet, about),
            daemon=True,  # nobody waits for it when the program ends
        )
        screen.call_after_refresh(worker.start)

    def _work_out(
        self, loop: asyncio.AbstractEventLoop, screen: MenuScreen, sheet: Sheet, about: str
    ) -> None:
        """In a thread of its own: tell how the site works, unless somebody has gone on by then."""
        try:
            lines = "\n".join(at_work(sheet))
            act = partial(_tell, screen, f"{about}\n{lines}")
        except Exception as error:
            act = partial(self._handle_exception, error)
        with contextlib.suppress(RuntimeError):  # the program has ended
            loop.call_soon_threadsafe(self.call_later, act)

    def _ask_to_replace(self, drawn: _Drawn) -> None:
        """A file is there already: leave it, or keep it beside the new one."""
        at = datetime.now()
        name, kept = visible(self._path.name), visible(kept_name(self._path, self._disk, at).name)
        rows = [("back", f"Leave {name} as it is"), ("replace", f"Keep it as {kept}, write mine")]
        about = (
            f"{name} is there already. Nothing of it is lost: it can be kept beside the new one."
        )

        def chosen(key: str | None) -> None:
            if key == "replace":
                self._write(drawn, at)
            else:
                self._show(drawn)

        self.push_screen(MenuScreen("Write a new one in its place?", rows, about), chosen)

    def _write(self, drawn: _Drawn, replaced_at: datetime | None = None) -> None:
        try:
            if replaced_at is None:
                write_new_file(drawn.text, str(self._path), self._path, self._disk)
                self.exit(Written(self._path))
            else:
                kept = replace_file(drawn.text, self._path, self._disk, replaced_at)
                self.exit(Written(self._path, kept))
        except CommissionError as error:
            self._show(drawn, str(error))


def _tell(screen: MenuScreen, about: str) -> None:
    if screen.is_attached:
        screen.tell(about)


def ask(path: Path, questions: Questions, disk: Disk) -> Written | None:
    """What was written; None when nothing was. Raises what failed."""
    app = NewApp(path, questions, disk)
    written = app.run()
    if app.failure is not None:
        raise app.failure
    if app.return_code:
        raise Ended("ended before anything was written", app.return_code)
    return written
