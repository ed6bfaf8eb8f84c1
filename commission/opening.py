"""From what is named on the command line to a job that is open: found, begun, or refused.

A site with one open job resumes it; several are listed, never guessed. A job goes on with its own
copies of the site and the checklist, whatever happened to the originals since.
"""

from __future__ import annotations

import re
from collections.abc import Callable
from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING, cast

from commission import __version__
from commission.asked import (
    Asked,
    existing,
    is_there,
    located,
    named,
    own_copy,
    read_file,
    told_apart,
)
from commission.checklist.load import parse_checklist
from commission.checklist.plan import build_plan
from commission.checklist.schema import Checklist
from commission.electrical.sources import FORMULA_SET
from commission.expected.sheet import Sheet
from commission.following import Followed, earlier_of, follower, to_follow
from commission.job import Job
from commission.problems import InputRefused
from commission.record import folder as folders
from commission.record.chain import verify
from commission.record.entry import Entry, Header
from commission.record.folder import Origin
from commission.record.journal import RECORD, Journal
from commission.record.lock import JobLock, hold
from commission.record.replay import replay
from commission.redrawn import redrawn
from commission.search import with_search
from commission.session import Session
from commission.site.load import parse_site
from commission.site.schema import Site
from commission.survey import with_survey
from commission.text import visible
from commission.toml_place import parse_toml

if TYPE_CHECKING:
    from commission.host import Disk

Clock = Callable[[], datetime]
Made = tuple[Site, Checklist]  # what a job was just made from: parsed once
_HEAD_BYTES = 4_096


class Unheld:
    """Stands for the journal and the lock of a signed job: nothing is added, nothing is held."""

    def close(self) -> None:
        """There is no file to let go of."""

    def release(self) -> None:
        """There is no lock to let go of."""


def open_job(
    target: str | Path,
    *,
    kind: str | None = None,
    new: bool = False,
    checklist: Path | None = None,
    disk: Disk,
    now: Clock,
) -> Session:
    """Open the job that `target` names: a site file, a job's folder, a report, a sample's name.

    Without a `kind` any open job of the site is resumed; when the site has no job yet, one is begun
    of the checklist's kind, a new installation without a `checklist`. After a signed job another
    is begun only when that is asked for. A signed job is read without holding it; with a `kind`
    that follows a report, one that follows its report is resumed or begun.
    Raises InputRefused, HeldByAnother, CouldNotWrite; then nothing stays locked.
    """
    notices: list[str] = []
    asked = Asked(str(target), kind, new, checklist)
    place = located(target, disk, notices, report=True)
    followed = to_follow(place, asked, disk)
    path, made = _found_or_begun(place, followed, asked, disk, now, notices)
    if folders.is_signed(path, disk):
        return _signed_session(path, disk, now, notices)
    lock = hold(path, now)
    try:
        return _session(path, made, lock, disk, now, notices)
    except BaseException:
        lock.release()
        raise


def refuse_what_cannot_open(
    target: str | Path, *, kind: str | None, new: bool, checklist: Path | None, disk: Disk
) -> None:
    """Raise what `open_job` would refuse of these words and files; reads only."""
    asked = Asked(str(target), kind, new, checklist)
    path = named(target)
    place = told_apart(path, disk, report=True)
    followed = to_follow(place, asked, disk)
    found = _existing(place, followed, asked, disk, [])
    if found is None:
        _parsed(place.path, followed, asked, disk)
    else:
        read_job(found, disk)


def _existing(
    place: folders.Target, followed: Followed | None, asked: Asked, disk: Disk, notices: list[str]
) -> Path | None:
    """The folder of the job to go on with or to read; None when one is to be begun."""
    if followed is not None:
        return follower(followed, asked, disk, notices)
    return existing(place, asked, disk, notices)


def _found_or_begun(
    place: folders.Target,
    followed: Followed | None,
    asked: Asked,
    disk: Disk,
    now: Clock,
    notices: list[str],
) -> tuple[Path, Made | None]:
    """The folder of a job, and what it was made from when it was begun just now.

    Of two programs that look at one moment, one begins a job and the other finds it.
    """
    beside = followed.site_path if followed else place.path
    begins = place.kind != "job" or followed is not None
    stood = folders.names_beside(beside, disk) if begins and not asked.new else None
    path = _existing(place, followed, asked, disk, notices)
    if path is not None:
        return path, None
    try:
        path, made = _begun(beside, followed, asked, disk, now, stood)
    except folders.Overtaken:
        return _found_or_begun(place, followed, asked, disk, now, notices)
    notices += [f"It follows {followed.words}"] if followed else []
    return path, made


def _begun(
    beside: Path,
    followed: Followed | None,
    asked: Asked,
    disk: Disk,
    now: Clock,
    stood: list[str] | None,
) -> tuple[Path, Made]:
    """Make a new job of its checklist's kind; nothing is written until both files are sound."""
    content, listed, made = _parsed(beside, followed, asked, disk)
    site, checklist = made
    origin = Origin(
        site=content,
        checklist=listed,
        job_kind=checklist.job,
        program=__version__,
        formula_set=FORMULA_SET,
        practice=site.site.invented,
        earlier=followed.content if followed else b"",
    )
    return folders.create_job(beside, origin, disk, now(), stood).path, made


def _parsed(
    site_path: Path, followed: Followed | None, asked: Asked, disk: Disk
) -> tuple[bytes, bytes, Made]:
    """The bytes of site file and checklist, and what they hold; raises InputRefused."""
    kind = asked.kind
    checklist_path = asked.checklist or standard_checklist(kind or "new", disk)
    content = followed.site if followed else read_file(disk, site_path)
    listed = read_file(disk, checklist_path)
    site = parse_site(content, followed.site_name if followed else site_path.name)
    checklist = parse_checklist(listed, checklist_path.name)
    if kind not in (None, checklist.job):
        raise InputRefused(
            f"{visible(checklist_path.name)} is for the kind of job '{checklist.job}', not "
            f"'{kind}'; add --job {checklist.job}"
        )
    return content, listed, (site, checklist)


def standard_checklist(kind: str, disk: Disk) -> Path:
    """The checklist that comes with the program for a kind of job, by what it says it is for."""
    from commission.resources import checklists

    stated = re.compile(rb'^job\s*=\s*"' + re.escape(kind).encode() + rb'"', re.MULTILINE)
    for path in checklists().values():
        if stated.search(read_file(disk, path)[:_HEAD_BYTES]):
            return path
    raise InputRefused(f"no checklist for the kind of job '{kind}' came with the program")


def _session(
    path: Path, made: Made | None, lock: JobLock, disk: Disk, now: Clock, notices: list[str]
) -> Session:
    opened = Journal.open(path / RECORD, disk, now)
    try:
        if opened.recovery is not None:
            notices.append(f"The last write was cut short: {opened.recovery.text}")
        job = _job(path, made, opened.header, opened.entries, disk, notices)
    except BaseException:
        opened.journal.close()
        raise
    return Session(job, opened.journal, lock, disk, now)


def _signed_session(path: Path, disk: Disk, now: Clock, notices: list[str]) -> Session:
    """A signed job to read; its folder may be read-only, and others may read it too."""
    job = _read(path, disk, notices)
    unheld = Unheld()
    return Session(job, cast("Journal", unheld), cast("JobLock", unheld), disk, now)


def _read(path: Path, disk: Disk, notices: list[str]) -> Job:
    record = verify(read_file(disk, path / RECORD), RECORD)
    return _job(path, None, record.header, record.entries, disk, notices)


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
    return _read(path, disk, notices)


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
    plan = build_plan(checklist, site, sheet.drawing.trees, sheet.worst_sets)
    state = replay(entries)
    plan = with_survey(plan, site, state)
    job = Job(
        folder=path,
        header=header,
        site=site,
        checklist=checklist,
        plan=with_search(plan, site, (entry.step for entry in entries)),
        sheet=sheet,
        state=state,
        signed=signed,
        notices=tuple(notices),
        site_text=site_text.decode("utf-8"),
        checklist_text=checklist_text.decode("utf-8"),
        earlier_job=earlier_of(path, header, disk),
    )
    return redrawn(job, known_good=True)


def original_site(path: Path, kind: str) -> Path | None:
    """The site file beside a job's folder, known by the folder's name; None when renamed."""
    named = re.fullmatch(rf"(.+)-{re.escape(kind)}-\d{{4}}-\d\d-\d\d-\d+", path.absolute().name)
    return path.absolute().parent / f"{named[1]}.toml" if named else None


def _differing(
    path: Path, kind: str, site_text: bytes, checklist_text: bytes, disk: Disk
) -> list[str]:
    """What to say when the originals are no longer what the job was made from.

    A checklist of another title than the standard one was never made from that.
    """
    said = []
    places: tuple[tuple[str, Callable[[], Path | None], bytes], ...] = (
        ("site file", lambda: original_site(path, kind), site_text),
        ("standard checklist", lambda: standard_checklist(kind, disk), checklist_text),
    )
    for words, original, own in places:
        try:
            place = original()
            now = own if place is None else disk.read(place)
        except (OSError, InputRefused):
            continue  # moved or gone: the job has all it needs
        if now != own and _title(now) == _title(own):
            said.append(f"The {words} differs from this job's own copy; the job uses its copy")
    return said


def _title(content: bytes) -> object:
    """The title of a checklist; None for a site file and for what can't be read."""
    try:
        return parse_toml(content, "")[0].get("title")
    except InputRefused:
        return None


def site_of(target: str | Path, disk: Disk) -> Site:
    """The site that a target names; of a job, as it was begun. Reads only, samples in place.

    Raises InputRefused.
    """
    from commission.resources import samples

    path = Path(target)
    if not is_there(path):
        path = samples().get(str(target), path)
    place = folders.resolve(path, disk)
    if place.kind == "report":
        raise InputRefused(f"{visible(str(path))} is a report, not a site or a job")
    if place.kind == "site":
        return parse_site(read_file(disk, place.path), place.path.name)
    header = folders.read_job(place.path, disk).header
    return parse_site(own_copy(disk, place.path / folders.SITE, header.site_sha256), folders.SITE)
