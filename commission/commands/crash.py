"""When the program itself is wrong: plain words on the screen, the rest in a private file."""

from __future__ import annotations

from commission.commands.say import complain
from commission.problems import EXIT_REFUSED
from commission.user.crash_log import log_failure


def report_crash(error: BaseException) -> int:
    """Say that the program failed and where its log lies; returns the exit code."""
    path = log_failure(error)
    complain(
        f"the program failed: {type(error).__name__}. This is a fault of the program, not yours.\n"
        "Every confirmed answer is on disk; open the same site again to go on."
    )
    if path is not None:
        complain(f"What a programmer needs to know is in {path}")
    return EXIT_REFUSED
