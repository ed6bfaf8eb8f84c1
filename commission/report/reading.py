"""A report read back: strictly enough to show it and to find what is wrong with it."""

from __future__ import annotations

import codecs
import re
import tomllib
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

from commission.job import Job
from commission.problems import InputRefused, Problem
from commission.record.chain import Verified
from commission.report.again import job_of, made_again, other_formulas
from commission.report.document import FORMAT, KIND
from commission.report.effort import refuse_too_many
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
from commission.report.history import file_problems, history_of
from commission.report.pieces import Pieces, pieces_again
from commission.report.rejudged import entry_problems
from commission.report.seal import seal_problems
from commission.text import visible
from commission.toml_place import MAX_FILE_BYTES

VERDICTS = ("accepted", "handed over with exceptions")
MAX_LINE_BYTES = 40_000  # a check's line holds a few texts of at most MAX_TEXT characters
MAX_LINE_DOTS = 200  # before the first "=": a longer dotted key takes seconds to parse
MAX_DOTS = 50_000  # of all lines together, for the same reason
# What reading a report raises where something in it is of another kind than the program writes.
NOT_AS_WRITTEN = (
    TypeError, ValueError, LookupError, AttributeError, ArithmeticError, RecursionError,
)  # fmt: skip
_HEAD_BYTES = 4_096
_LAST_LINE = re.compile(rb'\nsignature = "[A-Za-z0-9+/=]+"\n\Z')
MAX_MARKS = 400_000  # of a key, a list or a table; a report of sixty stations has some 60,000
REQUIRED = ("verdict", "report", "job", "site", "inputs", "record", "files", "signoff")


def read_report(path: Path) -> dict[str, Any]:
    """The report as a dictionary; raises InputRefused with every problem of its shape."""
    name = visible(path.name)
    try:
        content = path.read_bytes()
    except OSError as error:
        raise InputRefused([Problem(name, f"can't be read: {error.strerror or error}")]) from error
    report = parse_report(content, name)
    found = shape_problems(report, name)
    if found:
        raise InputRefused(found)
    return report


def parse_report(content: bytes, name: str) -> dict[str, Any]:
    """The TOML of a report; raises InputRefused in words."""
    if len(content) > MAX_FILE_BYTES:
        raise InputRefused([Problem(name, f"larger than {MAX_FILE_BYTES // 1_000_000} MB")])
    if sum(content.count(mark) for mark in (b"=", b",", b"[", b"{")) > MAX_MARKS:
        raise InputRefused([Problem(name, f"more than {MAX_MARKS} keys and values")])
    if line := _line_too_much(content):
        raise InputRefused([Problem(name, "no report has a line like this", line=line)])
    try:
        return tomllib.loads(content.decode("utf-8"))
    except UnicodeDecodeError:
        problem = Problem(name, "this is not UTF-8 text")
    except RecursionError:
        problem = Problem(name, "brackets are nested too deeply")
    except ValueError as error:  # not TOML, or a date or number that cannot be
        problem = Problem(name, visible(str(error), 200))
    raise InputRefused([problem]) from None


def _line_too_much(content: bytes) -> int:
    """Number of the first line that is too long, or has too long a dotted key; 0 for none."""
    lines: Iterable[tuple[int, bytes]] = enumerate(content.split(b"\n"), start=1)
    if content.count(b".") <= MAX_DOTS:  # then only a long line can be one
        lines = [(number, line) for number, line in lines if len(line) > MAX_LINE_DOTS]
    dots = 0
    for number, line in lines:
        own = 0 if line.startswith(b"#") else line.partition(b"=")[0].count(b".")
        dots += own
        if len(line) > MAX_LINE_BYTES or own > MAX_LINE_DOTS or dots > MAX_DOTS:
            return number
    return 0


def shape_problems(report: dict[str, Any], name: str) -> list[Problem]:
    """What is missing, of another kind or of a newer format."""
    if report.get("kind") != KIND:
        return [Problem(name, f"its kind is not '{KIND}'", "kind")]
    if "draft" in report and "signoff" not in report:
        return [Problem(name, "a draft: nobody signed it, and anything in it may still change")]
    if report.get("format") != FORMAT:
        return [_another_format(report.get("format"), name)]
    found = [Problem(name, "this key is missing", key) for key in REQUIRED if key not in report]
    blocks = report.get("signoff", [])
    if not isinstance(blocks, list) or not all(isinstance(one, dict) for one in blocks):
        found.append(Problem(name, "sign-offs are tables", "signoff"))
    if not found and not blocks:
        found.append(Problem(name, "there is no sign-off in it", "signoff"))
    if not found and report["verdict"] not in VERDICTS:
        found.append(Problem(name, "this is no verdict", "verdict"))
    named = report.get("exception", [])
    if not isinstance(named, list) or not all(_is_named(one) for one in named):
        found.append(Problem(name, "each exception has a kind and says what", "exception"))
    return found


def _another_format(found: object, name: str) -> Problem:
    if isinstance(found, int) and found > FORMAT:
        words = f"format {found} is newer than this program reads ({FORMAT})"
        return Problem(name, words, "format", remedy="use a newer program")
    return Problem(name, f"this is no format of a report; this program reads {FORMAT}", "format")


def _is_named(exception: object) -> bool:
    return isinstance(exception, dict) and all(
        isinstance(exception.get(key), str) for key in ("kind", "what")
    )


def report_problems(content: bytes, name: str) -> list[Problem]:
    """Every problem of a report's bytes, by themselves: signatures, record, files, and the body.

    The body is compared once the record in it holds: it is made again from that.
    """
    return [finding.problem for finding in examined(content, name).findings]


@dataclass(frozen=True, slots=True)
class Examined:
    """A report's bytes looked at: as written, read, made again.

    `content` has its line ends put back; `report` is None when it is not readable, `job` when its
    record or its files do not hold. `inspections` are those of it that can be made again.
    """

    state: State
    findings: tuple[Finding, ...]
    content: bytes
    report: Mapping[str, Any] | None = None
    job: Job | None = None
    inspections: tuple[Job, ...] = ()


def examined(content: bytes, name: str, *, quick: bool = False) -> Examined:
    """Look at a report's bytes, and at nothing else; never raises for what they hold.

    When it has to be `quick`, a report that takes more than a moment is not readable.
    """
    plain, found = as_written(content, name)
    findings = [Finding(LINE_ENDS, problem) for problem in found]
    try:
        report = parse_report(plain, name)
        shape = shape_problems(report, name)
        if not shape:
            return _looked_into(plain, report, name, findings, quick)
    except InputRefused as refused:
        shape = list(refused.problems) or [Problem(name, str(refused))]
    except NOT_AS_WRITTEN as error:
        words = visible(str(error), 200)
        shape = [Problem(name, f"it is not a report as this program writes it: {words}")]
    if _is_cut_off(plain):
        words = "cut off: a report ends in a signature, and this one does not"
        shape.insert(0, Problem(name, words, line=plain.count(b"\n") + 1))
    findings += [Finding(NOT_READABLE, problem) for problem in shape]
    return Examined(NOT_READABLE, tuple(findings), plain)


def _is_cut_off(content: bytes) -> bool:
    """Whether a file begins as a signed report and does not end as one."""
    begins = content[:_HEAD_BYTES]
    is_signed = b'\nkind = "commission report"\n' in begins and b"\ndraft = " not in begins
    return is_signed and not _LAST_LINE.search(content[-200:])


def _looked_into(
    content: bytes, report: dict[str, Any], name: str, findings: list[Finding], quick: bool
) -> Examined:
    """Signatures, then the record and the files; when these hold, the body made again from them."""
    findings += [Finding(SIGNATURE, one) for one in seal_problems(content, report, name)]
    if quick:
        refuse_too_many(len(report.get("history", [])), name)
    history = history_of(report)
    altered = [Finding(FILES, problem) for problem in file_problems(report, name)]
    if history.wrong:
        altered.insert(0, Finding(RECORD, Problem(name, history.wrong, "history")))
    if altered:
        return Examined(ALTERED, (*findings, *altered), content, report)
    broken = any(one.kind == SIGNATURE for one in findings)
    other = other_formulas(report, name)
    if other is not None:
        findings.append(Finding(NEWER, other))
        state: State = ALTERED if broken else NEWER
        made = _job_or_none(report, name, quick)
        added = pieces_again(content, report, made, name, quick=quick)
        return _with_pieces(Examined(state, tuple(findings), content, report, made), added)
    job = job_of(report, name, quick=quick, entries=history.entries)
    again = made_again(report, content, name, job, history.blocks)
    state = SOUND if again.state == "same" else again.state
    if again.problem is not None:
        kind = ANOTHER_VERSION if state == SOUND else state
        findings.append(Finding(kind, again.problem))
    rejudged = [Finding(ALTERED, problem) for problem in entry_problems(job, name)]
    if broken or rejudged:
        state = ALTERED
    added = pieces_again(content, report, job, name, quick=quick)
    whole = Examined(state, (*findings, *rejudged), content, report, job)
    return _with_pieces(whole, added)


def _with_pieces(whole: Examined, added: Pieces) -> Examined:
    """A report with what was found in the pieces that were added to it."""
    findings = (*whole.findings, *added.findings)
    state = _worst(whole.state, added.findings)
    return replace(whole, state=state, findings=findings, inspections=tuple(added.inspections))


def _worst(state: State, added: Sequence[Finding]) -> State:
    """The state of a report with what was found in the pieces that were added to it."""
    kinds = {finding.kind for finding in added}
    if state == ALTERED or kinds & {ALTERED, RECORD, FILES}:
        return ALTERED
    if state != SOUND:
        return state
    return NEWER if NEWER in kinds else ANOTHER_VERSION if _differ(added) else SOUND


def _differ(added: Sequence[Finding]) -> bool:
    """Whether a piece written by another version differs in words, and not in that alone."""
    return any(one.kind == ANOTHER_VERSION and one.problem.line for one in added)


def _job_or_none(report: Mapping[str, Any], name: str, quick: bool) -> Job | None:
    """The job, when its files can still be used under the formulas of today."""
    try:
        return job_of(report, name, quick=quick)
    except InputRefused:
        return None


def as_written(content: bytes, name: str) -> tuple[bytes, list[Problem]]:
    """A report as it was before mail or an editor changed its line ends or put a mark in front.

    No report holds a carriage return of its own: a text's are written as code points.
    """
    found = []
    if content.startswith(codecs.BOM_UTF8):
        content = content.removeprefix(codecs.BOM_UTF8)
        words = (
            "a byte-order mark was put in front of it; without it the signatures cover its bytes"
        )
        found.append(Problem(name, words, line=1, remedy="take the first three bytes away"))
    if b"\r\n" in content:
        content = content.replace(b"\r\n", b"\n")
        words = (
            "its line ends were changed on the way, by mail or an editor: what follows is said of "
            "it with line feeds put back"
        )
        remedy = "ask for the file as an archive, which nothing changes"
        found.append(Problem(name, words, remedy=remedy))
    return content, found


def record_problems(content: bytes, name: str, beside: Verified) -> list[Problem]:
    """Whether a sound report holds the record beside it: how many entries, the last's digest.

    That record is of the report's own job, or of an inspection in it.
    """
    report, count = parse_report(content, name), len(beside.entries)
    records = [report["record"], *(one["record"] for one in report.get("inspection", []))]
    mine = next((one for one in records if one["job"] == beside.header.job), records[0])
    if mine["entries"] < count:
        more = count - mine["entries"]
        words = f"{more} more entr{'y' if more == 1 else 'ies'}"
        return [Problem(name, f"the record beside it goes on: {words}", "record")]
    if mine["entries"] > count or (mine["last_sha256"] or mine["sha256"]) != beside.digest:
        return [Problem(name, "it holds another record than the one beside it", "record")]
    return []
