"""`commission compare`: what changed between two reports of one site, and what was there before."""

from __future__ import annotations

import argparse
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from commission.commands.say import long_look, say
from commission.problems import EXIT_DONE, EXIT_FINDINGS, InputRefused, Problem
from commission.text import visible

if TYPE_CHECKING:
    from commission.host import Disk
    from commission.job import Job


@dataclass(frozen=True, slots=True)
class Side:
    """One of the two: where it was read, the job in it, and what is wrong with the report."""

    name: str
    job: Job
    problems: tuple[Problem, ...]


def run(options: argparse.Namespace) -> int:
    """Print what changed, what could not be compared and what did not change, each with why.

    A change, a fault of the later report, and a problem of a report itself are findings.
    """
    from commission.commands import compare_json, compare_text
    from commission.host import Disk
    from commission.report.change import CHANGED
    from commission.report.compare import compare

    disk = Disk()
    earlier, later = read_side(options.earlier, disk), read_side(options.later, disk)
    found = compare(earlier.job, later.job)
    if options.json:
        say(compare_json.text(earlier, later, found))
    else:
        say(compare_text.text(earlier, later, found))
    told = any(one.result == CHANGED or one.is_wrong for one in found)
    return EXIT_FINDINGS if told or earlier.problems or later.problems else EXIT_DONE


def read_side(target: str, disk: Disk) -> Side:
    """A report, or the job in a folder: by its signed report, else as it stands so far.

    Raises InputRefused for anything else, and for a report whose record does not hold.
    """
    from commission.asked import named, read_file
    from commission.opening import read_job
    from commission.record.folder import REPORT, resolve
    from commission.record.folder import read_job as read_folder

    place = resolve(named(target), disk)
    if place.kind == "site":
        raise InputRefused(
            f"{visible(target)} is a site: name a report, or a job's folder; "
            "'commission jobs' lists them"
        )
    path = place.path if place.kind == "report" else place.path / REPORT
    if place.kind == "job" and not path.exists():
        return Side(visible(str(place.path)), read_job(place.path, disk), ())
    name = visible(str(path))
    problems, job = _report(read_file(disk, path), name)
    if place.kind == "job" and job.header.job != read_folder(place.path, disk).header.job:
        job = read_job(place.path, disk)  # an inspection of that report
    if place.kind == "job":
        problems += _beside_the_record(place.path, path, name, disk)
    return Side(name, job, problems)


def _report(content: bytes, name: str) -> tuple[tuple[Problem, ...], Job]:
    """What is wrong with a report's bytes, and the job in it; InputRefused when there is none."""
    from commission.report.examined import examined

    with long_look(name):
        found = examined(content, name)
    problems = tuple(finding.problem for finding in found.findings)
    if found.job is None:
        raise InputRefused(problems)
    return problems, found.job


def _beside_the_record(folder: Path, path: Path, name: str, disk: Disk) -> tuple[Problem, ...]:
    """Whether a job's report is that of the record beside it."""
    from commission.asked import read_file
    from commission.record.chain import verify
    from commission.record.journal import RECORD
    from commission.report.reading import as_written, record_problems

    record = verify(read_file(disk, folder / RECORD), visible(str(folder / RECORD)))
    content, _changed = as_written(read_file(disk, path), name)
    return tuple(record_problems(content, name, record))
