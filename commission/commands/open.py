"""`commission open`: the walk, full screen."""

from __future__ import annotations

import argparse
import os
import sys
from pathlib import Path

from commission.commands.say import patience
from commission.problems import InputRefused

# Only a large site far below its minimum takes seconds. Later nothing is searched for that long:
# keys never wait for it.
SEARCHING = "Looking for the worst set of stations that may run together"


def run(options: argparse.Namespace) -> int:
    """Open or begin a job and walk through it until the person leaves."""
    from commission.host import Disk
    from commission.opening import open_job, refuse_what_cannot_open
    from commission.session import now_local

    checklist = Path(options.checklist) if options.checklist else None
    try:
        refuse_without_terminal()
    except InputRefused:
        # A wrong file is the first thing to mend: it stays wrong in a terminal too.
        refuse_what_cannot_open(
            options.target, kind=options.job, new=options.new, checklist=checklist, disk=Disk()
        )
        raise
    with patience(SEARCHING):
        session = open_job(
            options.target,
            kind=options.job,
            new=options.new,
            checklist=checklist,
            disk=Disk(),
            now=now_local,
        )
    try:
        from commission.tui.app import run as walk

        return walk(session)
    finally:
        session.close()
        remember(session.job.folder)


def remember(folder: Path) -> None:
    """Put the job first among those opened lately; after the walk, for a start must be quick."""
    from commission.session import now_local
    from commission.user.recent import remember_job

    remember_job(folder, now_local())


def has_terminal() -> bool:
    """Whether keys can be read and a full screen drawn."""
    return not _without_terminal()


def _without_terminal() -> list[str]:
    """The walk reads keys from standard input and draws on standard error.

    Unless whoever started it named another driver: then a server draws for it.
    """
    if os.environ.get("TEXTUAL_DRIVER"):
        return []
    streams = (("input", sys.stdin), ("error", sys.stderr))
    return [name for name, stream in streams if not (stream and stream.isatty())]


def refuse_without_terminal() -> None:
    """Raise InputRefused where keys cannot be read or a full screen not be drawn."""
    missing = _without_terminal()
    if missing:
        raise InputRefused(
            f"a full screen needs a terminal for standard {' and standard '.join(missing)}; "
            "run it in a terminal window, without a pipe or redirection"
        )
