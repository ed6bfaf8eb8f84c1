"""`commission report`: where a signed report lies, or the draft of one that is not signed yet."""

from __future__ import annotations

import argparse

from commission.commands.say import say
from commission.problems import EXIT_DONE


def run(options: argparse.Namespace) -> int:
    """Print the draft; or the path, the verdict and the exceptions of the signed report."""
    from commission.host import Disk
    from commission.opening import read_job

    job = read_job(options.target, Disk())
    if not job.signed:
        from commission.report.document import draft_text

        say(draft_text(job).rstrip("\n"))
        return EXIT_DONE
    from commission.report.reading import read_report

    path = job.folder / "report.toml"
    report = read_report(path)
    say(f"{path}\n{report['verdict']}")
    for exception in report.get("exception", []):
        say(f"  {exception['kind']}: {exception['what']}")
    return EXIT_DONE
