"""`commission edit`: a site file as a tree and a table, with what each change does to it."""

from __future__ import annotations

import argparse
from pathlib import Path
from typing import TYPE_CHECKING

from commission.commands.say import say
from commission.problems import EXIT_DONE, InputRefused
from commission.text import counted, visible

if TYPE_CHECKING:
    from commission.host import Disk


def run(options: argparse.Namespace) -> int:
    """Edit a site file on a full screen; what was not written is said, and kept."""
    from commission.commands.open import refuse_without_terminal
    from commission.editing.edition import Edition
    from commission.host import Disk
    from commission.session import now_local

    disk = Disk()
    edition = Edition(_site_file(options.target, disk), disk, now_local)
    try:
        refuse_without_terminal()
        from commission.tui.edit_app import show

        code = show(edition)
    finally:
        edition.close()
    kept = edition.left.changes if edition.left else edition.unwritten_changes
    if edition.left or edition.unwritten:
        changes = counted(len(kept), "change")
        say(f"Not written into {edition.name}, and kept: {changes}.")
        say("The same command offers them again.")
    return code or EXIT_DONE


def _site_file(target: str, disk: Disk) -> Path:
    """The site file that is named; also one that is gone or spoilt, where changes of it are kept.

    Raises InputRefused.
    """
    from commission.asked import located
    from commission.editing.working_copy import is_kept

    notices = list[str]()
    try:
        place = located(target, disk, notices)
    except InputRefused:
        if not is_kept(Path(target), disk):
            raise
        return Path(target)
    if place.kind != "site":
        words = "the drawing of a job is changed during its walk: Esc, the ground differs"
        raise InputRefused(f"{visible(target)} is a job, not a site file; {words}")
    for words in notices:
        say(words)
    return place.path
