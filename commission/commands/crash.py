"""When the program itself is wrong: plain words on the screen, the rest in a private file.

The file holds where it happened, never what was in the variables: those are a customer's data.
"""

from __future__ import annotations

import traceback
from datetime import datetime
from pathlib import Path

from commission import __version__
from commission.commands.say import complain
from commission.problems import EXIT_REFUSED
from commission.text import visible

LOG = "crash.log"


def report_crash(error: BaseException) -> int:
    """Say that the program failed and where its log lies; returns the exit code."""
    path = write_log(error)
    complain(
        f"the program failed: {type(error).__name__}. This is a fault of the program, not yours.\n"
        "Every confirmed answer is on disk; open the same site again to go on."
    )
    if path is not None:
        complain(f"What a programmer needs to know is in {path}")
    return EXIT_REFUSED


def write_log(error: BaseException) -> Path | None:
    """Add the places of a failure, without local variables, to the user's log; None if it can't."""
    from commission.user.folder import data_folder

    frames = traceback.StackSummary.extract(
        traceback.walk_tb(error.__traceback__), capture_locals=False
    )
    lines = [
        f"{datetime.now().astimezone().isoformat(timespec='seconds')} commission {__version__}",
        *(f"  {Path(frame.filename).name}:{frame.lineno} {frame.name}" for frame in frames),
        f"  {type(error).__name__}: {visible(str(error), 300)}",
    ]
    try:
        folder = data_folder()
        folder.mkdir(mode=0o700, parents=True, exist_ok=True)
        path = folder / LOG
        path.touch(mode=0o600, exist_ok=True)
        with path.open("a", encoding="utf-8") as log:
            log.write("\n".join(lines) + "\n")
    except OSError:
        return None
    return path
