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
from commission.toml_place import HEAD_BYTES, stated_kind

if TYPE_CHECKING:
    from commission.host import Disk
    from commission.report.review import Review
    from commission.reviewing import Desk

_DIGEST = re.compile(r"[0-9a-f]{64}")


def run(options: argparse.Namespace) -> int:
    """Review the reports that are named, or all within a folder, and print what was found.

    A report that is not there is refused; the others are reviewed all the same.
    """
    from commission.host import Disk
    from commission.reviewing import Desk

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
    _remember(desk)
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
    return bool(sys.stdout and sys.stdout.isatty()) and has_terminal()


def _on_screen(desk: Desk, path: Path, shown: str, digest: str) -> int:
    """One report on a full screen. Raises InputRefused before it for what cannot be read."""
    found = desk.in_full(path, shown, digest)
    _remember(desk)
    from commission.tui.review_app import ReviewApp, show

    return show(ReviewApp(found)) or (EXIT_FINDINGS if found.review.findings else EXIT_DONE)


def _folder_on_screen(disk: Disk, folder: Path) -> int:
    """A folder's reports as a list to look into. Raises InputRefused where it holds none."""
    from commission.commands.review_shown import remarks
    from commission.reviewing import Desk
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
    _remember(desk)
    return code


def _remember(desk: Desk) -> None:
    """Keep what was seen; a disk that refuses takes nothing from the review."""
    try:
        desk.remember()
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
        head = disk.read(path, HEAD_BYTES)
    except OSError:
        return False
    return stated_kind(head) == "commission report"
