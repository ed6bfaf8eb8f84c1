"""The step at hand in words: what to do, the caution, what is expected, what was found so far."""

from __future__ import annotations

from textual.content import Content

from commission.job import Job, Status
from commission.record.entry import Entry
from commission.tui.theme import VERDICT_STYLE
from commission.verdict.judge import MARKS, interval_words


def expected_words(job: Job, status: Status) -> str:
    """What a step is compared with, for people; empty when nothing is."""
    item = status.step.item
    expectation = job.expectation(status.step)
    if expectation is None or item.quantity is None:
        return ""
    return interval_words(expectation, item.unit, item.quantity)


def card(job: Job, status: Status) -> Content:
    """The whole text of a step's card."""
    step = status.step
    parts: list[tuple[str, str] | str] = [(step.title, "bold"), "\n", step.ask, "\n"]
    if step.why:
        parts += [(step.why, "$quiet"), "\n"]
    for _name, words in step.caution:
        parts += [(f" CAUTION  {words} ", "$caution-text on $caution"), "\n"]
    expected = expected_words(job, status)
    if expected:
        expectation = job.expectation(step)
        parts += ["\n", "Expected ", (expected, "bold"), "\n"]
        if expectation and expectation.conditions:
            parts += [(expectation.conditions, "$quiet"), "\n"]
    for reason in () if job.signed else job.reasons_against(step):
        parts += ["\n", ("Not yet: ", "$marginal bold"), reason]
    if step.target.station:
        cause = job.likely_cause(step.target.station)
        if cause:
            parts += ["\n", ("Likely: ", "bold"), cause, "\n"]
    parts += _found(job, status)
    return Content.assemble(*parts)


def _found(job: Job, status: Status) -> list[tuple[str, str] | str]:
    """Earlier entries of this step, newest first, and its open defects."""
    step_id = status.step.id
    parts: list[tuple[str, str] | str] = []
    for defect in job.defects_of(step_id):
        parts += ["\n", (f"Open defect {defect.id}: ", "$fail bold"), defect.text]
    history = job.state.history.get(step_id, ())
    if history:
        parts += ["\n", ("Found so far", "bold")]
    for entry in reversed(history):
        parts += ["\n", *_entry_line(entry, entry.number in job.state.withdrawn)]
    return parts


def _entry_line(entry: Entry, withdrawn: bool) -> list[tuple[str, str] | str]:
    when = entry.entered_at.strftime("%Y-%m-%d %H:%M") if entry.entered_at else ""
    what = entry.text if entry.type == "answer" else f"{entry.type}: {entry.text}"
    who = entry.observed_by or entry.entered_by
    line: list[tuple[str, str] | str] = [f"{when}  {what}"]
    if entry.verdict:
        mark = f"  {MARKS.get(entry.verdict, ' ')} {entry.verdict}"
        line.append((mark, VERDICT_STYLE.get(entry.verdict, "")))
    if who:
        line.append((f"  {who}", "$quiet"))
    if withdrawn:
        line.append(("  withdrawn", "$quiet"))
    return line
