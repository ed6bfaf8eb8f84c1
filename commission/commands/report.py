"""`commission report`: where a signed report lies, or the draft of one that is not signed yet."""

from __future__ import annotations

import argparse
from collections.abc import Mapping
from typing import Any

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
    from commission.asked import read_file
    from commission.commands.check import signed_problems
    from commission.record.chain import verify
    from commission.record.folder import REPORT
    from commission.record.journal import RECORD
    from commission.report.reading import read_report

    path = job.folder / REPORT
    record = verify(read_file(disk, job.folder / RECORD), RECORD)
    say(str(path))
    problems = signed_problems(job.folder, record, disk)
    for problem in problems:
        say(str(problem))
    if problems:
        say("its verdict is not shown: read the report itself, with this in mind")
        return EXIT_FINDINGS
    report = read_report(path)
    _say_verdict(report)
    for number, inspection in enumerate(report.get("inspection", []), start=1):
        say(f"inspection {number}: {inspection['agree']} agree, {inspection['differ']} differ")
        _say_verdict(inspection)
    for block in report["signoff"][1:]:
        reasons = f": {block['reasons']}" if block.get("reasons") else ""
        say(f"{block['decision']} by {block['name']}, {block['signs_as']}{reasons}")
    return EXIT_DONE


def _say_verdict(table: Mapping[str, Any]) -> None:
    """A verdict, and below it each exception."""
    say(table["verdict"])
    for exception in table.get("exception", []):
        say(f"  {exception['kind']}: {exception['what']}")
