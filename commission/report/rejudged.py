"""Every answer of a record judged once more, knowing what was known when it was given.

A record may be written anew with its digests right; what each reading means is computed again from
its text, its instrument and the expectation, so that a verdict or a number of another kind shows.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

from commission import __version__
from commission.electrical.sources import FORMULA_SET
from commission.job import Job
from commission.judging import judge_answer, read_answer
from commission.problems import Problem
from commission.record.entry import Entry
from commission.record.replay import State, states_before
from commission.redrawn import drawing_then
from commission.report.agreement import same_number
from commission.text import visible

_REMEDY = "ask the signer for the record; until it is explained, trust none of this report"


def entry_problems(job: Job, name: str) -> Iterator[Problem]:
    """Answers that say something else than their text, instrument and expectation give.

    An answer judged with another formula set is not judged again. Raises InputRefused for a change
    of the drawing that can't be read or does not fit.
    """
    if job.header.formula_set != FORMULA_SET:
        return
    drawn_at, redraws = drawing_then(job), True
    for state, entry in states_before(job.state.entries):
        if redraws:
            drawn = drawn_at(state)
        if entry.type == "answer":
            words = _differs(drawn, state, entry)
            if words:
                place = f"entry {entry.number}"
                yield Problem(name, f"altered: {words}", place, remedy=_REMEDY)
        redraws = bool(entry.redraws) or entry.type == "withdrawal"
    if redraws:
        drawn_at(job.state)


def _differs(drawn: Job, state: State, entry: Entry) -> str:
    """What an answer says that it should not, in words; "" when it follows from what it holds.

    `drawn` is the job with the drawing of then, `state` what was known then.
    """
    step = drawn.plan.by_id.get(entry.step)
    if step is None:
        return f"it answers a step that this job has not: {visible(entry.step, 60)}"
    try:
        reading = read_answer(step, entry.text)
        job = replace(drawn, state=state) if reading else drawn
        judgement = judge_answer(job, step, entry.text, reading, entry.accuracy)
    except ValueError as error:
        return f"its text is no answer to its step: {visible(str(error), 100)}"
    if entry.verdict != judgement.verdict:
        return f"its verdict is '{visible(entry.verdict, 40)}', judged again '{judgement.verdict}'"
    expectation = job.expectation(step) if reading else None
    pairs = (
        ("value", entry.value, reading.value if reading else None),
        ("digit", entry.digit, (reading.digit or None) if reading else None),
        ("expected", entry.expected, expectation.value if expectation else None),
        ("low", entry.low, judgement.low if reading else None),
        ("high", entry.high, judgement.high if reading else None),
    )
    for key, stands, should in pairs:
        if not _same(stands, should):
            return f"its {key} is {_said(stands)}, computed again {_said(should)}"
    texts = (
        ("relation", entry.relation, reading.relation if reading else ""),
        ("quantity", entry.quantity, step.item.quantity if reading else ""),
        ("unit", entry.unit, step.item.unit if reading else ""),
        ("compared_with", entry.compared_with, expectation.name if expectation else ""),
    )
    for key, told, read in texts:
        if told != (read or ""):
            return f"its {key} is '{visible(told, 40)}', read again '{read or ''}'"
    found = judgement.finding  # what is said of the instrument follows it
    if job.header.program == __version__ and not f"{entry.finding}; ".startswith(f"{found}; "):
        return f"its finding is '{visible(entry.finding, 60)}', judged again '{found}'"
    return ""


def _same(stands: float | None, should: float | None) -> bool:
    if stands is None or should is None:
        return stands is should
    return same_number(stands, should)


def _said(value: float | None) -> str:
    return "nothing" if value is None else repr(value)
