"""What becomes of a file that is edited: written, left, or gone on with; never a loss unasked."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from functools import partial
from pathlib import Path
from typing import Any

from textual.app import App
from textual.content import Content
from textual.screen import Screen

from commission.editing.edition import ChangedMeanwhile, Edition
from commission.problems import CommissionError
from commission.site.changes.words import Told
from commission.text import counted
from commission.tui.screens.form import MenuScreen, TextScreen

Then = Callable[[], object]
Choices = dict[str, tuple[str, Then]]  # by key: words, and what they do
_MOST_TOLD = 8
_MOST_PROBLEMS = 3


def choose(
    app: App[Any],
    title: str,
    choices: Choices,
    about: str = "",
    left: Then = lambda: None,
) -> None:
    """A menu whose lines do something; `left` is done where none is chosen."""

    def chosen(key: str | None) -> None:
        (choices[key][1] if key else left)()

    rows = [(key, words) for key, (words, _) in choices.items()]
    app.push_screen(MenuScreen(title, rows, about), chosen)


def in_words(told: Told) -> str:
    """A change on one line."""
    what, before, after = told
    return f"{what}: {before or 'no label'} -> {after or 'no label'}"


def _listed(told: Sequence[Told]) -> str:
    """The last of some changes, a line each."""
    more = len(told) - _MOST_TOLD
    lines = [f"  and {more} before these:"] if more > 0 else []
    return "\n".join((*lines, *(f"  {in_words(one)}" for one in told[-_MOST_TOLD:])))


def _given_up(told: Sequence[Told]) -> str:
    """What of another program's change goes when this one is written."""
    if not told:
        return "All that goes when these are written are comments, order or line ends."
    return f"When these are written, this goes back:\n{_listed(told)}"


class EditedFile:
    """Dialogues over the drawing of an edition; `draw` is called when it has changed."""

    def __init__(self, screen: Screen[None], edition: Edition, draw: Callable[[], None]) -> None:
        self._screen, self._edition, self._draw = screen, edition, draw
        self.leaving = False  # whether it is being asked what becomes of changes

    def done(self, how: Then, otherwise: Then | None = None) -> None:
        """Do something that a disk or a file may refuse; say so where it does, then `otherwise`."""
        try:
            how()
        except CommissionError as error:
            self._tell("This was not done", str(error), otherwise)

    def write(self, *, leave: bool = False) -> None:
        """Write into the file; ask where it is another by now."""

        def write() -> None:
            try:
                self._edition.write()
            except ChangedMeanwhile as error:
                self._ask_over_newer(error, leave=leave)
            else:
                self._written(leave=leave)

        self.done(write)

    def _ask_over_newer(self, found: ChangedMeanwhile, *, leave: bool) -> None:
        def over() -> None:
            self._written(self._edition.write(over_newer=True), leave=leave)

        words = "Write this one; keep the other beside it, under a name of its own"
        choices: Choices = {
            "back": ("Back; what was changed here stays kept", lambda: None),
            "over": ("Write it anew" if found.gone else words, partial(self.done, over)),
        }
        about = f"{found}.\n{_given_up(found.given_up)}" if found.given_up else f"{found}."
        choose(self._screen.app, "The file is another by now", choices, about)

    def _written(self, beside: Path | None = None, *, leave: bool) -> None:
        self._draw()
        if beside is not None:
            end = self._screen.app.exit if leave else None
            self._tell("Written", f"What the other program wrote is kept in\n{beside}", end)
        elif leave:
            self._screen.app.exit()

    def leave(self) -> None:
        """Leave; asks first what becomes of changes that are not in the file."""
        if not self._edition.unwritten:
            self._screen.app.exit()
            return

        def stay() -> None:
            self.leaving = False

        def drop() -> None:
            stay()
            self._edition.drop()
            self._screen.app.exit()

        def write() -> None:
            stay()
            self.write(leave=True)

        name = self._edition.name
        keep = "Leave; keep them, to be offered when it is edited again"
        choices: Choices = {
            "write": (f"Write into {name}, and leave", write),
            "keep": (keep, self._screen.app.exit),
            "back": ("Back to the drawing", stay),
        }
        if not self._edition.unread:
            words = "Drop them, and leave the file as it is"
            choices["drop"] = words, partial(self.done, drop)
        changes = counted(len(self._edition.unwritten_changes), "change")
        self.leaving = True
        choose(self._screen.app, f"{changes} not in {name} yet", choices, left=stay)

    def ask_about_left(self) -> None:
        """What becomes of changes that an earlier program kept and did not write."""
        left = self._edition.left
        if left is None:
            return
        about = (
            f"{counted(len(left.changes), 'change')} kept on {left.kept_at:%Y-%m-%d at %H:%M}:\n"
            f"{_listed(left.changes)}"
        )
        begin = "Begin from the file; drop them"
        if self._edition.unread:
            problems = self._edition.unread.splitlines()
            more = f"\n  and {len(problems) - _MOST_PROBLEMS} more problems"
            said = "\n".join(problems[:_MOST_PROBLEMS])
            said += more if len(problems) > _MOST_PROBLEMS else ""
            about = f"The file can't be used:\n{said}\n\n{about}"
            about += f"\nThey lie in {self._edition.kept_in}\n"
            about += "What stands in its place then is kept beside it when they are written."
        elif not self._edition.left_is_of_this_file:
            about += "\nThe file itself was changed by another program since. "
            about += _given_up(self._edition.given_up)
            begin = "Begin from the file; put them beside it, as a file of their own"

        def aside() -> None:
            beside = self._edition.put_aside()
            if beside is not None:
                self._tell("Put beside the file", f"They are in\n{beside}")

        def resume() -> None:
            self._edition.resume()
            self._draw()

        choices: Choices = {
            "resume": ("Go on with them", partial(self.done, resume, self.ask_about_left))
        }
        if self._edition.unread:
            choices["leave"] = "Leave; all stays as it is", self._screen.app.exit
        else:
            choices["aside"] = begin, partial(self.done, aside, self.ask_about_left)
        title = "Changes that were not written"
        # A key too many drops nothing: the question comes again.
        choose(self._screen.app, title, choices, about, self.ask_about_left)

    def _tell(self, title: str, words: str, then: Then | None = None) -> None:
        def closed(_: None) -> None:
            if then is not None:
                then()

        self._screen.app.push_screen(TextScreen(title, Content(f"{words}\n")), closed)
