"""Reviews as words, as lines of a table, as JSON and as CSV."""

from __future__ import annotations

import csv
import io
import json
from collections.abc import Iterator, Sequence
from dataclasses import asdict
from itertools import groupby
from typing import Any

from commission.commands.for_programs import head
from commission.commands.say import table
from commission.report.finding import ALTERED, KINDS, NOT_READABLE, Finding
from commission.report.review import NOT_REAL, Review
from commission.report.signed_by import TRUSTED
from commission.text import counted

KIND = "commission review"
FORMAT = 1
# A spreadsheet takes a cell that begins with one of these for a formula, also in full width.
_FORMULA = ("=", "+", "-", "@", "\t", "\r", "\n", "＝", "＋", "－", "＠")
_NOT_TAKEN = (ALTERED, NOT_READABLE)
COLUMNS = (
    "name", "state", "standing", "verdict", "findings", "kinds", "practice", "site", "job_kind",
    "report", "program", "formula_set", "signed_by", "bytes", "sha256", "supersedes",
    "superseded_by",
)  # fmt: skip


def words(review: Review) -> str:
    """One review from top to bottom."""
    lines = [review.name, f"  {NOT_REAL}"] if review.practice else [review.name]
    lines += [f"  {review.state}; {review.standing}", f"  SHA-256 {review.sha256}"]
    if review.report:
        lines += [
            f"  report {review.report}, {review.job_kind}, of {review.site}",
            f"  written with version {review.program}, formula set {review.formula_set}",
            f"  verdict as signed: {review.verdict}",
        ]
    if review.follows:
        lines.append(f"  it follows the report with SHA-256 {review.follows}")
    if review.signoffs:
        lines += ["", "Sign-offs"]
    for one in review.signoffs:
        known = f", known as {one.known_as}" if one.known_as else ""
        lines += [
            f"  {one.number} {one.signs_as}: {one.name}, {one.role}, {one.company}, licence "
            f"{one.licence}",
            f"    {one.at}, key {one.fingerprint}: {one.trust}{known}",
        ]
        if one.decision:
            lines.append(f"    {one.decision}{f': {one.reasons}' if one.reasons else ''}")
    for kind, found in groupby(review.findings, key=lambda one: one.kind):
        lines += ["", f"{kind[0].upper()}{kind[1:]}: {KINDS[kind]}"]
        lines += _told(list(found))
    lines += ["", *review.notes] if review.notes else []
    return "\n".join([*lines, "", how_many(review.findings)])


def _told(findings: Sequence[Finding]) -> Iterator[str]:
    """Findings of one kind; a remedy for several that follow each other stands once, below."""
    for number, finding in enumerate(findings, start=1):
        problem = finding.problem
        place = f"line {problem.line}" if problem.line else problem.key
        yield f"  {place}: {problem.message}" if place else f"  {problem.message}"
        following = findings[number].problem.remedy if number < len(findings) else ""
        if problem.remedy and problem.remedy != following:
            yield f"    -> {problem.remedy}"


def how_many(findings: Sequence[Finding]) -> str:
    """How many findings there are, in words."""
    return counted(len(findings), "finding") if findings else "nothing found"


def lines(reviews: Sequence[Review]) -> str:
    """One line for each report."""
    later = Succession(reviews)
    rows = [("state", "verdict", "standing", "findings", "site", "report", "remarks")]
    for one in reviews:
        rows.append(
            (
                f"PRACTICE, {one.state}" if one.practice else one.state,
                one.verdict,
                one.standing,
                str(len(one.findings)),
                one.site,
                one.name,
                "; ".join(_remarks(one, later)),
            )
        )
    return table(rows, right=(3,))


def _remarks(review: Review, later: Succession) -> list[str]:
    said = []
    for one in later.after(review):
        trust = "" if one.standing.startswith(TRUSTED) else f" ({one.standing})"
        said.append(f"superseded by {one.name}{trust}")
    said += [f"supersedes {one.name}" for one in later.before(review)]
    if not review.report and review.findings:
        said.append(review.findings[0].problem.message)
    return said


def remarks(reviews: Sequence[Review]) -> list[str]:
    """What is said beside each of several reports, "" for nothing."""
    later = Succession(reviews)
    return ["; ".join(_remarks(one, later)) for one in reviews]


class Succession:
    """Which of several reports follows which, by the digests that they name.

    The digest that a later report names may be that of an earlier version of a file, which was
    countersigned after that. A report that was altered follows nothing.
    """

    def __init__(self, reviews: Sequence[Review]) -> None:
        self._of_digest: dict[str, Review] = {}
        for one in reviews:
            for digest in (*(version.sha256 for version in one.versions), one.sha256):
                self._of_digest[digest] = one
        self._after: dict[str, list[Review]] = {}
        self._before: dict[str, list[Review]] = {}
        for late in reviews:
            early = self._of_digest.get(late.follows)
            if early is not None and early is not late and late.state not in _NOT_TAKEN:
                self._after.setdefault(early.sha256, []).append(late)
                self._before.setdefault(late.sha256, []).append(early)

    def after(self, review: Review) -> Sequence[Review]:
        """The reports that supersede one."""
        return self._after.get(review.sha256, ())

    def before(self, review: Review) -> Sequence[Review]:
        """The reports that one supersedes."""
        return self._before.get(review.sha256, ())


def json_text(reviews: Sequence[Review]) -> str:
    """One JSON document; what cannot be printed in it is escaped."""
    later = Succession(reviews)
    document = {
        **head(KIND, FORMAT),
        "reports": [as_table(one, later) for one in reviews],
    }
    return json.dumps(document, indent=2, ensure_ascii=True, allow_nan=False)


def as_table(review: Review, later: Succession) -> dict[str, Any]:
    """A review as plain tables."""
    found = asdict(review)
    found["findings"] = [
        {
            "kind": one.kind,
            "place": one.problem.key,
            "line": one.problem.line,
            "words": one.problem.message,
            "remedy": one.problem.remedy,
        }
        for one in review.findings
    ]
    found["superseded_by"] = [one.sha256 for one in later.after(review)]
    return found


def csv_text(reviews: Sequence[Review]) -> str:
    """One row for each report, every cell in quotes, none that a spreadsheet computes."""
    later = Succession(reviews)
    text = io.StringIO()
    writer = csv.writer(text, quoting=csv.QUOTE_ALL, lineterminator="\n")
    writer.writerow(COLUMNS)
    for one in reviews:
        row = {
            **{key: getattr(one, key, "") for key in COLUMNS},
            "practice": "yes" if one.practice else "no",
            "formula_set": one.formula_set or "",
            "findings": len(one.findings),
            "kinds": ", ".join(dict.fromkeys(finding.kind for finding in one.findings)),
            "signed_by": ", ".join(
                f"{by.name} ({by.signs_as}, {by.fingerprint}, {by.trust})" for by in one.signoffs
            ),
            "supersedes": ", ".join(early.name for early in later.before(one)),
            "superseded_by": ", ".join(late.name for late in later.after(one)),
        }
        writer.writerow([defused(str(row[column])) for column in COLUMNS])
    return text.getvalue().rstrip("\n")


def defused(cell: str) -> str:
    """A cell that no spreadsheet takes for a formula: an apostrophe before what would begin one."""
    return f"'{cell}" if cell.startswith(_FORMULA) or cell.lstrip().startswith(_FORMULA) else cell
