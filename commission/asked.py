"""What is named on the command line: a site, a job, a sample; told apart, found, or refused.

Reads only, but for a sample, which is copied to the user's folder before it is worked on.
"""

from __future__ import annotations

import hashlib
import shlex
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from commission.checklist.schema import JOB_KIND_WORDS
from commission.problems import InputRefused, nearest
from commission.record import folder as folders
from commission.record.folder import JobFolder
from commission.record.journal import RECORD
from commission.text import visible

if TYPE_CHECKING:
    from commission.host import Disk


@dataclass(frozen=True, slots=True)
class Asked:
    """What was asked for when opening, as it was typed."""

    target: str
    kind: str | None
    new: bool
    checklist: Path | None

    @property
    def command_for_another(self) -> str:
        """The command that begins another job, with what was asked for."""
        words = ["commission", "open", self.target, "--new"]
        words += ["--job", self.kind] if self.kind else []
        words += ["--checklist", str(self.checklist)] if self.checklist else []
        return visible(shlex.join(words))


def existing(place: folders.Target, asked: Asked, disk: Disk, notices: list[str]) -> Path | None:
    """The folder of the job to go on with or to read; None when one is to be begun."""
    refuse_unknown_kind(asked)
    if place.kind == "job":
        if asked.new or asked.checklist is not None:
            raise InputRefused("name the site, not a job, to begin another job")
        return place.path
    jobs, damaged = folders.survey(place.path, disk)
    if asked.new:
        notices += [str(problem) for problem in damaged]
        return None
    if damaged:
        raise InputRefused(damaged)
    return resumed(jobs, asked, notices)


def refuse_unknown_kind(asked: Asked) -> None:
    """Raise InputRefused for a kind of job that there is not."""
    if asked.kind is not None and asked.kind not in JOB_KIND_WORDS:
        remedy = nearest(asked.kind, JOB_KIND_WORDS)
        raise InputRefused(f"there is no kind of job '{visible(asked.kind, 60)}'; {remedy}")


def located(
    target: str | Path, disk: Disk, notices: list[str], *, report: bool = False
) -> folders.Target:
    """What `target` names; a sample is first copied to the user's folder, and that is noted.

    Raises InputRefused for anything but a site, a job, a sample or, when asked for, a report.
    """
    from commission.resources import is_sample

    path = named(target)
    if is_sample(path):
        path = _copied(path, notices)
    return told_apart(path, disk, report=report)


def named(target: str | Path) -> Path:
    """The path that is named, or the sample of that name."""
    from commission.resources import samples

    path = Path(target)
    if not is_there(path):
        known = samples()
        if str(target) not in known:
            raise InputRefused(
                f"{visible(str(target))} is not there, and no sample has that name; "
                f"{nearest(str(target), known)}"
            )
        path = known[str(target)]
    return path


def told_apart(path: Path, disk: Disk, *, report: bool = False) -> folders.Target:
    """A site or a job; a report beside its record stands for the job. Raises InputRefused.

    A report alone is one only when asked for.
    """
    place = folders.resolve(path, disk)
    if place.kind != "report":
        return place
    if (path.absolute().parent / RECORD).exists():
        return folders.Target("job", path.absolute().parent)
    if report:
        return place
    raise InputRefused(f"{visible(str(path))} is a report, not a site or a job")


def is_there(path: Path) -> bool:
    """Whether a name stands for something; one that no file can have stands for nothing."""
    try:
        return path.exists()
    except (OSError, ValueError):
        return False


def _copied(sample: Path, notices: list[str]) -> Path:
    from commission.resources import copy_sample
    from commission.user.folder import samples_folder

    copy = copy_sample(sample.stem, samples_folder())
    notices.append(f"This is an invented sample, worked on as your copy in {copy.parent}")
    return copy


def resumed(jobs: list[JobFolder], asked: Asked, notices: list[str]) -> Path | None:
    """The one open job among those of a site, None when a first one is to be begun.

    Several are refused by name, and so is another one after those that are signed.
    """
    wanted = [job for job in jobs if asked.kind in (None, job.header.job_kind)]
    found = [job for job in wanted if not job.is_signed]
    if len(found) > 1:
        raise InputRefused(
            "this site has several open jobs; name the one to go on with:\n"
            + "\n".join(f"  {command_for(job)}" for job in found)
        )
    if found:
        if asked.checklist is not None:
            notices.append("--checklist is for a new job; this job goes on with its own")
        return found[0].path
    if wanted:
        raise InputRefused(
            "no job is open here; what was signed is never re-opened. To begin another:\n"
            f"  {asked.command_for_another}\nto read what was signed:\n"
            + "\n".join(f"  {command_for(job)}" for job in wanted)
        )
    notices += [
        f"An earlier job is {'signed' if job.is_signed else 'open'}: {job.path.name}"
        for job in jobs
    ]
    return None


def command_for(job: JobFolder) -> str:
    """The command that opens a job, and what kind it is and when it was begun."""
    words = JOB_KIND_WORDS.get(job.header.job_kind, visible(job.header.job_kind))
    begun = f"{job.header.created_at:%Y-%m-%d %H:%M}"
    return f"commission open {shlex.quote(str(job.path))}   # {words}, begun {begun}"


def own_copy(disk: Disk, path: Path, sha256: str) -> bytes:
    """A job's own copy of a file, as it was when the job was begun; raises InputRefused."""
    content = read_file(disk, path)
    if hashlib.sha256(content).hexdigest() != sha256:
        raise InputRefused(
            f"{visible(str(path))} was changed after the job was begun: its digest is not the one "
            "in the record. Put the unchanged copy back, or begin a new job"
        )
    return content


def read_file(disk: Disk, path: Path) -> bytes:
    """The bytes of a file; raises InputRefused, also for what may never end: a device, a pipe."""
    shown = visible(str(path))
    try:
        if not disk.stamp(path).is_file:
            raise InputRefused(f"{shown} is not a file")
        return disk.read(path)
    except (OSError, ValueError) as error:  # ValueError: a name that no file can have
        reason = getattr(error, "strerror", None) or str(error)
        raise InputRefused(f"{shown} can't be read: {reason}") from error
