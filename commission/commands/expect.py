"""`commission expect`: what should be measured, as a sheet to read or as JSON for programs."""

from __future__ import annotations

import argparse
import json

from commission.commands.say import say
from commission.problems import EXIT_DONE


def run(options: argparse.Namespace) -> int:
    """Print the sheet of a site, or of a job as it was begun."""
    from commission.expected.sheet import Sheet
    from commission.host import Disk
    from commission.opening import site_of

    sheet = Sheet(site_of(options.target, Disk()))
    if options.json:
        from commission.commands.expect_json import document

        say(json.dumps(document(sheet), indent=2, ensure_ascii=False, allow_nan=False))
        return EXIT_DONE
    from commission.commands.expect_sheet import text

    say(text(sheet))
    return EXIT_DONE
