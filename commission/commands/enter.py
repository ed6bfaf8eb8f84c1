"""`commission enter`: what was written on paper in the field, kept in a job as if it were typed."""

from __future__ import annotations

import argparse
from pathlib import Path
from typing import TYPE_CHECKING

from commission.commands.say import say
from commission.problems import EXIT_DONE, EXIT_FINDINGS, InputRefused, Problem
from commission.text import clean, visible

if TYPE_CHECKING:
    from commission.field_entry import Kept, Taken
    from commission.field_list import FieldList
    from commission.host import Disk
    from commission.session import Session


def run(options: argparse.Namespace) -> int:
    """Keep every row of the list, or none and say why; then what failed or is marginal."""
    from commission.field_list import parse
    from commission.host import Disk
    from commission.opening import open_job
    from commission.session import now_local

    disk = Disk()
    name = visible(str(options.readings))
    listed = parse(_content(Path(options.readings), disk), name)
    session = open_job(_job(options.target, disk), disk=disk, now=now_local)
    try:
        for notice in session.job.notices:
            say(notice)
        say(f"{name}: columns set apart by {listed.separator}s")
        by = _entered_by(options.by, session)
        taken = session.answer_all(listed, name, by, confirmed=options.yes)
    finally:
        session.close()
    return _told(listed, taken)


def _content(path: Path, disk: Disk) -> bytes:
    """The bytes of the list; a file that is too large is not read."""
    from commission.asked import read_file
    from commission.spreadsheet import MAX_BYTES

    try:
        size = disk.stamp(path).size
    except (OSError, ValueError):
        size = 0  # why it can't be read is said by whoever reads it
    if size > MAX_BYTES:
        words = f"larger than {MAX_BYTES} bytes"
        raise InputRefused([Problem(visible(str(path)), words, remedy="divide it")])
    return read_file(disk, path)


def _job(target: str, disk: Disk) -> Path:
    """The folder of the job that is named, or of the only one of a site that is open."""
    from commission.asked import command_for, located
    from commission.record.folder import find_jobs

    place = located(target, disk, [])
    if place.kind == "job":
        return place.path
    jobs = [job for job in find_jobs(place.path, disk) if not job.is_signed]
    if len(jobs) == 1:
        return jobs[0].path
    if not jobs:
        raise InputRefused("this site has no open job; 'commission open' begins one")
    listed = "\n".join(f"  {command_for(job)}" for job in jobs)
    raise InputRefused(f"this site has several open jobs; name the folder of one:\n{listed}")


def _entered_by(named: str | None, session: Session) -> str:
    """Who enters the list: as named, or who entered the job's last entry."""
    try:
        by = clean(named) if named is not None else session.crew.hands.entered_by
    except ValueError as error:
        raise InputRefused(f"--by: {error}") from None
    if not by:
        raise InputRefused("it is not known who enters this list; add --by NAME")
    return by


def _told(listed: FieldList, taken: Taken) -> int:
    """Say what was kept, skipped and found; returns the exit code."""
    for row, question in taken.far_off:
        say(f"line {row.line}, {row.step}: {question.removesuffix(' Is it meant so?')} Kept.")
    for row, why in taken.skipped:
        say(f"line {row.line}, {row.step}: skipped, it {why}")
    if listed.blank:
        say(f"{len(listed.blank)} left blank: {', '.join(listed.blank)}")
    found = [kept for kept in taken.kept if kept.is_finding]
    for kept in found:
        say(_finding(kept))
    number = len(taken.kept)
    say(
        f"{number} kept, {len(taken.skipped)} skipped; of those kept "
        f"{sum(1 for kept in found if kept.entry.verdict == 'fail')} failed, "
        f"{sum(1 for kept in found if kept.entry.verdict == 'marginal')} marginal"
    )
    return EXIT_FINDINGS if found else EXIT_DONE


def _finding(kept: Kept) -> str:
    """A row that failed or is marginal, in words."""
    step, entry = kept.step, kept.entry
    return f"{entry.verdict}: {step.id}: {step.title}: {entry.text}; {entry.finding}"
