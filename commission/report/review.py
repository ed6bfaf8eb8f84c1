"""A report reviewed: everything that its bytes tell, as plain values.

A pure function of the bytes, a name for them and the known signers: no disk, no clock, no
environment. What lies beside a file, or was seen before, is added by whoever has it.
"""

from __future__ import annotations

import hashlib
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from typing import Any

from commission.problems import Problem
from commission.report.against import (
    MAX_SHOWN,
    exception_findings,
    inspection_findings,
    number_findings,
    practice_findings,
    record_findings,
    signed_early,
)
from commission.report.examined import NOT_AS_WRITTEN, Examined, examined
from commission.report.finding import NOT_READABLE, Finding, State, in_order
from commission.report.reviewed_steps import (
    ReviewedOutput,
    ReviewedStep,
    reviewed_outputs,
    reviewed_steps,
)
from commission.report.seal import ends
from commission.report.signed_by import (
    SignedBy,
    key_findings,
    refusals,
    signoffs_of,
    standing_of,
    text_of,
)
from commission.text import visible
from commission.user.signers import KnownSigners

NOT_REAL = "PRACTICE: no report of a real site"  # stands before all that a review says of one
_MAX_FORMULA_SET = 1_000_000
_ALTERED_REMEDY = (
    "rely on nothing in it; get the file again from who signed it, and compare its SHA-256 with "
    "the one on the owner's sheet"
)
_REMEDY = {NOT_READABLE: "get the file again, or a newer version of the program"}


@dataclass(frozen=True, slots=True)
class Version:
    """A report up to the end of one of its sign-offs."""

    signoffs: int
    bytes: int
    sha256: str


@dataclass(frozen=True, slots=True)
class EvidenceFile:
    """A photo or document as a report names it: the job in whose folder it lies, and its digest."""

    job: str
    file: str  # within that folder
    sha256: str


@dataclass(frozen=True, slots=True)
class Review:
    """What a report's bytes tell. Texts are safe to show."""

    name: str
    sha256: str
    bytes: int
    state: State
    standing: str
    report: str = ""
    site: str = ""
    job_kind: str = ""
    practice: bool = False
    program: str = ""
    formula_set: int = 0  # 0 where it says none
    verdict: str = ""  # as signed
    follows: str = ""  # SHA-256 of the report that it follows
    signoffs: tuple[SignedBy, ...] = ()
    versions: tuple[Version, ...] = ()  # shortest first; the last is the whole file
    evidence: tuple[EvidenceFile, ...] = ()  # of the report, then of inspections in it
    findings: tuple[Finding, ...] = ()
    notes: tuple[str, ...] = ()  # what is worth knowing and no finding

    @property
    def problems(self) -> tuple[Problem, ...]:
        """Every finding as a problem with its place and remedy."""
        return tuple(finding.problem for finding in self.findings)

    def of(self, kind: str) -> tuple[Problem, ...]:
        """The findings of one kind."""
        return tuple(one.problem for one in self.findings if one.kind == kind)


@dataclass(frozen=True, slots=True)
class InFull:
    """A review with what a person reads beside it: exceptions as signed, every step and output."""

    review: Review
    exceptions: tuple[str, ...] = ()
    steps: tuple[ReviewedStep, ...] = ()  # none where its record or its files do not hold
    outputs: tuple[ReviewedOutput, ...] = ()  # the same


def review(content: bytes, name: str, known: KnownSigners) -> Review:
    """Review a report; whatever its bytes hold gives a `Review`, never an exception."""
    return review_and_examined(content, name, known)[0]


def review_and_examined(content: bytes, name: str, known: KnownSigners) -> tuple[Review, Examined]:
    """The same with what it was made from; never an exception either."""
    name = visible(name, MAX_SHOWN)
    seen = examined(content, name, quick=True)
    return _review(content, seen, name, known), seen


def review_in_full(content: bytes, name: str, known: KnownSigners) -> InFull:
    """The same with every step beside it; never an exception either."""
    whole, seen = review_and_examined(content, name, known)
    if seen.report is None or whole.state == NOT_READABLE:
        return InFull(whole)
    signed = (f"{one['kind']}: {one['what']}" for one in seen.report.get("exception", []))
    exceptions = tuple(visible(words, MAX_SHOWN) for words in signed)
    try:
        steps = reviewed_steps(seen.job, seen.inspections)
        return InFull(whole, exceptions, steps, reviewed_outputs(seen.job))
    except NOT_AS_WRITTEN:  # a record that holds together and makes no sense: told as a finding
        return InFull(whole, exceptions)


def _review(content: bytes, seen: Examined, name: str, known: KnownSigners) -> Review:
    findings = tuple(_with_remedy(finding) for finding in seen.findings)
    digest = hashlib.sha256(content).hexdigest()
    whole = Review(name, digest, len(content), seen.state, seen.state, findings=findings)
    if seen.report is None:
        return whole
    try:
        return _reviewed(whole, seen, seen.report, known)
    except NOT_AS_WRITTEN as error:
        words = f"it is not a report as this program writes it: {visible(str(error), 200)}"
        problem = Problem(name, words, remedy=_REMEDY[NOT_READABLE])
        found = in_order([*findings, Finding(NOT_READABLE, problem)])
        return replace(whole, state=NOT_READABLE, standing=NOT_READABLE, findings=found)


def _reviewed(
    whole: Review, seen: Examined, report: Mapping[str, Any], known: KnownSigners
) -> Review:
    """A review with all that a readable report tells."""
    signoffs = signoffs_of(report, seen.findings, known)
    job, record = _table(report, "job"), _table(report, "record")
    return replace(
        whole,
        standing=standing_of(seen.state, signoffs),
        report=text_of(report, "report"),
        site=text_of(_table(report, "site"), "name"),
        job_kind=text_of(job, "kind"),
        practice="practice" in report or record.get("practice") is True,
        program=text_of(job, "program"),
        formula_set=_formula_set(_table(report, "constants")),
        verdict=text_of(report, "verdict"),
        follows=text_of(record, "follows_report"),
        signoffs=signoffs,
        versions=_versions(seen.content, report),
        evidence=tuple(_evidence(report)),
        findings=in_order([*whole.findings, *_against(seen, report, whole.name, signoffs)]),
    )


def _with_remedy(finding: Finding) -> Finding:
    if finding.problem.remedy:
        return finding
    remedy = _REMEDY.get(finding.kind, _ALTERED_REMEDY)
    return Finding(finding.kind, replace(finding.problem, remedy=remedy))


def _against(
    seen: Examined, report: Mapping[str, Any], name: str, signoffs: tuple[SignedBy, ...]
) -> Iterator[Finding]:
    """What stands against relying on it, beyond how it is written."""
    yield from practice_findings(report, name)
    yield from key_findings(signoffs, name)
    yield from refusals(signoffs, name)
    for inspection in seen.inspections:
        yield from inspection_findings(inspection, name)
    yield from exception_findings(report, seen.job, name)
    if seen.job is not None:
        yield from record_findings(seen.job, name)
        yield from signed_early(report, seen.job, name)
    else:
        yield from number_findings(report, name)


def _evidence(report: Mapping[str, Any]) -> Iterator[EvidenceFile]:
    """Photos and documents of the installer's job, then those of each inspection."""
    inspections = report.get("inspection")
    parts = [(text_of(report, "report"), report)]
    for one in inspections if isinstance(inspections, list) else []:
        if isinstance(one, Mapping):
            parts.append((text_of(_table(one, "record"), "job"), one))
    for job, part in parts:
        found = part.get("evidence")
        for one in found if isinstance(found, list) else []:
            if isinstance(one, Mapping):
                yield EvidenceFile(job, text_of(one, "file"), text_of(one, "sha256"))


def _versions(content: bytes, report: Mapping[str, Any]) -> tuple[Version, ...]:
    """The report up to each of its sign-offs; none where a signature is not in its place."""
    found = ends(content, report["signoff"]) or []
    return tuple(
        Version(number, end, hashlib.sha256(content[:end]).hexdigest())
        for number, end in enumerate(found, start=1)
    )


# Texts and numbers of a file that may hold anything


def _table(report: Mapping[str, Any], key: str) -> Mapping[str, Any]:
    found = report.get(key)
    return found if isinstance(found, Mapping) else {}


def _formula_set(table: Mapping[str, Any]) -> int:
    found = table.get("formula_set")
    return found if type(found) is int and 0 < found < _MAX_FORMULA_SET else 0
