"""A job is a folder beside its site file: whole from the moment it is there.

oakfield.toml
oakfield-new-2026-05-04-1/
    record.toml       every confirmed entry
    site.toml         exact copies of what the job was made from
    checklist.toml
    earlier.toml      of a job that follows a report: an exact copy of that report
    evidence/         photos and documents
    report.toml       once it is signed
    lock              who works on it now
"""

from __future__ import annotations

import errno
import hashlib
import os
import re
from collections.abc import Collection, Iterable
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import Literal

from commission.host import Disk, could_not_write, is_temporary, write_new
from commission.problems import InputRefused, Problem
from commission.record import codec
from commission.record.entry import Header
from commission.record.evidence import EVIDENCE
from commission.record.journal import RECORD, Journal
from commission.text import clean, visible
from commission.toml_place import HEAD_BYTES, parse_toml, stated_kind

SITE = "site.toml"
CHECKLIST = "checklist.toml"
EARLIER = "earlier.toml"
REPORT = "report.toml"
_BEING_MADE = ".being-made-"
_SIGNOFF = re.compile(rb"^\s*\[\[\s*signoff\s*\]\]", re.MULTILINE)
_TAKEN = {errno.EEXIST, errno.ENOTEMPTY, errno.EACCES}  # by whoever was faster; last on Windows
_ATTEMPTS = 20

TargetKind = Literal["site", "job", "report"]
_TARGETS: dict[str, TargetKind] = {
    "commission site": "site",
    "commission record": "job",
    "commission report": "report",
}


@dataclass(frozen=True, slots=True)
class JobFolder:
    """One job found on disk."""

    path: Path
    header: Header
    is_signed: bool


@dataclass(frozen=True, slots=True)
class Target:
    """What a path on the command line stands for; `path` of a job is its folder."""

    kind: TargetKind
    path: Path


@dataclass(frozen=True, slots=True)
class Origin:
    """What a job is made from and by."""

    site: bytes
    checklist: bytes
    job_kind: str
    program: str
    formula_set: int
    practice: bool = False
    earlier: bytes = b""  # the report that it follows


class Overtaken(InputRefused):
    """Another program has begun a job since it was looked for one to go on with."""


def create_job(
    site_path: Path,
    origin: Origin,
    disk: Disk,
    now: datetime,
    stood: Collection[str] | None = None,
) -> JobFolder:
    """Make a job's folder beside its site file; a power cut leaves all of it or nothing.

    `stood` are the names beside the site file before no job to go on with was found there: with
    them, a job is made only while that is still so. Raises Overtaken, CouldNotWrite.
    """
    parent = site_path.absolute().parent
    _refuse_bad_name(site_path.stem)
    try:
        for _ in range(_ATTEMPTS):
            taken = disk.names(parent) if stood is None else stood
            path = parent / _free_name(taken, site_path.stem, origin.job_kind, now)
            header = _header(path.name, origin, now)
            if _built(disk, path, header, origin):
                return JobFolder(path, header, is_signed=False)
            if stood is not None:
                raise Overtaken(f"another program has just begun a job in {visible(str(parent))}")
    except OSError as error:
        raise could_not_write(parent, error, "the job's folder was not made") from error
    raise InputRefused(f"another program is making jobs in {parent}; try again")


def _refuse_bad_name(stem: str) -> None:
    try:
        clean(stem)
    except ValueError as error:
        raise InputRefused(f"the name of {visible(stem)}: {error}; rename the file") from None


def _header(name: str, origin: Origin, now: datetime) -> Header:
    return Header(
        program=origin.program,
        formula_set=origin.formula_set,
        job=f"{name}-{os.urandom(4).hex()}",
        job_kind=origin.job_kind,
        practice=origin.practice,
        created_at=now.replace(microsecond=0),
        site_sha256=hashlib.sha256(origin.site).hexdigest(),
        checklist_sha256=hashlib.sha256(origin.checklist).hexdigest(),
        follows_report=hashlib.sha256(origin.earlier).hexdigest() if origin.earlier else "",
    )


def _free_name(names: Iterable[str], stem: str, job_kind: str, now: datetime) -> str:
    taken = {name.lower() for name in names}
    number = 1
    while (name := f"{stem}-{job_kind}-{now.date()}-{number}").lower() in taken:
        number += 1
    return name


def _built(disk: Disk, path: Path, header: Header, origin: Origin) -> bool:
    """Build a folder under a name of its own and give it its name; False when that is taken."""
    building = path.with_name(f"{_BEING_MADE}{header.job}")
    disk.make_directory(building)
    try:
        write_new(disk, building / SITE, origin.site)
        write_new(disk, building / CHECKLIST, origin.checklist)
        if origin.earlier:
            write_new(disk, building / EARLIER, origin.earlier)
        Journal.create(building / RECORD, header, disk)
        disk.make_directory(building / EVIDENCE)
        disk.sync_directory(building / EVIDENCE)
        disk.sync_directory(building)
        try:
            disk.rename_directory(building, path)
        except OSError as error:
            if error.errno in _TAKEN and path.name in disk.names(path.parent):
                disk.remove_directory(building)
                return False
            raise
    except OSError:
        disk.remove_directory(building)
        raise
    disk.sync_directory(path.parent)
    return True


def find_jobs(site_path: Path, disk: Disk) -> list[JobFolder]:
    """The jobs of a site file, in the order of their names.

    Raises InputRefused for a job whose record is damaged at its top: it must not be overlooked.
    """
    jobs, damaged = survey(site_path, disk)
    if damaged:
        raise InputRefused(damaged)
    return jobs


def survey(site_path: Path, disk: Disk) -> tuple[list[JobFolder], list[Problem]]:
    """The jobs of a site file in the order of their names, and the folders that are damaged ones.

    Raises InputRefused when the folder of the site file cannot be read.
    """
    parent = site_path.absolute().parent
    named = re.compile(re.escape(site_path.stem) + r"-([a-z-]+)-\d{4}-\d\d-\d\d-\d+", re.IGNORECASE)
    found: list[JobFolder] = []
    damaged: list[Problem] = []
    for name in _names(disk, parent):
        match = named.fullmatch(name)
        if not match:
            continue
        try:
            if not _holds_job(parent / name, disk):
                continue
            job = read_job(parent / name, disk)
        except InputRefused as refused:
            shown = visible(str(parent / name))
            words = str(refused).removeprefix(f"{shown} ")
            damaged += refused.problems or [Problem(shown, words)]
            continue
        if job.header.job_kind == match[1].lower():
            found.append(job)
    return sorted(found, key=lambda job: _by_number(job.path.name)), damaged


def _holds_job(path: Path, disk: Disk) -> bool:
    """Whether a folder holds what only a job has; its record may be lost.

    Raises InputRefused for one that nobody may look into: it may well hold a job.
    """
    try:
        return not {RECORD, SITE, CHECKLIST, REPORT}.isdisjoint(disk.names(path))
    except (FileNotFoundError, NotADirectoryError):
        return False
    except OSError as error:
        words = f"the folder can't be looked into: {error.strerror or error}"
        remedy = "make it yours to read and write again, or move it away"
        raise InputRefused([Problem(visible(str(path)), words, remedy=remedy)]) from error


def read_job(path: Path, disk: Disk) -> JobFolder:
    """The job in a folder, from the head of its record. Raises InputRefused."""
    record = path / RECORD
    try:
        if not disk.stamp(record).is_file:
            raise InputRefused(f"{visible(str(record))} is not a file")
        head = disk.read(record, HEAD_BYTES)
    except OSError as error:
        raise _no_record(path, error) from error
    try:
        header = codec.decode_header(codec.header_block(head))
    except ValueError as error:
        remedy = "put back an unchanged copy of the record, or move this folder away"
        if isinstance(error, codec.NewerFormat):
            remedy = error.remedy
        problem = Problem(visible(str(record)), str(error), "header", remedy=remedy)
        raise InputRefused([problem]) from None
    return JobFolder(path, header, is_signed(path, disk))


def _no_record(path: Path, error: OSError) -> InputRefused:
    if error.errno in (errno.ENOENT, errno.ENOTDIR):
        return InputRefused(f"{visible(str(path))} is not a job: it holds no {RECORD}")
    return InputRefused(f"{visible(str(path / RECORD))} can't be read: {error.strerror or error}")


def is_signed(path: Path, disk: Disk) -> bool:
    """Whether a job's report carries a sign-off: nothing is added to its record after that."""
    try:
        return _SIGNOFF.search(disk.read(path / REPORT)) is not None
    except OSError:
        return False


def leftovers(parent: Path, disk: Disk) -> list[Path]:
    """What an interruption left in a folder: unfinished job folders and temporary files.

    Nothing that was confirmed is in them; they may be removed.
    """
    return [
        parent / name
        for name in _names(disk, parent)
        if name.startswith(_BEING_MADE) or is_temporary(name)
    ]


def resolve(target: Path, disk: Disk) -> Target:
    """Tell a site, a job and a report apart by the kind that the file states.

    A job may be named by its folder or by the record in it. Raises InputRefused.
    """
    shown = visible(str(target))
    try:
        stamp = disk.stamp(target)
        if not stamp.is_file:
            if not target.is_dir():
                raise InputRefused(f"{shown} is not a file")
            return Target("job", read_job(target, disk).path)
        head = disk.read(target, HEAD_BYTES)
    except OSError as error:
        reason = "is not there" if error.errno == errno.ENOENT else f"can't be read ({error})"
        raise InputRefused(f"{shown} {reason}") from error
    kind = stated_kind(head)
    if kind not in _TARGETS:
        if not kind:
            _refuse_what_is_no_toml(head, shown)
        said = f"its kind is {visible(kind)!r}" if kind else "it states no kind"
        raise InputRefused(f"{shown} is neither a site, a job nor a report: {said}")
    is_job = _TARGETS[kind] == "job"
    return Target(_TARGETS[kind], target.absolute().parent if is_job else target)


def _refuse_what_is_no_toml(head: bytes, shown: str) -> None:
    """Say what is wrong with a file that states no kind: it may not be text at all."""
    if len(head) < HEAD_BYTES:  # all of it was read
        parse_toml(head, shown)
    elif b"\0" in head:
        raise InputRefused(f"{shown} is not text")


def names_beside(site_path: Path, disk: Disk) -> list[str]:
    """The names in the folder of a site file; raises InputRefused when it cannot be read."""
    return _names(disk, site_path.absolute().parent)


def _names(disk: Disk, parent: Path) -> list[str]:
    try:
        return disk.names(parent)
    except OSError as error:
        raise InputRefused(f"{visible(str(parent))} can't be read: {error.strerror}") from error


def _by_number(name: str) -> tuple[str, int]:
    """Sorts `-2` before `-10`."""
    stem, _, number = name.rpartition("-")
    return stem, int(number)
