"""What a person may do in the walk, as data: keys sent to the real program in a terminal.

Whoever adds a line to the menu of a step adds a line here.
"""

from __future__ import annotations

import random
import re
import time
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

from commission.job import Job
from commission.units import SI_UNIT, Quantity, in_unit
from commission.user.signing_key import key_file
from tests.terminal import Terminal
from tests.walks import good_reading

WALK_KEYS = "Esc menu"  # what the lines at the bottom say in the walk
LIST_KEYS = "Enter to the step"
BACK_KEYS, FORM_KEYS, MENU_KEYS = "Esc back", "Enter leave", "then Enter  Esc back"
CHOICES = "number or Up/Down"
_STEP = re.compile(r"step (\d+) of (\d+) ")
_SAVED = re.compile(r"Saved on disk at [\d:]+, entry (\d+)")


@dataclass(frozen=True, slots=True)
class MenuMove:
    """A line of the step's menu, the texts of the form behind it, and the entry it leaves."""

    words: str  # that the line holds
    form: str  # words that stand on the form
    lines: tuple[str, ...]  # typed into its lines; {token} stands nowhere else, {photo} is a file
    entry: str  # the type of the entry
    weight: int = 1
    then: str = ""  # words of a line of the menu that comes before the form


GROUND = "The ground differs"
MENU = (
    MenuMove("Skip this step", "Skip:", ("{token}",), "skip"),
    MenuMove("Not applicable here", "Not applicable:", ("{token}",), "not-applicable"),
    MenuMove("Add a note", "Note:", ("{token}",), "note", 2),
    MenuMove("Raise a defect", "What is wrong", ("{token}", "", "", "remake it"), "defect", 2),
    MenuMove("Close a defect", "What was seen now", ("", "{token}"), "defect"),
    MenuMove(GROUND, "As drawn", ("", "as drawn", "as found", "{token}"), "change", 2, "Something"),
    MenuMove(
        GROUND, "Label; empty", ("", "{token}", "{token}"), "change", 1, "Another label of a path"
    ),
    MenuMove(
        GROUND, "Length, with", ("", "{feet} ft", "", "{token}"), "change", 1, "Another length"
    ),
    MenuMove(
        GROUND, "Length up to", ("", "20 ft", "30 ft", "", "", "", "{token}"), "change", 1,
        "A box in the middle",
    ),
    MenuMove("Attach a photo", "File to copy", ("", "{token}"), "note"),
    MenuMove("Attach a photo", "File to copy", ("{photo}", ""), "attachment"),
    MenuMove("Take back an entry", "Take back", ("{token}",), "withdrawal", 3),
    MenuMove("Undo the last answer", "Undo:", ("{token}",), "withdrawal", 2),
)  # fmt: skip
READ = ("pgup", "pgdn", "ctrl+n", "ctrl+l", "ctrl+g", "ctrl+t", "up", "down", "tab")
ODD = (
    *READ,
    "esc",
    "enter",
    "backspace",
    "x",
    "1",
    "9.9",
    "\x1b[H",
    "\x1b[1;5C",
    "\x1b[200~y\x1b[201~",
)


class Player:
    """Someone at the keyboard of one program; knows the job only by what stands on the screen."""

    def __init__(
        self, terminal: Terminal, job: Job | None, rng: random.Random, camera: Path
    ) -> None:
        self.terminal = terminal
        self.camera = camera  # where photos lie
        self.job = job  # as it stood at the start: only to know what a good reading would be
        self.rng = rng
        self.awaited: tuple[str, str] | None = None  # type and text of what was just sent

    @property
    def saved(self) -> int:
        """The number of the entry that the screen last called saved; 0 for none."""
        found = _SAVED.search(self.terminal.text)
        return int(found[1]) if found else 0

    def settle(self, first_s: float = 0.3, quiet_s: float = 0.04) -> bool:
        """Read until something has come and the screen is quiet; False when the program ended."""
        end = time.monotonic() + 3.0
        wait_s = first_s
        while time.monotonic() < end:
            before = len(self.terminal.raw)
            if not self.terminal.feed(wait_s):
                return False
            if len(self.terminal.raw) == before:
                return True
            wait_s = quiet_s
        return True

    def home(self) -> bool:
        """Leave whatever stands over the walk; False when that did not come about."""
        for _ in range(6):
            text = self.terminal.text
            if FORM_KEYS in text:
                self.escape()
                self.terminal.press("enter")
            elif BACK_KEYS in text:
                self.escape()
            elif LIST_KEYS in text:
                self.terminal.press("ctrl+l")
            elif WALK_KEYS in text:
                return True
            if not self.settle():
                return False
        return False

    def escape(self) -> None:
        """Press Escape, and wait until the program has told it from other keys."""
        self.terminal.press("esc")
        self.settle()

    def token(self) -> str:
        """A text that stands nowhere else in the record."""
        return f"t{self.rng.randrange(10**12):012}"

    def clear(self) -> None:
        """Empty the entry of the walk."""
        self.terminal.press("ctrl+k", "\x15")  # to the end, and to the beginning of the line
        self.settle()

    def answer(self) -> None:
        """Type an answer of the kind that is asked for, and Enter."""
        text = self.terminal.text
        if "Type the reading" in text:
            words = self._reading()
            self.awaited = ("answer", words)
        elif CHOICES in " ".join(text.split()):
            words = "1" if self.rng.random() < 0.9 else "2"
            self.awaited = ("answer", "")
        else:
            words = self.token()
            self.awaited = ("answer", words)
        before = self.saved
        self.clear()
        self.terminal.press(words, "enter")
        if "hidden" in text or self.rng.random() < 0.8:  # else it may be ended before that is read
            self._meant(before)

    def _meant(self, before: int) -> None:
        """What an answer may be asked for yet: who saw it and the photo, or whether it is meant."""
        self.settle()
        if "This will be hidden later" in self.terminal.text:
            for key in ("enter", "photo 12", "enter", "enter", "enter"):
                self.terminal.press(key)
                self.settle()
        elif "Enter again keeps it" in self.terminal.text:
            self.terminal.press("enter")
        elif self.saved == before and "Not yet:" in self.terminal.text:
            self.terminal.press("ctrl+n")

    def _reading(self) -> str:
        """A good reading of the step on the screen as far as that is known, else any."""
        found = _STEP.search(self.terminal.text)
        statuses = list(self.job.statuses.values()) if self.job else []
        if found and int(found[1]) <= len(statuses) and self.job:
            step = statuses[int(found[1]) - 1].step
            if step.item.answer == "measure" and step.title in self.terminal.text:
                value = good_reading(self.job.expectation(step))
                value *= 2 if self.rng.random() < 0.1 else self.rng.uniform(0.999, 1.001)
                quantity: Quantity = step.item.quantity or "number"
                unit = step.item.unit or SI_UNIT[quantity]
                return f"{in_unit(value, unit, quantity):.8f} {unit}".strip()
        return f"{self.rng.uniform(1, 30):.8f}"

    def menu(self, move: MenuMove) -> None:
        """Choose a line of the step's menu, fill in the form behind it, and keep it."""
        terminal, token = self.terminal, self.token()
        if not self._chosen(move.words) or (move.then and not self._taken(move.then)):
            return
        if "Which entry?" in terminal.text:
            terminal.press("enter")
            self.settle()
        if move.form not in terminal.text:
            return
        photo = self.camera / f"{token}.jpg"
        if "{photo}" in move.lines:
            photo.write_bytes(token.encode("ascii"))
        for line in move.lines:
            if line:
                feet = self.rng.randrange(20, 400)
                terminal.press(line.format(token=token, photo=photo, feet=feet))
            terminal.press("enter")
        self.awaited = (move.entry, token)
        terminal.press("enter")

    def _chosen(self, words: str) -> bool:
        self.escape()
        return self._taken(words)

    def _taken(self, words: str) -> bool:
        """Take the line with these words of the menu that is open, if it is in view."""
        lines = self.terminal.lines
        first = next((n for n, line in enumerate(lines) if re.search(r"\b1  [A-Z]", line)), None)
        place = next((n for n, line in enumerate(lines) if words in line), None)
        if first is None or place is None or MENU_KEYS not in self.terminal.text:
            return False
        place -= first
        self.terminal.press(*["down"] * place, "enter")
        self.settle()
        return True

    def sign(self) -> None:
        """Sign with whatever exceptions there are."""
        if not self._chosen("Sign and save the report"):
            return
        terminal = self.terminal
        try:
            terminal.wait_for("Name (PgUp", 2.0)  # the form has scrolled to its first line
        except AssertionError:
            return
        keys = ["enter", "enter", "Example Irrigation", "enter", "L-1", "enter", "enter"]
        keys += [] if key_file().exists() else ["enter"]  # no passphrase for the new key
        for key in (*keys, "yes", "enter"):
            terminal.press(key)
            self.settle()
        terminal.press("enter")

    def odd(self) -> None:
        """Keys that nobody meant."""
        self.terminal.press(*self.rng.choices(ODD, k=self.rng.randint(1, 6)))

    def read(self) -> None:
        """Look about."""
        self.terminal.press(*self.rng.choices(READ, k=self.rng.randint(1, 3)))

    def half(self) -> None:
        """Type something and do not confirm it."""
        self.terminal.press(self.token()[:5])


Move = Callable[[Player], None]
MOVES: tuple[tuple[Move, int], ...] = (
    (Player.answer, 60),
    (Player.read, 6),
    (Player.half, 4),
    (Player.odd, 4),
    (Player.sign, 3),
    *((lambda player, move=move: player.menu(move), 2 * move.weight) for move in MENU),
)


def any_move(rng: random.Random) -> Move:
    """One of the moves, by its weight."""
    moves, weights = zip(*MOVES, strict=True)
    move: Move = rng.choices(moves, weights)[0]
    return move
