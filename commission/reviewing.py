"""A report reviewed with what lies beside it and what was seen of it before."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

from commission.problems import CommissionError, InputRefused
from commission.text import visible

if TYPE_CHECKING:
    from commission.host import Disk
    from commission.report.examined import Examined
    from commission.report.review import InFull, Review
    from commission.user.seen_reports import SeenReport
    from commission.user.signers import KnownSigners


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
        return self.and_examined(path, shown, digest)[0]

    def and_examined(self, path: Path, shown: str, digest: str) -> tuple[Review, Examined]:
        """The same with what it was made from, the file read once. Raises InputRefused."""
        from commission.asked import read_file
        from commission.report.review import review_and_examined

        content = read_file(self._disk, path)
        found, seen = review_and_examined(content, shown, self._known)
        return self._with_beside(found, content, path, digest), seen

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
        """Write the register. Raises CommissionError where the disk refuses."""
        from commission.user.seen_reports import keep_seen

        if self._seen != self._as_loaded:
            keep_seen(self._seen)


def remember_signed(path: Path, disk: Disk) -> str:
    """Take a report that was signed here into the register; "" or, in words, why it is not there.

    What is not kept now is kept when the report is reviewed.
    """
    try:
        desk = Desk(disk, None)
        desk.reviewed(path, visible(str(path)), "")
        desk.remember()
    except CommissionError as error:
        return f"Not taken into the register of reports seen: {visible(str(error), 200)}"
    return ""


def _is_file(path: Path) -> bool:
    try:
        return path.is_file()
    except (OSError, ValueError):
        return False
