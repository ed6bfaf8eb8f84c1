"""`commission samples`: the invented sites that come with the program."""

from __future__ import annotations

import argparse

from commission.commands.say import say, table
from commission.problems import EXIT_DONE


def run(options: argparse.Namespace) -> int:
    """List names and paths."""
    from commission.resources import samples

    say(table([(name, str(path)) for name, path in samples().items()]))
    say("\nThey are invented. 'commission open NAME' copies one to a folder of yours first.")
    return EXIT_DONE
