"""What a review adds from outside a report's bytes: its evidence files, and what was seen before.

Evidence is read through the report's own table only, from the folder that the report lies in, and
never from outside it.
"""

from __future__ import annotations

import hashlib
import re
from collections.abc import Iterable
from dataclasses import dataclass, replace
from pathlib import Path

from commission.host import Disk
from commission.problems import Problem
from commission.record import codec
from commission.record.evidence import EVIDENCE as FOLDER
from commission.record.evidence import MAX_EVIDENCE_BYTES
from commission.record.journal import RECORD
from commission.report.finding import (
    ALTERED,
    ANOTHER_SEEN,
    CUT,
    EVIDENCE,
    LINE_ENDS,
    NOT_READABLE,
    OTHER_DIGEST,
    SIGNATURE,
    Finding,
    in_order,
)
from commission.report.reading import as_written
from commission.report.review import EvidenceFile, Review
from commission.user.seen_reports import SeenReport

_NAME = re.compile(rf"{FOLDER}/[A-Za-z0-9_-][A-Za-z0-9._-]{{0,200}}")


@dataclass(frozen=True, slots=True)
class Added:
    """Further findings and notes of a review."""

    findings: tuple[Finding, ...] = ()
    notes: tuple[str, ...] = ()

    def to(self, review: Review) -> Review:
        """The review with these, each finding at the place of its kind."""
        findings = in_order((*review.findings, *self.findings))
        return replace(review, findings=findings, notes=(*review.notes, *self.notes))


def seen_before(review: Review, content: bytes, seen: SeenReport | None) -> Added:
    """Whether a report is a cut version of a longer one seen before, or another one.

    Of one whose line ends were changed on the way that is told of it as it was.
    """
    if seen is None or not review.report or review.state == NOT_READABLE:
        return Added()
    longest, when = seen.longest, f"{seen.seen_at:%Y-%m-%d %H:%M}"
    signed = _sign_offs(longest.signoffs)
    plain = as_written(content, review.name)[0]
    if seen.goes_on_in(plain):
        if len(plain) == longest.bytes:
            return Added()
        return Added(notes=(f"it goes on from the version with {signed} seen here {when}",))
    if review.of(SIGNATURE) and review.state == ALTERED:
        return Added()  # that it was changed after it was signed is told, and says more
    earlier = seen.is_earlier(hashlib.sha256(plain).hexdigest())
    if earlier is not None:
        words = (
            f"cut: a longer version with {signed}, {longest.bytes} bytes, SHA-256 "
            f"{longest.sha256}, was seen here {when}; this one ends after "
            f"{_sign_offs(earlier.signoffs)}"
        )
        remedy = "ask why the later sign-offs are missing, and rely on the longer one"
        return Added((Finding(CUT, Problem(review.name, words, "signoff", remedy=remedy)),))
    words = (
        f"another file with this id, SHA-256 {longest.sha256}, was seen here {when}: one of both "
        "is not what was signed first"
    )
    remedy = "ask the signer for the SHA-256 on the owner's sheet"
    return Added((Finding(ANOTHER_SEEN, Problem(review.name, words, "report", remedy=remedy)),))


def digest_asked(review: Review, digest: str, seen: SeenReport | None) -> Added:
    """Whether a file is the one with a SHA-256 that stands elsewhere, or longer, or shorter."""
    if not digest:
        return Added()
    if digest == review.sha256:
        return Added(notes=("it is the file with the SHA-256 asked for",))
    shorter = next((one for one in review.versions if one.sha256 == digest), None)
    longer = next((one for one in (seen.version if seen else ()) if one.sha256 == digest), None)
    if shorter is not None and shorter is review.versions[-1] and review.of(LINE_ENDS):
        words = "it is the file with that SHA-256 but for its line ends, which were changed"
        remedy = "ask for it as an archive, which nothing changes"
    elif shorter is not None:
        words = (
            f"it is longer than the file with that SHA-256, which ends after "
            f"{_sign_offs(shorter.signoffs)}; this one has {_sign_offs(len(review.signoffs))}"
        )
        remedy = "what was added since is signed too: read it, and ask for its SHA-256"
    elif longer is not None and seen is not None and _is_cut(review, seen):
        words = (
            f"it is shorter than the file with that SHA-256, seen here before, which has "
            f"{_sign_offs(longer.signoffs)}"
        )
        remedy = "rely on the longer one, and ask why this one was cut"
    else:
        words = (
            "it is not the file with that SHA-256, and no earlier version of it: it was changed, "
            "it was cut after a sign-off, or it is another report"
        )
        remedy = "get the file that was handed over from who signed it"
    return Added((Finding(OTHER_DIGEST, Problem(review.name, words, remedy=remedy)),))


def _is_cut(review: Review, seen: SeenReport) -> bool:
    return bool(review.versions) and seen.is_earlier(review.versions[-1].sha256) is not None


def _sign_offs(number: int) -> str:
    return "one sign-off" if number == 1 else f"{number} sign-offs"


def evidence_beside(review: Review, path: Path, disk: Disk) -> Added:
    """Photos and documents of the job in whose folder a report lies, by their digests.

    A countersigned report lies in the inspection's folder, beside the inspection's photos; those of
    the installer are in the installer's folder then, and the other way round.
    """
    if not review.evidence:
        return Added()
    folder = path.absolute().parent
    job = _job_of(folder, review, disk)
    mine = [one for one in review.evidence if one.job == job]
    others = len(set(review.evidence) - set(mine))
    findings = tuple(_evidence_findings(review.name, mine, folder, disk))
    notes = []
    if mine and not findings:
        notes.append(f"photos and documents beside it: {len(set(mine))}, unchanged")
    if not mine:
        notes.append("its photos and documents are not beside it, and were not checked")
    elif others:
        notes.append(f"photos and documents of another job: {others}, not beside it, not checked")
    return Added(findings, tuple(notes))


def _job_of(folder: Path, review: Review, disk: Disk) -> str:
    """The job whose folder it is, as far as it is one of this report; "" for none.

    By its record; the installer's where there is none, or one that can't be read.
    """
    try:
        if not (folder / RECORD).is_file():
            return review.report if (folder / FOLDER).is_dir() else ""
        header = codec.decode_header(codec.header_block(disk.read(folder / RECORD)))
    except (OSError, ValueError):
        return review.report
    is_of_another = header.follows_report and header.job != review.report
    return header.job if is_of_another else review.report


def _evidence_findings(
    name: str, files: Iterable[EvidenceFile], folder: Path, disk: Disk
) -> Iterable[Finding]:
    for file, sha256 in dict.fromkeys((one.file, one.sha256) for one in files):
        words = _evidence_words(folder, file, sha256, disk)
        if words:
            remedy = "put the unchanged file back, or ask the signer for it"
            yield Finding(EVIDENCE, Problem(name, f"{file}: {words}", "evidence", None, remedy))


def _evidence_words(folder: Path, file: str, sha256: str, disk: Disk) -> str:
    """What is wrong with one file; "" when it is the one that the report names."""
    if not _NAME.fullmatch(file):
        return "this is no name of a file of evidence; nothing was read"
    target = folder / file
    try:
        if not target.resolve().is_relative_to(folder.resolve() / FOLDER):
            return "it leads out of the job's folder; nothing was read"
        if not disk.stamp(target).is_file:
            return "it is not a file"
        content = disk.read(target, MAX_EVIDENCE_BYTES + 1)
    except FileNotFoundError:
        return "it is missing"
    except (OSError, RuntimeError) as error:  # RuntimeError: links that lead in a circle
        return f"it can't be read: {getattr(error, 'strerror', None) or error}"
    if hashlib.sha256(content).hexdigest() != sha256:
        return "it was changed: its digest is not the one in the report"
    return ""
