"""`commission report`: where a signed report lies, or the draft of one that is not signed yet."""

from __future__ import annotations

import argparse

from commission.commands.say import say
from commission.problems import EXIT_DONE, EXIT_FINDINGS


def run(options: argparse.Namespace) -> int:
    """Print the draft; or the path, the verdict and the exceptions of the signed report.

    What the report says is not repeated when it is not what the record gives: that is a finding.
    """
    from commission.host import Disk
    from commission.opening import read_job

    disk = Disk()
    job = read_job(options.target, disk)
    if not job.signed:
        from commission.report.document import draft_text

        say(draft_text(job).rstrip("\n"))
        return EXIT_DONE
    from commission.commands.check import signed_problems
    from commission.record.codec import digest_of, encode_header
    from commission.record.folder import REPORT
    from commission.report.reading import read_report

    path, entries = job.folder / REPORT, job.state.entries
    last = entries[-1].sha256 if entries else digest_of(encode_header(job.header))
    say(str(path))
    problems = signed_problems(job.folder, len(entries), last, disk)
    for problem in problems:
        say(str(problem))
    if problems:
        say("its verdict is not shown: read the report itself, with this in mind")
        return EXIT_FINDINGS
    report = read_report(path)
    say(report["verdict"])
    for exception in report.get("exception", []):
        say(f"  {exception['kind']}: {exception['what']}")
    return EXIT_DONE
