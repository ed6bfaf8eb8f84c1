"""Jobs that follow a signed report: an inspection of it, a recheck, stations added to its paths.

A signed report is never re-opened. What follows it is a job of its own, which names the report's
SHA-256 in its header and keeps an exact copy of it.
"""

from __future__ import annotations

import hashlib
import re
import shlex
from collections.abc import Callable
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING, Any

from commission.asked import (
    Asked,
    is_there,
    own_copy,
    read_file,
    refuse_unknown_kind,
    resumed,
)
from commission.job import Job
from commission.problems import InputRefused
from commission.record import folder as folders
from commission.record.entry import Header
from commission.text import visible

if TYPE_CHECKING:
    from commission.host import Disk

FOLLOWING = ("inspection", "recheck", "added")  # kinds of job that may follow a report
_JOB_ID = re.compile(r"(.+)-[a-z]+-\d{4}-\d\d-\d\d-\d+-[0-9a-f]{8}")
_STEM = re.compile(r"[^./\\:][^/\\:]{0,99}")


@dataclass(frozen=True, slots=True)
class Followed:
    """A report that a job is to follow: its bytes as signed, and the site file of that job.

    `site_path` is where a site file of that name would lie; it gives the job's folder its place
    and name, and need not be there.
    """

    content: bytes
    site_path: Path
    site: bytes
    site_name: str  # what the site file is called in a problem
    words: str

    @property
    def sha256(self) -> str:
        """The digest by which a job names it."""
        return hashlib.sha256(self.content).hexdigest()


def to_follow(place: folders.Target, asked: Asked, disk: Disk) -> Followed | None:
    """The report that a job of the kind asked for is to follow; None where none is meant.

    Raises InputRefused for a report that was altered or is not readable, with its problems, and
    for one that is named without a kind of job that may follow it.
    """
    refuse_unknown_kind(asked)
    is_job = place.kind == "job"
    if place.kind == "site" or (is_job and not _another_is_meant(place.path, asked, disk)):
        return None
    path = place.path / folders.REPORT if is_job else place.path
    if asked.kind not in FOLLOWING:
        raise InputRefused(_what_can_be_done(path, asked))
    parent = place.path.absolute().parent
    return _followed(read_file(disk, path), visible(str(path)), parent, asked.kind, disk)


def _another_is_meant(job: Path, asked: Asked, disk: Disk) -> bool:
    """Whether a kind of job is named with a job that is signed: it can only mean another job."""
    return asked.kind is not None and folders.is_signed(job, disk)


def _what_can_be_done(path: Path, asked: Asked) -> str:
    shown = visible(str(path))
    command = visible(shlex.join(["commission", "open", str(path), "--job", "inspection"]))
    if asked.kind is None:
        words = f"{shown} is a report: it is never re-opened"
    else:
        words = f"a job of the kind '{asked.kind}' follows no report"
    return (
        f"{words}. To begin a job that follows it:\n"
        f"  {command}\n"
        f"kinds that follow a report: {', '.join(FOLLOWING)}. To read what stands in it:\n"
        f"  {visible(shlex.join(['commission', 'review', str(path)]))}"
    )


def _followed(content: bytes, name: str, parent: Path, kind: str, disk: Disk) -> Followed:
    from commission.report.examined import examined
    from commission.report.finding import ALTERED, NOT_READABLE

    seen = examined(content, name)
    if seen.state in (ALTERED, NOT_READABLE) or seen.report is None or seen.job is None:
        raise InputRefused([finding.problem for finding in seen.findings])
    report = seen.report
    site_path = parent / f"{_stem(str(report['report']))}.toml"
    site, site_name = report["files"]["site"].encode("utf-8"), f"{name}: files.site"
    if seen.job.redrawn_by:  # what was found on site is what the next job goes by
        from commission.redrawn import as_found_text

        site = as_found_text(seen.job).encode("utf-8")
    if kind == "added" and is_there(site_path):  # by then the drawing has the new stations
        site, site_name = read_file(disk, site_path), site_path.name
    digest = hashlib.sha256(seen.content).hexdigest()
    words = f"report {visible(str(report['report']))}, SHA-256 {digest}"
    return Followed(seen.content, site_path, site, site_name, words)


def _stem(job_id: str) -> str:
    """The site's name in the id of a job; "site" where that is no name of a file."""
    found = _JOB_ID.fullmatch(job_id)
    return found[1] if found and _STEM.fullmatch(found[1]) else "site"


def follower(followed: Followed, asked: Asked, disk: Disk, notices: list[str]) -> Path | None:
    """The open job of the kind asked for that follows a report already; None to begin one.

    Raises InputRefused for several, and after a signed one unless another is asked for.
    """
    jobs, damaged = folders.survey(followed.site_path, disk)
    if asked.new:
        notices += [str(problem) for problem in damaged]
        return None
    if damaged:
        raise InputRefused(damaged)
    mine = [job for job in jobs if job.header.follows_report == followed.sha256]
    return resumed(mine, asked, notices)


def earlier_of(path: Path, header: Header, disk: Disk) -> Callable[[], Job] | None:
    """Makes the job of the report that a job follows, once, from its own copy; None for none.

    The copy is compared with its digest now; raises InputRefused where it was changed.
    """
    if not header.follows_report:
        return None
    content = own_copy(disk, path / folders.EARLIER, header.follows_report)
    return cache(lambda: _job_in(content))


def _job_in(content: bytes) -> Job:
    from commission.report.again import job_of
    from commission.report.reading import parse_report

    report: dict[str, Any] = parse_report(content, folders.EARLIER)
    return job_of(report, folders.EARLIER, known_good=True)
