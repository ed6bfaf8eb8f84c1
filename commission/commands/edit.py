"""`commission edit`: a site file as a tree and a table, with what each change does to it."""

from __future__ import annotations

import argparse

from commission.commands.say import say
from commission.problems import EXIT_DONE, InputRefused
from commission.text import counted, visible


def run(options: argparse.Namespace) -> int:
    """Edit a site file on a full screen; what was not written is said, and kept."""
    from commission.asked import located
    from commission.commands.open import refuse_without_terminal
    from commission.editing.edition import Edition
    from commission.host import Disk
    from commission.session import now_local

    disk, notices = Disk(), list[str]()
    place = located(options.target, disk, notices)
    if place.kind != "site":
        words = "the drawing of a job is changed during its walk: Esc, the ground differs"
        raise InputRefused(f"{visible(options.target)} is a job, not a site file; {words}")
    for words in notices:
        say(words)
    edition = Edition(place.path, disk, now_local)
    try:
        refuse_without_terminal()
        from commission.tui.edit_app import show

        code = show(edition)
    finally:
        edition.close()
    if edition.unwritten:
        changes = counted(len(edition.unwritten_changes), "change")
        say(f"Not written into {edition.name}, and kept: {changes}.")
        say("The same command offers them again.")
    return code or EXIT_DONE
