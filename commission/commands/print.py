"""`commission print`: what is taken along on paper, made from whatever is named."""

from __future__ import annotations

import argparse

from commission.commands.say import say
from commission.problems import EXIT_DONE


def run(options: argparse.Namespace) -> int:
    """Write the pages beside what was named, or to the file that was, and say where they are."""
    from commission.asked import located
    from commission.commands import print_sheet
    from commission.host import Disk
    from commission.new_file import write_new_file

    disk = Disk()
    notices: list[str] = []
    place = located(options.target, disk, notices)
    for notice in notices:
        say(notice)
    if place.kind == "job":
        content, beside = print_sheet.of_job(place.path, options.job, disk)
    else:
        content, beside = print_sheet.of_site(place.path, options.job, disk)
    say(str(write_new_file(content, options.output, beside, disk)))
    return EXIT_DONE
