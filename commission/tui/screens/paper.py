"""What is printed of a job, made from the walk: the owner's sheet, or one to fill in by hand."""

from __future__ import annotations

import asyncio
from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING

from commission.host import Disk
from commission.problems import CommissionError
from commission.record.folder import REPORT
from commission.text import visible

if TYPE_CHECKING:
    from commission.tui.screens.walk import WalkScreen

OWNERS_SHEET = "The owner's sheet, to print"
BY_HAND = "A sheet of what is open, to fill in by hand"


def paper_options(walk: WalkScreen) -> dict[str, tuple[str, Callable[[], None]]]:
    """The line of the menu: of a signed job its report, else what is open in it."""
    words = OWNERS_SHEET if walk.job.signed else BY_HAND
    return {"paper": (words, lambda: _begin(walk))}


def _begin(walk: WalkScreen) -> None:
    walk.tell("The sheet is being made ...")
    walk.entry.focus()
    walk.run_worker(_made(walk), group="paper")


async def _made(walk: WalkScreen) -> None:
    """Make it beside the walk: of a large site it takes a moment, and keys are dealt with."""
    folder, signed = walk.job.folder, walk.job.signed
    try:
        path = await asyncio.to_thread(_write, folder, signed)
        words = f"Written: {visible(str(path), 500)}\nOpen it in a browser, and print it there."
    except CommissionError as error:
        words = str(error)
    walk.tell(words)


def _write(folder: Path, signed: bool) -> Path:
    """Write the sheet under a name that is free, beside the job's folder."""
    from commission.new_file import write_new_file
    from commission.papers import of_job, of_report

    disk = Disk()
    made = of_report(folder / REPORT, None, disk) if signed else of_job(folder, None, disk)
    return write_new_file(made[0], None, made[1], disk)
