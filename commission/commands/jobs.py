"""`commission jobs`: the jobs of a site."""

from __future__ import annotations

import argparse

from commission.commands.say import say, table
from commission.problems import EXIT_DONE, EXIT_FINDINGS, InputRefused


def run(options: argparse.Namespace) -> int:
    """List every job of a site: its folder, kind, when it was begun, open or signed.

    A damaged one, or one whose copies were changed, is named: that is a finding.
    """
    from commission.asked import located
    from commission.checklist.schema import JOB_KIND_WORDS
    from commission.commands.check import copy_problems
    from commission.host import Disk
    from commission.record.folder import leftovers, survey

    disk = Disk()
    notices: list[str] = []
    place = located(options.target, disk, notices)
    if place.kind != "site":
        raise InputRefused("name a site file; this is a job already")
    for notice in notices:
        say(notice)
    jobs, damaged = survey(place.path, disk)
    if not jobs and not damaged:
        say("no job yet; 'commission open' begins one")
    say(
        table(
            [
                (
                    str(job.path),
                    JOB_KIND_WORDS.get(job.header.job_kind, job.header.job_kind),
                    f"{job.header.created_at:%Y-%m-%d %H:%M}",
                    "signed" if job.is_signed else "open",
                    "practice" if job.header.practice else "",
                )
                for job in jobs
            ]
        )
    )
    problems = [
        *damaged,
        *(one for job in jobs for one in copy_problems(job.path, job.header, disk)),
    ]
    for problem in problems:
        say(str(problem))
    for path in leftovers(place.path.absolute().parent, disk):
        say(f"{path} was left when a job could not be made; it holds nothing and can be deleted")
    return EXIT_FINDINGS if problems else EXIT_DONE
