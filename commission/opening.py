"""From what is named on the command line to a job that is open: found, begun, or refused.

A site with one open job resumes it; several are listed, never guessed. A job goes on with its own
copies of the site and the checklist, whatever happened to the originals since.
"""

from __future__ import annotations

import hashlib
import re
import shlex
from collections.abc import Callable
from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING

from commission import __version__
from commission.checklist.load import parse_checklist
from commission.checklist.plan import build_plan
from commission.checklist.schema import JOB_KIND_WORDS, Checklist
from commission.electrical.sources import FORMULA_SET
from commission.expected.sheet import Sheet
from commission.job import Job
from commission.problems import InputRefused, nearest
from commission.record import folder as folders
from commission.record.chain import verify
from commission.record.entry import Entry, Header
from commission.record.folder import JobFolder, Origin
from commission.record.journal import RECORD, Journal
from commission.record.lock import JobLock, hold
from commission.record.replay import replay
from commission.session import Session
from commission.site.load import parse_site
from commission.site.schema import Site
from commission.text import visible

if TYPE_CHECKING:
    from commission.host import Disk

Clock = Callable[[], datetime]
Made = tuple[Site, Checklist]  # what a job was just made from: parsed once
_HEAD_BYTES = 4_096


def open_job(
    target: str | Path,
    *,
    kind: str | None = None,
    new: bool = False,
    checklist: Path | None = None,
    disk: Disk,
    now: Clock,
) -> Session:
    """Open the job that `target` names: a site file, a job's folder, or a sample's name.

    Without a `kind` any open job of the site is resumed; when there is none, one is begun of the
    checklist's kind, a new installation without a `checklist`.
    Raises InputRefused, HeldByAnother, CouldNotWrite; then nothing stays locked.
    """
    if kind is not None and kind not in JOB_KIND_WORDS:
        raise InputRefused(f"there is no kind of job '{kind}'; {nearest(kind, JOB_KIND_WORDS)}")
    notices: list[str] = []
    made = None
    place = located(target, disk, notices)
    if place.kind == "job":
        path = place.path
        if new or checklist is not None:
            raise InputRefused("name the site, not a job, to begin another job")
    else:
        found = None if new else _resumed(place.path, kind, disk, notices)
        if found is not None and checklist is not None:
            notices.append("--checklist is for a new job; this job goes on with its own")
        if found is not None:
            path = found
        else:
            path, made = _begun(place.path, kind, checklist, disk, now)
    lock = hold(path, now)
    try:
        return _session(path, made, lock, disk, now, notices)
    except BaseException:
        lock.release()
        raise


def located(target: str | Path, disk: Disk, notices: list[str]) -> folders.Target:
    """What `target` names; a sample is first copied to the user's folder, and that is noted.

    Raises InputRefused for anything but a site, a job or a sample.
    """
    from commission.resources import is_sample, samples

    path = Path(target)
    if not _is_there(path):
        known = samples()
        if str(target) not in known:
            raise InputRefused(
                f"{visible(str(target))} is not there, and no sample has that name; "
                f"{nearest(str(target), known)}"
            )
        path = known[str(target)]
    if is_sample(path):
        path = _copied(path, notices)
    place = folders.resolve(path, disk)
    if place.kind != "report":
        return place
    if (path.absolute().parent / RECORD).exists():
        return folders.Target("job", path.absolute().parent)
    raise InputRefused(f"{visible(str(path))} is a report: it can be read, not opened")


def _is_there(path: Path) -> bool:
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


def _resumed(site_path: Path, kind: str | None, disk: Disk, notices: list[str]) -> Path | None:
    """The one open job of a site, None when there is none; several are refused by name."""
    jobs = folders.find_jobs(site_path, disk)
    found = [job for job in jobs if not job.is_signed and kind in (None, job.header.job_kind)]
    if len(found) > 1:
        raise InputRefused(
            "this site has several open jobs; name the one to go on with:\n"
            + "\n".join(f"  {command_for(job)}" for job in found)
        )
    if found:
        return found[0].path
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


def _begun(
    site_path: Path, kind: str | None, checklist_path: Path | None, disk: Disk, now: Clock
) -> tuple[Path, Made]:
    """Make a new job of its checklist's kind; nothing is written until both files are sound."""
    checklist_path = checklist_path or standard_checklist(kind or "new", disk)
    content = read_file(disk, site_path)
    listed = read_file(disk, checklist_path)
    site = parse_site(content, site_path.name)
    checklist = parse_checklist(listed, checklist_path.name)
    if kind not in (None, checklist.job):
        raise InputRefused(
            f"{visible(checklist_path.name)} is for the kind of job '{checklist.job}', not "
            f"'{kind}'; add --job {checklist.job}"
        )
    origin = Origin(
        site=content,
        checklist=listed,
        job_kind=checklist.job,
        program=__version__,
        formula_set=FORMULA_SET,
        practice=site.site.invented,
    )
    return folders.create_job(site_path, origin, disk, now()).path, (site, checklist)


def standard_checklist(kind: str, disk: Disk) -> Path:
    """The checklist that comes with the program for a kind of job, by what it says it is for."""
    from commission.resources import checklists

    stated = re.compile(rb'^job\s*=\s*"' + re.escape(kind).encode() + rb'"', re.MULTILINE)
    for path in checklists().values():
        if stated.search(read_file(disk, path)[:_HEAD_BYTES]):
            return path
    raise InputRefused(f"no checklist for the kind of job '{kind}' came with the program")


def read_file(disk: Disk, path: Path) -> bytes:
    """The bytes of a file; raises InputRefused."""
    try:
        return disk.read(path)
    except OSError as error:
        raise InputRefused(
            f"{visible(str(path))} can't be read: {error.strerror or error}"
        ) from error


def _session(
    path: Path, made: Made | None, lock: JobLock, disk: Disk, now: Clock, notices: list[str]
) -> Session:
    opened = Journal.open(path / RECORD, disk, now)
    try:
        if opened.recovery is not None:
            notices.append(f"The last entry was cut short: {opened.recovery.text}")
        job = _job(path, made, opened.header, opened.entries, disk, notices)
    except BaseException:
        opened.journal.close()
        raise
    return Session(job, opened.journal, lock, disk, now)


def read_job(target: str | Path, disk: Disk) -> Job:
    """A job as it stands on disk, without holding it: another program may be adding to it.

    Raises InputRefused for anything but a job, or a site with exactly one.
    """
    notices: list[str] = []
    place = located(target, disk, notices)
    path = place.path
    if place.kind == "site":
        found = folders.find_jobs(place.path, disk)
        if len(found) != 1:
            listed = "".join(f"\n  {visible(str(job.path))}" for job in found)
            raise InputRefused(f"this site has {len(found) or 'no'} jobs; name one{listed}")
        path = found[0].path
    record = verify(read_file(disk, path / RECORD), RECORD)
    return _job(path, None, record.header, record.entries, disk, notices)


def _job(
    path: Path,
    made: Made | None,
    header: Header,
    entries: tuple[Entry, ...],
    disk: Disk,
    notices: list[str],
) -> Job:
    """The job in a folder; `made` are its site and checklist when they were just read."""
    site_text = own_copy(disk, path / folders.SITE, header.site_sha256)
    checklist_text = own_copy(disk, path / folders.CHECKLIST, header.checklist_sha256)
    site, checklist = made or (
        parse_site(site_text, folders.SITE, known_good=True),
        parse_checklist(checklist_text, folders.CHECKLIST, known_good=True),
    )
    sheet = Sheet(site)
    signed = folders.is_signed(path, disk)
    if signed:
        notices.append("This job is signed: it can be read, nothing can be added")
    notices += _differing(path, header.job_kind, site_text, checklist_text, disk)
    return Job(
        folder=path,
        header=header,
        site=site,
        checklist=checklist,
        plan=build_plan(checklist, site, sheet.drawing.trees, sheet.worst_sets),
        sheet=sheet,
        state=replay(entries),
        signed=signed,
        notices=tuple(notices),
        site_text=site_text.decode("utf-8"),
        checklist_text=checklist_text.decode("utf-8"),
    )


def own_copy(disk: Disk, path: Path, sha256: str) -> bytes:
    """A job's own copy of a file, as it was when the job was begun; raises InputRefused."""
    content = read_file(disk, path)
    if hashlib.sha256(content).hexdigest() != sha256:
        raise InputRefused(
            f"{visible(str(path))} was changed after the job was begun: its digest is not the one "
            "in the record. Put the unchanged copy back, or begin a new job"
        )
    return content


def original_site(path: Path, kind: str) -> Path | None:
    """The site file beside a job's folder, known by the folder's name; None when renamed."""
    named = re.fullmatch(rf"(.+)-{re.escape(kind)}-\d{{4}}-\d\d-\d\d-\d+", path.absolute().name)
    return path.absolute().parent / f"{named[1]}.toml" if named else None


def _differing(
    path: Path, kind: str, site_text: bytes, checklist_text: bytes, disk: Disk
) -> list[str]:
    """What to say when the originals are no longer what the job was made from."""
    said = []
    places: tuple[tuple[str, Callable[[], Path | None], bytes], ...] = (
        ("site file", lambda: original_site(path, kind), site_text),
        ("standard checklist", lambda: standard_checklist(kind, disk), checklist_text),
    )
    for words, original, own in places:
        try:
            place = original()
            differs = place is not None and disk.read(place) != own
        except (OSError, InputRefused):
            continue  # moved or gone: the job has all it needs
        if differs:
            said.append(f"The {words} differs from this job's own copy; the job uses its copy")
    return said


def site_of(target: str | Path, disk: Disk) -> Site:
    """The site that a target names; of a job, as it was begun. Reads only, samples in place.

    Raises InputRefused.
    """
    from commission.resources import samples

    path = Path(target)
    if not _is_there(path):
        path = samples().get(str(target), path)
    place = folders.resolve(path, disk)
    if place.kind == "report":
        raise InputRefused(f"{visible(str(path))} is a report, not a site or a job")
    if place.kind == "site":
        return parse_site(read_file(disk, place.path), place.path.name)
    header = folders.read_job(place.path, disk).header
    return parse_site(own_copy(disk, place.path / folders.SITE, header.site_sha256), folders.SITE)
