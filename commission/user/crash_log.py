"""Where the program itself went wrong, in a private file of the user.

It holds places in the program, never what was in the variables: those are a customer's data.
"""

from __future__ import annotations

import traceback
from collections.abc import Iterable
from datetime import datetime
from pathlib import Path
from types import FrameType

from commission import __version__
from commission.text import visible
from commission.user.folder import data_folder

LOG = "crash.log"


def log_failure(error: BaseException) -> Path | None:
    """Add where it failed and why to the log; None when that can't be written."""
    words = f"{type(error).__name__}: {visible(str(error), 300)}"
    return log_places(traceback.walk_tb(error.__traceback__), words)


def log_places(places: Iterable[tuple[FrameType, int]], words: str) -> Path | None:
    """Add places in the program, as `traceback` walks them, and words; None when it can't."""
    frames = traceback.StackSummary.extract(iter(places), capture_locals=False)
    lines = [
        f"{datetime.now().astimezone().isoformat(timespec='seconds')} commission {__version__}",
        *(f"  {Path(frame.filename).name}:{frame.lineno} {frame.name}" for frame in frames),
        f"  {words}",
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
