"""`commission check`: every problem of site files, checklists, jobs and reports."""

from __future__ import annotations

import argparse
import re
from collections.abc import Iterator
from pathlib import Path

from commission.commands.say import say
from commission.host import Disk
from commission.problems import EXIT_DONE, EXIT_FINDINGS, InputRefused, Problem
from commission.text import visible

_KIND = re.compile(rb'^\s*kind\s*=\s*["\']([^"\']{1,40})["\']', re.MULTILINE)
_HEAD_BYTES = 4_096


def run(options: argparse.Namespace) -> int:
    """Print the problems of each file, one line each, and how many there are."""
    disk = Disk()
    count = 0
    for name in options.files:
        found = list(problems_of(Path(name), disk))
        for problem in found:
            say(str(problem))
        if not found:
            say(f"{name}: nothing found")
        count += len(found)
    if count:
        say(f"{count} problem{'s' if count != 1 else ''}")
    return EXIT_FINDINGS if count else EXIT_DONE


def problems_of(path: Path, disk: Disk) -> Iterator[Problem]:
    """Every problem of a file or of a job's folder; reads only, and never raises for them."""
    name = visible(str(path))
    try:
        if path.is_dir():
            yield from _job_problems(path, disk)
            return
        content = disk.read(path)
    except OSError as error:
        yield Problem(name, f"can't be read: {error.strerror or error}")
        return
    try:
        yield from _file_problems(path, content, disk)
    except InputRefused as refused:
        yield from refused.problems or [Problem(name, str(refused))]


def _file_problems(path: Path, content: bytes, disk: Disk) -> Iterator[Problem]:
    stated = _KIND.search(content[:_HEAD_BYTES])
    kind = stated[1].decode("utf-8", "replace") if stated else ""
    name = visible(str(path))
    if kind == "commission site":
        from commission.site.load import parse_site

        parse_site(content, name)
    elif kind == "commission checklist":
        from commission.checklist.load import parse_checklist

        parse_checklist(content, name)
    elif kind == "commission report":
        from commission.report.reading import report_problems

        yield from report_problems(content, name)
    elif kind == "commission record":
        yield from _job_problems(path.absolute().parent, disk)
    else:
        said = f"its kind is '{visible(kind)}'" if kind else "it states no kind"
        yield Problem(name, f"{said}; a site, checklist, record or report is checked", "kind")


def _job_problems(folder: Path, disk: Disk) -> Iterator[Problem]:
    """A job's record with its chain, its copies by digest, its evidence, and its report."""
    from commission.record.chain import verify
    from commission.record.folder import CHECKLIST, REPORT, SITE
    from commission.record.journal import RECORD

    name = visible(str(folder / RECORD))
    try:
        data = disk.read(folder / RECORD)
        record = verify(data, name)
    except OSError as error:
        yield Problem(name, f"can't be read: {error.strerror or error}")
        return
    except InputRefused as refused:
        yield from refused.problems or [Problem(name, str(refused))]
        return
    if record.size != len(data):
        yield Problem(
            name, f"its last {len(data) - record.size} bytes are an unfinished entry",
            remedy="opening the job sets them aside; nothing confirmed is lost",
        )  # fmt: skip
    pairs = ((SITE, record.header.site_sha256), (CHECKLIST, record.header.checklist_sha256))
    for copy, sha256 in pairs:
        yield from _digest_problems(folder / copy, sha256, disk)
        if (folder / copy).is_file():
            yield from problems_of(folder / copy, disk)
    for entry in record.entries:
        if entry.type == "attachment":
            yield from _digest_problems(folder / entry.file, entry.file_sha256, disk)
    if (folder / REPORT).exists():
        yield from problems_of(folder / REPORT, disk)


def _digest_problems(path: Path, sha256: str, disk: Disk) -> Iterator[Problem]:
    import hashlib

    name = visible(str(path))
    try:
        content = disk.read(path)
    except OSError as error:
        yield Problem(name, f"can't be read: {error.strerror or error}")
        return
    if hashlib.sha256(content).hexdigest() != sha256:
        yield Problem(
            name, "it was changed: its digest is not the one in the record",
            remedy="put the unchanged file back",
        )  # fmt: skip
