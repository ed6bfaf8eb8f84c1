"""The step at hand in words: what to do, the caution, what is expected, what was found so far."""

from __future__ import annotations

from textual.content import Content

from commission.job import Job, Status
from commission.record.entry import Entry
from commission.repairs import unexplained_fail
from commission.tui.theme import VERDICT_STYLE
from commission.verdict.diagnose import SOUND
from commission.verdict.judge import interval_words, marked


def expected_words(job: Job, status: Status) -> str:
    """What a step is compared with, for people; empty when nothing is."""
    item = status.step.item
    expectation = job.expectation(status.step)
    if expectation is None or item.quantity is None:
        return ""
    return interval_words(expectation, item.unit, item.quantity)


def likely_words(job: Job, station: str | None) -> tuple[str, str]:
    """What a station's answers say together, under its heading; two "" while it is too little.

    A station is sound only so far until every sign that is required of it was answered.
    """
    cause = job.likely_cause(station) if station else ""
    if cause != SOUND:
        return ("Likely", cause) if cause else ("", "")
    unanswered = any(
        status.step.item.sign and status.step.item.required and status.state in ("open", "skipped")
        for status in job.statuses.values()
        if status.step.target.station == station
    )
    return ("So far", cause) if unanswered else ("Likely", cause)


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
    parts += _not_settled(job, status)
    label, cause = likely_words(job, step.target.station)
    if cause:
        parts += ["\n", (f"{label}: ", "bold"), cause, "\n"]
    if job.earlier is not None:
        parts += _reported(job, job.earlier, status)
    parts += _found(job, status)
    return Content.assemble(*parts)


def _not_settled(job: Job, status: Status) -> list[tuple[str, str] | str]:
    """What stands in the way of a step, or of taking its answer as it is."""
    parts: list[tuple[str, str] | str] = []
    if status.again and not job.signed:
        parts += ["\n", ("To be done again: ", "$marginal bold"), status.again]
    if status.second_look:
        parts += ["\n", ("Second look: ", "$marginal bold"), status.second_look]
    failed = unexplained_fail(job, status.step)
    if failed is not None:
        parts += ["\n", ("Not explained: ", "$marginal bold"), _failed_before(failed)]
    for reason in () if job.signed else job.reasons_against(status.step):
        parts += ["\n", ("Not yet: ", "$marginal bold"), reason]
    return parts


def _failed_before(entry: Entry) -> str:
    """What is to be done about a fail that passed later though nothing was put right."""
    return (
        f"it failed before, at entry {entry.number}, and no repair is recorded. Raise as a defect "
        "what was put right and read again, or take that reading back if it was wrong."
    )


def _reported(job: Job, earlier: Job, status: Status) -> list[tuple[str, str] | str]:
    """What the report that a job follows says of a step, and whether what was found agrees."""
    then = earlier.statuses.get(status.step.id)
    if then is None or then.entry is None:
        return []
    parts: list[tuple[str, str] | str] = ["\n", ("In the report", "bold"), "\n"]
    parts += _entry_line(then.entry, withdrawn=False)
    if then.entry.instrument:
        serial = f" {then.entry.instrument_serial}" if then.entry.instrument_serial else ""
        parts.append((f"  {then.entry.instrument}{serial}", "$quiet"))
    beside = beside_words(job, status)
    return [*parts, "\n", *([beside, "\n"] if beside else [])]


def beside_words(job: Job, status: Status) -> str:
    """Whether the result of a step agrees with the report's; "" where that is not known."""
    from commission.report.second import second_reading

    if job.earlier is None or status.step.item.answer not in ("measure", "observe"):
        return ""
    found = second_reading(job.earlier, job, status.step)
    if found is None or (found.agrees is None and not found.why):
        return ""
    agrees = {True: "agrees with the report", False: "does not agree with the report"}
    words = agrees[found.agrees] if found.agrees is not None else "cannot be compared"
    e_n = f"|E_n| {found.e_n:.2f}, " if found.e_n is not None else ""
    return f"{e_n}{words}" + (f": {found.why}" if found.why else "")


def _found(job: Job, status: Status) -> list[tuple[str, str] | str]:
    """Earlier entries of this step, newest first, and its open defects."""
    step_id = status.step.id
    parts: list[tuple[str, str] | str] = []
    for defect in job.defects_of(step_id):
        from commission.practice.repair import PUT_RIGHT  # a walk without defects needs none of it

        done = defect.action == PUT_RIGHT  # of a practice: what was done, until a retest tells
        says = f"{defect.id}, put right, test again: " if done else f"Open defect {defect.id}: "
        parts += ["\n", (says, "$fail bold"), defect.text]
    history = job.state.history.get(step_id, ())
    if history:
        parts += ["\n", ("Found so far", "bold")]
    for entry in reversed(history):
        parts += ["\n", *_entry_line(entry, entry.number in job.state.withdrawn)]
    return parts


def entry_words(entry: Entry) -> str:
    """One entry in words: what was done, and what was said."""
    if entry.type == "change":
        drawn = f"{entry.before} as drawn, " if entry.before else ""
        return f"drawing: {entry.subject}: {drawn}{entry.after} as found: {entry.text}"
    what = {
        "answer": "",
        "skip": "skipped: ",
        "not-applicable": "not applicable: ",
        "defect": f"defect {entry.defect} {entry.state}: ",
        "attachment": "attached: ",
        "withdrawal": f"entry {entry.refers_to} taken back: ",
        "note": "accepted as an exception: " if entry.decision else "note: ",
    }.get(entry.type, f"{entry.type}: ")
    return f"{what}{entry.text}"


def _entry_line(entry: Entry, withdrawn: bool) -> list[tuple[str, str] | str]:
    when = entry.entered_at.strftime("%Y-%m-%d %H:%M") if entry.entered_at else ""
    who = entry.observed_by or entry.entered_by
    line: list[tuple[str, str] | str] = [f"{when}  {entry_words(entry)}"]
    if entry.verdict:
        line.append((f"  {marked(entry.verdict)}", VERDICT_STYLE.get(entry.verdict, "")))
    if who:
        line.append((f"  {who}", "$quiet"))
    if withdrawn:
        line.append(("  withdrawn", "$quiet"))
    return line
