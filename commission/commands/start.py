"""`commission` alone: the start screen, whose choice is a command to run."""

from __future__ import annotations

import contextlib

from commission.commands.say import finish, say

FULL_SCREEN = frozenset({"open", "practice"})  # the start screen comes after them at once


def choose(said: str = "") -> tuple[str, ...] | int:
    """The words of the command chosen on the start screen, or an exit code when one leaves.

    `said` is shown first: why what was chosen before could not be done.
    """
    from commission.tui.start_app import choose as on_screen

    return on_screen(said)


def wait_for_reader() -> None:
    """What a command printed stays until it was read."""
    say("\nEnter: back to the start screen")
    finish()
    with contextlib.suppress(EOFError):
        input()
