"""`commission practice`: the walk on an invented site with hidden faults and a simulated meter."""

from __future__ import annotations

import argparse
import secrets
import shlex

from commission.commands.say import say
from commission.problems import InputRefused

_NUMBERS = 10_000  # random states that people can say to each other


def run(options: argparse.Namespace) -> int:
    """Begin a practice and walk through it until the person leaves."""
    from commission.commands.open import refuse_without_terminal, remember
    from commission.host import Disk
    from commission.practice.begin import begin
    from commission.session import now_local

    refuse_without_terminal()
    number = secrets.randbelow(_NUMBERS) if options.random is None else options.random
    if number < 0:
        raise InputRefused("--random is a whole number from 0")
    session = begin(options.faults, options.difficulty, number, disk=Disk(), now=now_local)
    try:
        from commission.tui.app import run as walk

        code = walk(session)
        say(f"To go on with it: commission open {shlex.quote(str(session.job.folder))}")
        return code
    finally:
        session.close()
        remember(session.job.folder)
