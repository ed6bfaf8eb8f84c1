"""`commission print`: what is taken along on paper, made from whatever is named."""

from __future__ import annotations

import argparse
from pathlib import Path
from typing import TYPE_CHECKING

from commission.commands.say import say
from commission.problems import EXIT_DONE

if TYPE_CHECKING:
    from commission.host import Disk
    from commission.record.folder import Target


def run(options: argparse.Namespace) -> int:
    """Write the pages beside what was named, or to the file that was, and say where they are."""
    from commission.asked import located
    from commission.host import Disk
    from commission.new_file import write_new_file
    from commission.papers import of_job, of_report, of_site

    disk = Disk()
    notices: list[str] = []
    place = located(options.target, disk, notices, report=True)
    for notice in notices:
        say(notice)
    report = _signed_report(place, Path(options.target), disk)
    if report is not None:
        content, beside = of_report(report, options.job, disk)
    elif place.kind == "job":
        content, beside = of_job(place.path, options.job, disk)
    else:
        content, beside = of_site(place.path, options.job, disk)
    say(str(write_new_file(content, options.output, beside, disk)))
    return EXIT_DONE


def _signed_report(place: Target, target: Path, disk: Disk) -> Path | None:
    """The report that is named, or that of a signed job; None for a site or an open job."""
    from commission.record.folder import REPORT, is_signed, resolve

    if place.kind == "job":
        if not target.is_dir() and resolve(target, disk).kind == "report":
            return target
        return place.path / REPORT if is_signed(place.path, disk) else None
    return place.path if place.kind == "report" else None
