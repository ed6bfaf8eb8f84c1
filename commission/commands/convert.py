"""`commission convert`: which two conductors of an old bundle carry each section of the path."""

from __future__ import annotations

import argparse
from pathlib import Path

from commission.commands.say import say
from commission.problems import EXIT_DONE, EXIT_FINDINGS, InputRefused


def run(options: argparse.Namespace) -> int:
    """Print the survey of a job; with a file, write the site with its pairs. Changes no job."""
    from commission.host import Disk
    from commission.opening import read_job
    from commission.survey.sections import surveyed

    if options.json and options.output is not None:
        raise InputRefused("--json prints, --output writes a site file: one at a time")
    disk = Disk()
    job = read_job(options.target, disk)
    sections = list(surveyed(job.site, job.state.latest))
    if not sections:
        raise InputRefused(
            "this site describes no bundle without its pairs: [[path.conductor]] names its "
            "conductors by colour or number"
        )
    if options.json:
        from commission.commands.for_programs import head, json_text
        from commission.survey.told import document

        say(json_text(head("commission survey", 1) | document(job, sections)))
    else:
        from commission.survey.told import lines

        for line in lines(job, sections):
            say(line)
    if options.output is not None:
        from commission.new_file import write_new_file
        from commission.survey.path_found import with_pairs_written

        content = with_pairs_written(job)
        path = write_new_file(content, options.output, Path(options.output), disk)
        say(f"{path}\nBegin the job on it: commission open {path} --job converted")
    return EXIT_FINDINGS if any(f.done and not f.decision.pair for f in sections) else EXIT_DONE
