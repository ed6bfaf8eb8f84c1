"""What was added to a report after its first sign-off, made again from itself and compared.

Each piece is an inspection with its sign-off, or the owner's receipt. That its signature holds is
told elsewhere; here is told whether it says what its own record and the report above it give.
"""

from __future__ import annotations

import hashlib
import tomllib
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field, replace
from functools import partial
from typing import Any

from commission.electrical.sources import FORMULA_SET
from commission.job import Job
from commission.problems import Problem
from commission.redrawn import as_found_text
from commission.report.again import compared, first_difference, job_of
from commission.report.finding import ALTERED, ANOTHER_VERSION, FILES, NEWER, RECORD, Finding
from commission.report.history import file_problems, history_of
from commission.report.inspection import inspection_bytes
from commission.report.receipt import quotes, receipt_bytes
from commission.report.rejudged import entry_findings
from commission.report.seal import ends, uncounted
from commission.report.signoff import later_signoff_of
from commission.text import visible


@dataclass(frozen=True, slots=True)
class Piece:
    """One piece: the report before it, its tables, its sign-off, and all up to its last lines."""

    name: str
    number: int  # of its sign-off
    before: bytes
    stands: bytes  # all of the report up to the line that counts its bytes
    table: Mapping[str, Any]
    block: Mapping[str, Any]

    @property
    def place(self) -> str:
        """Where an inspection lies, in words."""
        return f"inspection of sign-off {self.number}"

    def problem(self, words: str, place: str = "") -> Problem:
        """A problem of this piece."""
        return Problem(self.name, words, place or f"signoff {self.number}")


@dataclass(slots=True)
class Pieces:
    """What was found in the pieces of a report, and the jobs of the inspections that hold."""

    findings: list[Finding] = field(default_factory=list)
    inspections: list[Job] = field(default_factory=list)


def pieces_again(
    content: bytes, report: Mapping[str, Any], earlier: Job | None, name: str, *, quick: bool
) -> Pieces:
    """The pieces of a report made again; `earlier` is the job of its first piece.

    Nothing where the signatures are not where they should be: that is told of them.
    """
    found = Pieces()
    for piece in pieces_of(content, report, name):
        if "inspection" not in piece.table:
            found.findings += _receipt_findings(piece, report)
            continue
        inspection = piece.table["inspection"][0]
        refused = list(_unusable(piece, report, inspection, earlier))
        found.findings += refused
        if refused or earlier is None:
            continue
        job = job_of(_as_report(report, inspection, earlier), name, quick=quick)
        job = replace(job, earlier_job=partial(_itself, earlier))
        found.findings += _made_again(piece, job, inspection)
        found.inspections.append(job)
    return found


def _itself(job: Job) -> Job:
    return job


def pieces_of(content: bytes, report: Mapping[str, Any], name: str) -> Iterator[Piece]:
    """The pieces after the first; none where a signature is not in its place."""
    blocks = report["signoff"]
    places = ends(content, blocks) or []
    for number in range(2, len(places) + 1):
        start, end = places[number - 2], places[number - 1]
        stands = uncounted(content, blocks[number - 1])
        try:
            table = tomllib.loads(content[start:end].decode("utf-8"))
        except (ValueError, RecursionError):
            continue  # told of its signature
        yield Piece(name, number, content[:start], stands, table, blocks[number - 1])


def _receipt_findings(piece: Piece, report: Mapping[str, Any]) -> Iterator[Finding]:
    signed = later_signoff_of(piece.block)
    if signed.signs_as != "owner" or signed.decision != "received":
        words = "altered: an inspector signs an inspection, and there is none in it"
        yield Finding(ALTERED, piece.problem(words))
        return
    if not quotes(signed.statement, piece.before):
        words = "altered: the owner's statement does not quote the SHA-256 of the report above it"
        yield Finding(ALTERED, piece.problem(words))
    again = receipt_bytes(piece.before, piece.number, report["report"], signed)
    difference = first_difference(piece.stands, again, piece.name)
    if difference is not None:
        yield Finding(ALTERED, difference)


def _as_report(
    report: Mapping[str, Any], inspection: Mapping[str, Any], earlier: Job | None
) -> dict[str, Any]:
    """What an inspection holds, where a report holds it; its site is the report's, as found."""
    site = report["files"]["site"]
    if earlier is not None and earlier.redrawn_by:
        site = as_found_text(earlier)
    files = {"site": site, "checklist": inspection["files"]["checklist"]}
    history = inspection.get("history", [])
    return {"record": inspection["record"], "history": history, "files": files}


def _unusable(
    piece: Piece,
    report: Mapping[str, Any],
    inspection: Mapping[str, Any],
    earlier: Job | None,
) -> Iterator[Finding]:
    """Why an inspection cannot be made again: its record or its checklist, or other formulas."""
    as_report, record = _as_report(report, inspection, earlier), inspection["record"]
    if wrong_words := history_of(as_report).wrong:
        yield Finding(RECORD, piece.problem(wrong_words, f"{piece.place}, history"))
    for wrong in file_problems(as_report, piece.name):
        if earlier is None and "drawing" in report and wrong.key == "files.site":
            continue  # as it was found cannot be made again here, which is told below
        yield Finding(FILES, replace(wrong, key=f"{piece.place}, {wrong.key}"))
    if record.get("follows_report") != hashlib.sha256(piece.before).hexdigest():
        words = "its record names another report than the one above it as the one it follows"
        yield Finding(RECORD, piece.problem(words, piece.place))
    if record["formula_set"] != FORMULA_SET or earlier is None:
        words = (
            f"the inspection cannot be made again here: it was written with formula set "
            f"{visible(str(record['formula_set']), 20)}, this program has {FORMULA_SET}"
        )
        yield Finding(NEWER, piece.problem(words, piece.place))


def _made_again(piece: Piece, job: Job, inspection: Mapping[str, Any]) -> Iterator[Finding]:
    """Whether an inspection is what its record and the report above it give."""
    signed = later_signoff_of(piece.block)
    if signed.signs_as != "inspector" or signed.decision not in ("countersigned", "refused"):
        words = "altered: an inspection is countersigned or refused by an inspector"
        yield Finding(ALTERED, piece.problem(words))
    if signed.decision == "refused" and not signed.reasons.strip():
        yield Finding(ALTERED, piece.problem("altered: it was refused, and no reason is told"))
    program = str(inspection["program"])
    again = inspection_bytes(piece.before, piece.number, job, signed, program)
    made = compared(piece.stands, again, program, piece.name, job)
    if made.problem is not None:
        kind = ANOTHER_VERSION if made.state == "same" else made.state
        yield Finding(kind, made.problem)
    for wrong in entry_findings(job, piece.name):
        key = f"{piece.place}, {visible(wrong.problem.key, 40)}"
        yield Finding(wrong.kind, replace(wrong.problem, key=key))
