"""`commission locate`: what is wrong in a job, how sure that is, and which test to make next."""

from __future__ import annotations

import argparse
import textwrap

from commission.commands.say import say
from commission.problems import EXIT_DONE, EXIT_FINDINGS

_WIDTH = 96


def run(options: argparse.Namespace) -> int:
    """Print what the record of a job tells; reads only. A fault that it shows is a finding."""
    from commission.host import Disk
    from commission.opening import read_job
    from commission.search.found import found

    job = read_job(options.target, Disk())
    answers = found(job)
    if options.json:
        from commission.commands.for_programs import head, json_text
        from commission.search.as_json import FORMAT, KIND, document

        say(json_text(head(KIND, FORMAT) | document(job, answers)))
    else:
        from commission.search.told import told

        if job.header.practice:
            say("PRACTICE: an invented site")
        for answer in answers:
            for line in told(job, answer):
                lead = "" if line.part == "head" else "  "
                say(textwrap.fill(line.text, _WIDTH, initial_indent=lead, subsequent_indent=lead))
    return EXIT_FINDINGS if any(answer.is_wrong for answer in answers) else EXIT_DONE
