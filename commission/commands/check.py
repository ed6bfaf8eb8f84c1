"""`commission check`: every problem of site files, checklists, jobs and reports."""

from __future__ import annotations

import argparse
import contextlib
from collections.abc import Iterator
from pathlib import Path
from typing import TYPE_CHECKING

from commission.asked import read_file
from commission.commands.say import complain, long_look, say
from commission.host import Disk
from commission.problems import (
    EXIT_DONE,
    EXIT_FINDINGS,
    EXIT_REFUSED,
    CommissionError,
    InputRefused,
    Problem,
)
from commission.text import visible
from commission.toml_place import parse_toml, stated_kind

if TYPE_CHECKING:
    from commission.record.chain import Verified
    from commission.record.entry import Header
    from commission.site.schema import Site


def run(options: argparse.Namespace) -> int:
    """Print the problems of each file, one line each, and how many there are.

    A file that is not there, or cannot be read, is refused; the others are checked all the same.
    """
    disk = Disk()
    count, refused = 0, 0
    for name in options.files:
        try:
            with long_look(name):
                found = problems_of(Path(name), disk)
        except CommissionError as error:
            complain(str(error))
            refused += 1
            continue
        for problem in found:
            say(str(problem))
        if not found:
            say(f"{name}: no problems")
        count += len(found)
    if count:
        say(f"{count} problem{'s' if count != 1 else ''}")
    if refused:
        return EXIT_REFUSED
    return EXIT_FINDINGS if count else EXIT_DONE


def problems_of(path: Path, disk: Disk) -> list[Problem]:
    """Every problem of a file or of a job's folder; reads only.

    Raises InputRefused when there is nothing to read, or no record in a folder.
    """
    if _is_folder(path):
        return list(_job_problems(path, disk))
    content = read_file(disk, path)
    try:
        return list(_file_problems(path, content, disk))
    except InputRefused as refused:
        return list(refused.problems) or [Problem(visible(str(path)), str(refused))]


def _is_missing(path: Path) -> bool:
    """Whether it is sure that there is nothing; where its folder is closed, reading tells why."""
    try:
        return not path.exists()
    except OSError:
        return False


def _is_folder(path: Path) -> bool:
    try:
        return path.is_dir()
    except (OSError, ValueError):  # a name that no file can have
        return False


def _file_problems(path: Path, content: bytes, disk: Disk) -> Iterator[Problem]:
    kind = stated_kind(content)
    name = visible(str(path))
    if kind == "commission site":
        from commission.site.load import parse_site

        yield from _collapse_problems(parse_site(content, name), name)
    elif kind == "commission checklist":
        from commission.checklist.load import parse_checklist

        parse_checklist(content, name)
    elif kind == "commission report":
        from commission.report.examined import report_problems

        yield from report_problems(content, name)
    elif kind == "commission record":
        yield from _job_problems(path.absolute().parent, disk)
    else:
        parse_toml(content, name)
        said = f"its kind is '{visible(kind)}'" if kind else "it states no kind"
        yield Problem(name, f"{said}; a site, checklist, record or report is checked", "kind")


def _collapse_problems(site: Site, name: str) -> Iterator[Problem]:
    """Outputs whose standby is more than their cable can carry; runs of constant power as well."""
    from commission.electrical.network import COLLAPSE_REMEDY, CollapseError
    from commission.expected.model import working_case
    from commission.expected.sheet import Sheet

    sheet = Sheet(site)
    for number, output in enumerate(site.output, start=1):
        try:
            model = working_case(sheet.drawing, output.id)
            model.refuse_collapse()
            if any(model.network.standby_w):
                model.worst_set()
        except CollapseError as error:
            yield Problem(name, str(error), f"output.{number}", remedy=COLLAPSE_REMEDY)


def _job_problems(folder: Path, disk: Disk) -> Iterator[Problem]:
    """A job's record with its chain, its copies by digest, its evidence, and its report."""
    from commission.record.chain import verify
    from commission.record.folder import CHECKLIST, SITE
    from commission.record.journal import RECORD

    name = visible(str(folder / RECORD))
    if _is_missing(folder / RECORD):
        raise InputRefused(f"{visible(str(folder))} is not a job: it holds no {RECORD}")
    data = read_file(disk, folder / RECORD)
    try:
        record = verify(data, name)
    except InputRefused as refused:
        yield from refused.problems or [Problem(name, str(refused))]
        return
    if record.size != len(data):
        yield Problem(
            name, f"its last {len(data) - record.size} bytes are an unfinished entry",
            remedy="opening the job sets them aside; nothing confirmed is lost",
        )  # fmt: skip
    yield from copy_problems(folder, record.header, disk)
    for copy in (SITE, CHECKLIST):
        with contextlib.suppress(InputRefused):  # what can't be read was just told
            yield from problems_of(folder / copy, disk)
    for entry in record.entries:
        if entry.type == "attachment":
            yield from _digest_problems(folder / entry.file, entry.file_sha256, disk)
    yield from signed_problems(folder, record, disk)


def copy_problems(folder: Path, header: Header, disk: Disk) -> Iterator[Problem]:
    """What is wrong with a job's own copies of site, checklist and report, by their digests."""
    from commission.record.folder import CHECKLIST, EARLIER, SITE

    yield from _digest_problems(folder / SITE, header.site_sha256, disk)
    yield from _digest_problems(folder / CHECKLIST, header.checklist_sha256, disk)
    if header.follows_report:
        yield from _digest_problems(folder / EARLIER, header.follows_report, disk)


def signed_problems(folder: Path, record: Verified, disk: Disk) -> list[Problem]:
    """What is wrong with a job's report, by itself and as the report of this record."""
    from commission.record.folder import REPORT

    path = folder / REPORT
    if _is_missing(path):
        return []
    from commission.report.examined import report_problems
    from commission.report.reading import record_problems

    name, content = visible(str(path)), read_file(disk, path)
    return report_problems(content, name) or record_problems(content, name, record)


def _digest_problems(path: Path, sha256: str, disk: Disk) -> Iterator[Problem]:
    import hashlib

    name = visible(str(path))
    try:
        content = read_file(disk, path)
    except InputRefused as refused:
        yield Problem(name, str(refused).removeprefix(f"{name} "))
        return
    if hashlib.sha256(content).hexdigest() != sha256:
        yield Problem(
            name, "it was changed: its digest is not the one in the record",
            remedy="put the unchanged file back",
        )  # fmt: skip
