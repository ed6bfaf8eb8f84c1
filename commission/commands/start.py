"""`commission` alone: the start screen, whose choice is a command to run."""

from __future__ import annotations

import contextlib
from collections.abc import Sequence

from commission.commands.say import finish, say

_FULL_SCREEN = frozenset({"open", "edit", "practice", "review"})


def choose(said: str = "") -> tuple[str, ...] | int:
    """The words of the command chosen on the start screen, or an exit code when one leaves.

    `said` is shown first: why what was chosen before could not be done.
    """
    from commission.tui.start_app import choose as on_screen

    return on_screen(said)


def is_full_screen(words: Sequence[str]) -> bool:
    """Whether a command chosen there leaves nothing to be read: the start follows at once."""
    return words[0] in _FULL_SCREEN


def wait_for_reader() -> None:
    """What a command printed stays until it was read."""
    say("\nEnter: back to the start screen")
    finish()
    with contextlib.suppress(EOFError):
        input()
