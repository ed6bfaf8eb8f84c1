"""`commission review`: reports recomputed from their own bytes.

One is shown on a full screen, or in words where there is no terminal; many in a table, or from the
start screen as a list to look into.
"""

from __future__ import annotations

import argparse
import os
import re
import sys
from collections.abc import Iterator
from dataclasses import replace
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING

from commission.commands.say import complain, say
from commission.problems import (
    EXIT_DONE,
    EXIT_FINDINGS,
    EXIT_REFUSED,
    CommissionError,
    InputRefused,
)
from commission.text import visible

if TYPE_CHECKING:
    from commission.host import Disk
    from commission.report.review import InFull, Review
    from commission.user.seen_reports import SeenReport
    from commission.user.signers import KnownSigners

_KIND = re.compile(rb'^kind = "commission report"', re.MULTILINE)
_HEAD_BYTES = 4_096
_DIGEST = re.compile(r"[0-9a-f]{64}")


def run(options: argparse.Namespace) -> int:
    """Review the reports that are named, or all within a folder, and print what was found.

    A report that is not there is refused; the others are reviewed all the same.
    """
    from commission.host import Disk

    disk = Disk()
    if options.from_start and _is_folder(options.reports[0]):
        return _folder_on_screen(disk, Path(options.reports[0]))
    digest = _digest(options.digest)
    paths, refused = _named(options.reports, disk)
    if digest and len(paths) != 1:
        raise InputRefused("--digest is for one report")
    desk = Desk(disk, options.tsa_ca)
    if _is_for_the_screen(options):
        return _on_screen(desk, *paths[0], digest)
    reviews = []
    for path, shown in paths:
        try:
            reviews.append(desk.reviewed(path, shown, digest))
        except InputRefused as error:
            complain(str(error))
            refused += 1
    desk.remember()
    _print(options, reviews, alone=len(paths) == 1)
    if refused:
        return EXIT_REFUSED
    return EXIT_FINDINGS if any(one.findings for one in reviews) else EXIT_DONE


def _print(options: argparse.Namespace, reviews: list[Review], *, alone: bool) -> None:
    """Reviews for programs, or for people: one in words when it is `alone`, several in a table."""
    from commission.commands import review_shown

    if options.json:
        say(review_shown.json_text(reviews))
    elif options.csv:
        say(review_shown.csv_text(reviews))
    elif reviews and alone:
        say(review_shown.words(reviews[0]))
    elif reviews:
        say(review_shown.lines(reviews))


def _is_for_the_screen(options: argparse.Namespace) -> bool:
    """Whether one report is asked for by somebody who sits at a terminal."""
    from commission.commands.open import has_terminal

    if options.json or options.csv or len(options.reports) != 1 or _is_folder(options.reports[0]):
        return False
    return sys.stdout.isatty() and has_terminal()


def _on_screen(desk: Desk, path: Path, shown: str, digest: str) -> int:
    """One report on a full screen. Raises InputRefused before it for what cannot be read."""
    found = desk.in_full(path, shown, digest)
    desk.remember()
    from commission.tui.review_app import ReviewApp, show

    return show(ReviewApp(found)) or (EXIT_FINDINGS if found.review.findings else EXIT_DONE)


def _folder_on_screen(disk: Disk, folder: Path) -> int:
    """A folder's reports as a list to look into. Raises InputRefused where it holds none."""
    from commission.commands.review_shown import remarks
    from commission.tui.review_app import ReviewsApp, show
    from commission.tui.screens.reviews import Listed

    desk, listed = Desk(disk, None), []
    for path in _within(folder, disk):
        name = visible(str(path.relative_to(folder)))
        whole = partial(desk.in_full, path, name, "")
        listed.append(Listed(name, partial(desk.reviewed, path, name, ""), whole))
    if not listed:
        raise InputRefused(f"{visible(str(folder))} holds no report")
    code = show(ReviewsApp(visible(str(folder)), listed, remarks))
    desk.remember()
    return code


class Desk:
    """What a reviewer has at hand: known signers, reports seen before, an authority's file."""

    def __init__(self, disk: Disk, authority: str | None) -> None:
        from commission.session import now_local
        from commission.user.seen_reports import load_seen
        from commission.user.signers import load_signers

        self._disk = disk
        self._authority = Path(authority) if authority else None
        if self._authority is not None and not _is_file(self._authority):
            raise InputRefused(f"{visible(str(authority))} is not there, or not a file")
        self._known: KnownSigners = load_signers()
        self._seen: dict[str, SeenReport] = load_seen()
        self._as_loaded = dict(self._seen)
        self._now = now_local()

    def reviewed(self, path: Path, shown: str, digest: str) -> Review:
        """The review of one file with all that is beside it. Raises InputRefused."""
        from commission.asked import read_file
        from commission.report.review import review

        content = read_file(self._disk, path)
        return self._with_beside(review(content, shown, self._known), content, path, digest)

    def in_full(self, path: Path, shown: str, digest: str) -> InFull:
        """The same with every step of the report. Raises InputRefused."""
        from commission.asked import read_file
        from commission.report.review import review_in_full

        content = read_file(self._disk, path)
        found = review_in_full(content, shown, self._known)
        return replace(found, review=self._with_beside(found.review, content, path, digest))

    def _with_beside(self, found: Review, content: bytes, path: Path, digest: str) -> Review:
        from commission.report import beside
        from commission.report.timestamp import timestamp_beside

        seen = self._seen.get(found.report)
        for added in (
            beside.seen_before(found, content, seen),
            beside.digest_asked(found, digest, seen),
            beside.evidence_beside(found, path, self._disk),
            timestamp_beside(found, content, path, self._authority),
        ):
            found = added.to(found)
        self._see(found, content)
        return found

    def _see(self, found: Review, content: bytes) -> None:
        """Take a report into the register once its signatures hold and nothing was altered."""
        from commission.user.seen_reports import SeenVersion, with_seen

        if found.state in ("altered", "not readable") or not found.report or not found.versions:
            return
        if found.versions[-1].sha256 != found.sha256:
            return  # line ends were changed: not the file that was signed
        versions = [SeenVersion(one.signoffs, one.bytes, one.sha256) for one in found.versions]
        self._seen = with_seen(self._seen, found.report, versions, content, self._now)

    def remember(self) -> None:
        """Write the register; a disk that refuses takes nothing from the review."""
        from commission.user.seen_reports import keep_seen

        if self._seen == self._as_loaded:
            return
        try:
            keep_seen(self._seen)
        except CommissionError as error:
            complain(f"what was reviewed could not be remembered: {error}")


def _digest(text: str | None) -> str:
    """A SHA-256 as typed; blanks within it are left out. Raises InputRefused."""
    if text is None:
        return ""
    digest = re.sub(r"\s", "", text).lower()
    if not _DIGEST.fullmatch(digest):
        raise InputRefused("a SHA-256 has 64 digits of 0-9 and a-f")
    return digest


def _is_file(path: Path) -> bool:
    try:
        return path.is_file()
    except (OSError, ValueError):
        return False


# Which reports are meant


def _named(names: list[str], disk: Disk) -> tuple[list[tuple[Path, str]], int]:
    """Every report named or within a folder named, each with its name to show; how many refused."""
    found: dict[Path, str] = {}
    refused = 0
    for name in names:
        path = Path(name)
        if not _is_folder(path):
            found.setdefault(path, visible(name))
            continue
        within = list(_within(path, disk))
        if not within:
            complain(f"{visible(name)} holds no report")
            refused += 1
        for one in within:
            found.setdefault(one, visible(str(one)))
    return list(found.items()), refused


def _is_folder(path: Path | str) -> bool:
    try:
        return Path(path).is_dir()
    except (OSError, ValueError):
        return False


def _within(folder: Path, disk: Disk) -> Iterator[Path]:
    """Reports within a folder, sorted; links are followed to files inside it only."""
    root = folder.resolve()
    for place, folders, files in os.walk(folder, followlinks=False):
        folders.sort()
        for name in sorted(files):
            path = Path(place, name)
            if name.endswith(".toml") and _is_inside(path, root) and _is_report(path, disk):
                yield path


def _is_inside(path: Path, root: Path) -> bool:
    try:
        return path.resolve().is_relative_to(root) and path.is_file()
    except (OSError, RuntimeError, ValueError):
        return False


def _is_report(path: Path, disk: Disk) -> bool:
    """Whether a file is called one or says that it is one; a job's copy of another is none."""
    from commission.record.folder import EARLIER, REPORT
    from commission.record.journal import RECORD

    if path.name == EARLIER and path.with_name(RECORD).is_file():
        return False
    if path.name == REPORT:
        return True
    try:
        head = disk.read(path, _HEAD_BYTES)
    except OSError:
        return False
    return _KIND.search(head.replace(b"\r\n", b"\n")) is not None
