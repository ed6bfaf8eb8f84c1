"""A report's bytes looked at: signatures, record, files, and all of it made again from these."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any

from commission.job import Job
from commission.problems import InputRefused, Problem
from commission.record.entry import Entry
from commission.report import signoff
from commission.report.again import job_of, made_again, other_formulas
from commission.report.effort import refuse_too_many, refuse_too_signed
from commission.report.finding import (
    ALTERED,
    ANOTHER_VERSION,
    FILES,
    LINE_ENDS,
    NEWER,
    NOT_READABLE,
    RECORD,
    SIGNATURE,
    SOUND,
    Finding,
    State,
)
from commission.report.history import (
    History,
    file_problems,
    header_of,
    history_of,
    history_read,
)
from commission.report.pieces import Pieces, pieces_again
from commission.report.reading import (
    as_written,
    is_cut_off,
    parse_report,
    refuse_unlike,
    shape_problems,
)
from commission.report.rejudged import entry_findings
from commission.report.seal import seal_problems
from commission.report.skimmed import Skimmed
from commission.text import visible

# What reading a report raises where something in it is of another kind than the program writes.
NOT_AS_WRITTEN = (
    TypeError, ValueError, LookupError, AttributeError, ArithmeticError, RecursionError,
)  # fmt: skip


def report_problems(content: bytes, name: str) -> list[Problem]:
    """Every problem of a report's bytes, by themselves: signatures, record, files, and the body.

    The body is compared once the record in it holds: it is made again from that.
    """
    return [finding.problem for finding in examined(content, name).findings]


@dataclass(frozen=True, slots=True)
class Examined:
    """A report's bytes looked at: as written, read, made again.

    `content` has its line ends put back; `report` is None when it is not readable, `job` when its
    record or its files do not hold. `inspections` are those of it that can be made again. It is
    `exact` when its signatures hold and not a byte of its first piece differs from what was made
    again.
    """

    state: State
    findings: tuple[Finding, ...]
    content: bytes
    report: Mapping[str, Any] | None = None
    job: Job | None = None
    inspections: tuple[Job, ...] = ()
    exact: bool = False


def examined(content: bytes, name: str, *, quick: bool = False) -> Examined:
    """Look at a report's bytes, and at nothing else; never raises for what they hold.

    When it has to be `quick`, a report that takes more than a moment is not readable.
    """
    plain, found = as_written(content, name)
    made = _MadeOnce(name, quick)
    try:
        seen = _at_first(plain, name, made) or _read_whole(plain, name, made)
    except InputRefused as refused:
        seen = _not_readable(plain, name, refused.problems or [Problem(name, str(refused))])
    except NOT_AS_WRITTEN as error:
        words = visible(str(error), 200)
        problem = Problem(name, f"it is not a report as this program writes it: {words}")
        seen = _not_readable(plain, name, [problem])
    line_ends = (Finding(LINE_ENDS, problem) for problem in found)
    return replace(seen, findings=(*line_ends, *seen.findings))


def _not_readable(content: bytes, name: str, problems: Sequence[Problem]) -> Examined:
    """What cannot be read, and first whether that is because its end is missing."""
    if is_cut_off(content):
        words = "cut off: a report ends in a signature, and this one does not"
        problems = [Problem(name, words, line=content.count(b"\n") + 1), *problems]
    return Examined(NOT_READABLE, tuple(Finding(NOT_READABLE, one) for one in problems), content)


class _MadeOnce:
    """Makes the job of a report; of one that is looked at in both ways, the first time only."""

    def __init__(self, name: str, quick: bool) -> None:
        self.quick = quick
        self._name = name
        self._of: object = None
        self._job: Job | None = None

    def job(self, report: Mapping[str, Any], entries: tuple[Entry, ...]) -> Job:
        """The job of a report with these entries. Raises as `job_of` does."""
        of = (dict(report["files"]), header_of(report), entries)
        if self._job is None or self._of != of:
            self._job = job_of(report, self._name, quick=self.quick, entries=entries)
            self._of = of
        return self._job


def _at_first(content: bytes, name: str, made: _MadeOnce) -> Examined | None:
    """A report found equal to what was made again of it, without parsing that; None for others."""
    refuse_unlike(content, name)
    try:
        report = Skimmed(content)
        if shape_problems(report, name):
            return None
        if made.quick:
            refuse_too_signed(report, name)
            refuse_too_many(report, len(report.blocks), name)
        history = history_read(report, report.blocks)
        seen = _looked_into(content, report, history, name, made, must_be_exact=True)
    except (InputRefused, *NOT_AS_WRITTEN):
        return None
    return seen if seen.exact else None


def _read_whole(content: bytes, name: str, made: _MadeOnce) -> Examined:
    """Any other report. Raises InputRefused for one that can't be read, and NOT_AS_WRITTEN."""
    report = parse_report(content, name)
    if shape := shape_problems(report, name):
        raise InputRefused(shape)
    if made.quick:
        refuse_too_signed(report, name)
    try:
        if made.quick:
            refuse_too_many(report, len(report.get("history", [])), name)
        return _looked_into(content, report, history_of(report), name, made)
    except InputRefused as refused:  # that need not keep anybody from telling of its signatures
        seen = _not_readable(content, name, refused.problems or [Problem(name, str(refused))])
        broken = (Finding(SIGNATURE, one) for one in seal_problems(content, report, name))
        return replace(seen, findings=(*broken, *seen.findings))


def _looked_into(
    content: bytes,
    report: Mapping[str, Any],
    history: History,
    name: str,
    made: _MadeOnce,
    *,
    must_be_exact: bool = False,
) -> Examined:
    """Signatures, then the record and the files; when these hold, the body made again from them.

    When it `must_be_exact`, nothing more is done for a report that is not: ValueError is raised.
    """
    findings = [Finding(SIGNATURE, one) for one in seal_problems(content, report, name)]
    altered = [Finding(FILES, problem) for problem in file_problems(report, name)]
    if history.wrong:
        altered.insert(0, Finding(RECORD, Problem(name, history.wrong, "history")))
    if must_be_exact and (findings or altered):
        raise ValueError("it does not hold")
    if altered:
        return Examined(ALTERED, (*findings, *altered), content, report)
    broken = bool(findings)
    unlike = list(_unlike(report, name))
    other = other_formulas(report, name)
    if other is not None:
        if must_be_exact:
            raise ValueError("it cannot be made again")
        findings.append(Finding(NEWER, other))
        findings += unlike
        state: State = ALTERED if broken or unlike else NEWER
        job_or_none = _job_or_none(report, history, made)
        added = pieces_again(content, report, job_or_none, name, quick=made.quick)
        return _with_pieces(Examined(state, tuple(findings), content, report, job_or_none), added)
    job = made.job(report, history.entries)
    again = made_again(report, content, name, job, history.blocks)
    if must_be_exact and not again.exact:
        raise ValueError("it is not what is made of it")
    state = SOUND if again.state == "same" else again.state
    if again.problem is not None:
        kind = ANOTHER_VERSION if state == SOUND else state
        findings.append(Finding(kind, again.problem))
    rejudged = [*entry_findings(job, name), *_signed_first(report, job, name), *unlike]
    state = ALTERED if broken else _worst(state, rejudged)
    added = pieces_again(content, report, job, name, quick=made.quick)
    found = (*findings, *rejudged)
    whole = Examined(state, found, content, report, job, exact=again.exact and not broken)
    return _with_pieces(whole, added)


def _signed_first(report: Mapping[str, Any], job: Job, name: str) -> Iterator[Finding]:
    """That a report was first signed by somebody who only signs what others signed before."""
    signs_as = report["signoff"][0]["signs_as"]
    if signs_as not in ("installer", signoff.first_signs_as(job.header.job_kind)):
        who = visible(str(signs_as), 40)
        words = f"altered: the installer signs first, and here somebody as {who}"
        yield Finding(ALTERED, Problem(name, words, "signoff 1"))


def _unlike(report: Mapping[str, Any], name: str) -> Iterator[Finding]:
    """Sign-offs that hold what this program never writes in one."""
    for number, block in enumerate(report["signoff"], start=1):
        if key := signoff.unlike(block):
            words = f"altered: its '{key}' is nothing that this program writes there"
            yield Finding(ALTERED, Problem(name, words, f"signoff {number}"))


def _with_pieces(whole: Examined, added: Pieces) -> Examined:
    """A report with what was found in the pieces that were added to it."""
    findings = (*whole.findings, *added.findings)
    state = _worst(whole.state, added.findings)
    return replace(whole, state=state, findings=findings, inspections=tuple(added.inspections))


def _worst(state: State, added: Sequence[Finding]) -> State:
    """The state of a report with what else was found, in it or in the pieces added to it."""
    kinds = {finding.kind for finding in added}
    if state == ALTERED or kinds & {ALTERED, RECORD, FILES}:
        return ALTERED
    if state != SOUND:
        return state
    return NEWER if NEWER in kinds else ANOTHER_VERSION if _differ(added) else SOUND


def _differ(added: Sequence[Finding]) -> bool:
    """Whether what another version wrote differs in words, and not in that alone."""
    return any(one.kind == ANOTHER_VERSION and one.problem.remedy for one in added)


def _job_or_none(report: Mapping[str, Any], history: History, made: _MadeOnce) -> Job | None:
    """The job, when its files can still be used under the formulas of today."""
    try:
        return made.job(report, history.entries)
    except InputRefused:
        return None
