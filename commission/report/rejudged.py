"""Every answer of a record judged once more, knowing what was known when it was given.

A record may be written anew with its digests right; what each reading means is computed again from
its text, its instrument and the expectation, so that a verdict, a number or a word of another kind
shows.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import replace
from datetime import date

from commission import __version__
from commission.electrical.sources import FORMULA_SET
from commission.job import Job
from commission.judging import (
    judge_answer,
    read_answer,
    said_of_instrument,
    warning_of,
    with_said,
)
from commission.problems import Problem
from commission.record.entry import Entry
from commission.record.replay import State, states_before
from commission.redrawn import drawing_then
from commission.report.again import check_with
from commission.report.agreement import same_number
from commission.report.finding import ALTERED, ANOTHER_VERSION, NEWER, Finding
from commission.text import visible

_REMEDY = "ask the signer for the record; until it is explained, trust none of this report"


def entry_findings(job: Job, name: str) -> Iterator[Finding]:
    """Answers that say something else than their text, instrument and expectation give.

    What was judged with another formula set is not judged again, and that is told; so are words
    that another version of the program may have chosen. Raises InputRefused for a change of the
    drawing that can't be read or does not fit.
    """
    if job.header.formula_set != FORMULA_SET:
        yield Finding(NEWER, _judged_by_others(job, name))
        return
    drawn_at, redraws, reworded = drawing_then(job), True, list[int]()
    for state, entry in states_before(job.state.entries):
        if redraws:
            drawn = drawn_at(state)
        if entry.type == "answer":
            differs, words = _differs(drawn, state, entry)
            if differs or (words and job.header.program == __version__):
                problem = f"altered: {differs or words}"
                place = f"entry {entry.number}"
                yield Finding(ALTERED, Problem(name, problem, place, remedy=_REMEDY))
            elif words:
                reworded.append(entry.number)
        redraws = bool(entry.redraws) or entry.type == "withdrawal"
    if redraws:
        drawn_at(job.state)
    if reworded:
        yield Finding(ANOTHER_VERSION, _reworded(job, name, reworded))


def _judged_by_others(job: Job, name: str) -> Problem:
    words = (
        f"its job was begun with another formula set ({visible(str(job.header.formula_set), 20)}; "
        f"this program has {FORMULA_SET}): what its readings mean is not judged again here"
    )
    remedy = check_with(job.header.program)
    return Problem(name, words, "record.formula_set", remedy=remedy)


def _reworded(job: Job, name: str, numbers: Sequence[int]) -> Problem:
    more = f" and {len(numbers) - 1} more" if len(numbers) > 1 else ""
    words = (
        f"its job was begun with version {visible(job.header.program, 60)} of the program (this is "
        f"{__version__}), which may be why the words of this entry{more} are not those of this one"
    )
    remedy = check_with(job.header.program)
    return Problem(name, words, f"entry {numbers[0]}", remedy=remedy)


def _differs(drawn: Job, state: State, entry: Entry) -> tuple[str, str]:
    """What an answer says that it should not: in what counts, and in words; "" for nothing.

    `drawn` is the job with the drawing of then, `state` what was known then.
    """
    step = drawn.plan.by_id.get(entry.step)
    if step is None:
        return f"it answers a step that this job has not: {visible(entry.step, 60)}", ""
    try:
        reading = read_answer(step, entry.text)
        job = replace(drawn, state=state) if reading else drawn
        judgement = judge_answer(job, step, entry.text, reading, entry.accuracy)
        warning, said = _of_the_instrument(entry) if reading else ("", "")
    except ValueError as error:
        return f"its text is no answer to its step: {visible(str(error), 100)}", ""
    if entry.verdict != judgement.verdict:
        told = visible(entry.verdict, 40)
        return f"its verdict is '{told}', judged again '{judgement.verdict}'", ""
    expectation = job.expectation(step) if reading else None
    pairs = (
        ("value", entry.value, reading.value if reading else None),
        ("digit", entry.digit, (reading.digit or None) if reading else None),
        ("expected", entry.expected, expectation.value if expectation else None),
        ("low", entry.low, judgement.low if reading else None),
        ("high", entry.high, judgement.high if reading else None),
    )
    texts: tuple[tuple[str, str, str | None], ...] = (
        ("relation", entry.relation, reading.relation if reading else ""),
        ("quantity", entry.quantity, step.item.quantity if reading else ""),
        ("unit", entry.unit, step.item.unit if reading else ""),
        ("compared_with", entry.compared_with, expectation.name if expectation else ""),
    )
    warned = (("warning", entry.warning, warning),)
    if bool(entry.warning) != bool(warning):  # that there is one counts as an exception
        texts += warned
    found = ("finding", entry.finding, with_said(judgement, said))
    return _number_apart(pairs) or _text_apart(texts), _text_apart((*warned, found))


def _number_apart(pairs: Iterable[tuple[str, float | None, float | None]]) -> str:
    """The first number that is not what it should be, in words."""
    for key, stands, should in pairs:
        if not _same(stands, should):
            return f"its {key} is {_said(stands)}, computed again {_said(should)}"
    return ""


def _text_apart(texts: Iterable[tuple[str, str, str | None]]) -> str:
    """The first text that is not what it should be, in words."""
    for key, stands, should in texts:
        if stands != (should or ""):
            return f"its {key} is '{visible(stands, 60)}', judged again '{should or ''}'"
    return ""


def _of_the_instrument(entry: Entry) -> tuple[str, str]:
    """The warning that a reading carries, and what its finding says of the instrument."""
    at = entry.observed_at or entry.entered_at
    due = entry.instrument_calibration_due
    if not entry.instrument or at is None:
        return "", ""
    warning = warning_of(date.fromisoformat(due) if due else None, at.date())
    known = entry.instrument_percent is not None
    return warning, said_of_instrument(entry.instrument, known=known, expired=bool(warning))


def _same(stands: float | None, should: float | None) -> bool:
    if stands is None or should is None:
        return stands is should
    return same_number(stands, should)


def _said(value: float | None) -> str:
    return "nothing" if value is None else repr(value)
