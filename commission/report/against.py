"""What stands against relying on a report, by its own record: each a finding with its remedy."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import replace
from datetime import date, datetime
from itertools import pairwise
from typing import Any

from commission.job import Job
from commission.problems import Problem
from commission.record.entry import Entry
from commission.report.finding import (
    EXCEPTION,
    EXPIRED,
    NOT_AGREED,
    NOT_DONE,
    OPEN_DEFECT,
    OUT_OF_ORDER,
    PRACTICE,
    Finding,
)
from commission.report.second import second_readings
from commission.text import visible
from commission.verdict.progress import exceptions

MAX_SHOWN = 300  # characters of one text
_NEW_JOB = "a new job, which names this report's SHA-256 as the one it follows"
_ASK = "ask who entered it; photos and messages of that day have times of their own"
# Told from the record itself, more fully than the exceptions of the report tell them.
_TOLD_ANEW = frozenset({"open defect", "instrument past calibration"})
_HOW_NOT = {"skipped": "skipped", "not applicable": "marked not applicable"}
_REMEDY = {
    "fail": f"have it repaired and read again: {_NEW_JOB}",
    "marginal": f"a better instrument or a repair: {_NEW_JOB}; or rely on it as it is",
}


def practice_findings(report: Mapping[str, Any], name: str) -> Iterator[Finding]:
    """A report made to learn says nothing about a real site."""
    if "practice" in report or report["record"].get("practice"):
        words = "PRACTICE: the site is invented, this is no report of a real site"
        yield Finding(PRACTICE, Problem(name, words, "practice", remedy="ask for the site's own"))


def exception_findings(report: Mapping[str, Any], job: Job | None, name: str) -> Iterator[Finding]:
    """The exceptions as signed; those that the record itself tells are left to it."""
    for number, one in enumerate(report.get("exception", []), start=1):
        kind = one["kind"]
        if job is not None and (kind in _TOLD_ANEW or (kind == "not tested" and one.get("step"))):
            continue
        words = visible(f"{kind}: {one['what']}", MAX_SHOWN)
        remedy = _REMEDY.get(kind, "decide, with who signed, whether to rely on it as it is")
        yield Finding(EXCEPTION, Problem(name, words, f"exception {number}", remedy=remedy))


def record_findings(job: Job, name: str) -> Iterator[Finding]:
    """Open defects, required steps not done, expired instruments, entries out of order."""
    for defect in job.open_defects:
        words = f"{defect.id} ({defect.severity}) {defect.where}: {defect.text}"
        remedy = f"have it put right and looked at again: {_NEW_JOB}"
        yield _finding(OPEN_DEFECT, name, words, f"entry {defect.opened}", remedy)
    for status in job.statuses.values():
        if status.step.item.required and status.state != "answered":
            how = f"{_HOW_NOT[status.state]}: {status.finding}" if status.entry else "not done"
            words = f"{status.step.target.label}: {status.step.title}: {how}"
            yield _finding(NOT_DONE, name, words, status.step.id, f"have it done: {_NEW_JOB}")
    yield from _expired(job.state.entries, name)
    yield from _out_of_order(job, name)


def inspection_findings(inspection: Job, name: str) -> Iterator[Finding]:
    """What an inspection says against the report, and what stands against the inspection."""
    if inspection.earlier is None:
        return
    for second in second_readings(inspection.earlier, inspection):
        if second.agrees is False:
            row = second.table
            e_n = f", |E_n| {second.e_n:.2f}" if second.e_n is not None else ""
            words = (
                f"{row['place']}: {row['title']}: installer {row['installer']}, "
                f"{row['installer_verdict']}; inspector {row['inspector']}, "
                f"{row['inspector_verdict']}{e_n}"
            )
            remedy = f"have it looked at by both together: {_NEW_JOB}"
            yield _finding(NOT_AGREED, name, words, row["step"], remedy)
    against = [
        {"kind": one.kind, "what": one.words, "step": one.step} for one in exceptions(inspection)
    ]
    found = list(exception_findings({"exception": against}, inspection, name))
    for one in (*found, *record_findings(inspection, name)):
        words = f"inspection: {one.problem.message}"
        yield Finding(one.kind, replace(one.problem, message=words))


def _expired(entries: Sequence[Entry], name: str) -> Iterator[Finding]:
    """Instruments used after their calibration was due: by the date in each reading."""
    used: dict[tuple[str, str, str], int] = {}
    for entry in entries:
        due, at = entry.instrument_calibration_due, entry.observed_at or entry.entered_at
        if due and at and date.fromisoformat(due) < at.date():
            key = (entry.instrument, entry.instrument_serial, due)
            used[key] = used.get(key, 0) + 1
    for (instrument, serial, due), count in used.items():
        readings = "one reading" if count == 1 else f"{count} readings"
        words = f"{instrument} {serial}: calibration was due {due}, used for {readings} after it"
        remedy = "have these readings repeated with an instrument within its calibration"
        yield _finding(EXPIRED, name, words, "instrument", remedy)


def _out_of_order(job: Job, name: str) -> Iterator[Finding]:
    """Entries whose times go back, by the clocks they were made by, and those that say none."""
    for entry in job.state.entries:
        words, place = "", f"entry {entry.number}"
        if entry.entered_at is None:
            words = f"{place} says no time at which it was entered"
        elif entry.observed_at is not None and entry.observed_at > entry.entered_at:
            words = f"{place} was seen {_at(entry.observed_at)}, after it was entered"
        if words:
            yield _finding(OUT_OF_ORDER, name, words, place, _ASK)
    times = [("the job was begun", job.header.created_at)]
    times += [
        (f"entry {entry.number}", entry.entered_at)
        for entry in job.state.entries
        if entry.entered_at
    ]
    for (before, earlier), (after, later) in pairwise(times):
        if later < earlier:
            words = f"{after} says {_at(later)}, {before} before it {_at(earlier)}: time goes back"
            yield _finding(OUT_OF_ORDER, name, words, after, _ASK)


def number_findings(report: Mapping[str, Any], name: str) -> Iterator[Finding]:
    """Entries that do not stand at the place of their number."""
    for place, entry in enumerate(report.get("history", []), start=1):
        number = entry.get("number") if isinstance(entry, Mapping) else None
        if number != place:
            words = f"the entry at place {place} has another number: some are missing or moved"
            yield _finding(OUT_OF_ORDER, name, words, f"entry {place}", _ASK)
            return


def signed_early(report: Mapping[str, Any], job: Job, name: str) -> Iterator[Finding]:
    """Sign-offs that say a time before the last entry or the sign-off before them."""
    last = next((e.entered_at for e in reversed(job.state.entries) if e.entered_at), None)
    for number, block in enumerate(report["signoff"], start=1):
        at = block.get("at")
        if not isinstance(at, datetime) or at.tzinfo is None:
            continue
        if last is not None and at < last:
            words = f"signed {_at(at)}, before what it signs was written ({_at(last)})"
            yield _finding(OUT_OF_ORDER, name, words, f"signoff {number}", _ASK)
        last = at


def _at(moment: datetime) -> str:
    return f"{moment:%Y-%m-%d %H:%M:%S%z}"


def _finding(kind: str, name: str, words: str, place: str, remedy: str) -> Finding:
    return Finding(
        kind, Problem(name, visible(words, MAX_SHOWN), visible(place, 100), remedy=remedy)
    )
