"""`commission schema`: JSON Schemas of the files that people write, for their editors."""

from __future__ import annotations

import argparse

from commission.commands.say import say
from commission.problems import EXIT_DONE
from commission.schemas import schema_of as schema_of
from commission.schemas import schema_text


def run(options: argparse.Namespace) -> int:
    """Print the schema of a site file or a checklist."""
    say(schema_text(options.what).rstrip())
    return EXIT_DONE
