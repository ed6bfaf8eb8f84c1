"""Readings, expectations and steps as the report shows them: words for people, SI beside them."""

from __future__ import annotations

from collections.abc import Iterable
from math import floor, log10
from typing import Any

from commission.expected.values import Expectation
from commission.job import Job, Status
from commission.record.entry import Entry
from commission.units import Quantity, in_unit, plain, show, si_per_unit
from commission.verdict.judge import FAIL, MARGINAL, NOT_APPLICABLE, NOT_TESTED, PASS, RECORDED

SI_ENDING: dict[str, str] = {
    "resistance": "_ohm",
    "voltage": "_v",
    "current": "_a",
    "length": "_m",
    "resistivity": "_ohm_m",
    "resistance per length": "_ohm_per_m",
    "temperature": "_c",
    "temperature difference": "_k",
    "power": "_va",
    "frequency": "_hz",
    "time": "_s",
    "pressure": "_pa",
    "fraction": "",
    "area": "_m2",
    "number": "",
}
_WORST_FIRST = (FAIL, MARGINAL, NOT_TESTED, PASS, RECORDED, NOT_APPLICABLE)


def as_read(entry: Entry) -> str:
    """A reading as the meter showed it, in the step's unit and to the last digit typed."""
    quantity: Quantity = entry.quantity  # type: ignore[assignment]
    if entry.value is None:
        return entry.relation
    mark = "" if entry.relation == "=" else entry.relation
    digit = (entry.digit or 0.0) / si_per_unit(entry.unit, quantity)
    decimals = max(0, min(9, -floor(log10(digit) + 1e-9))) if digit > 0 else 3
    value = in_unit(entry.value, entry.unit, quantity)
    return f"{mark}{value:.{decimals}f} {entry.unit}".rstrip()


def expectation_words(expectation: Expectation, unit: str) -> dict[str, str]:
    """`expected` and `range` of an interval, or the `limit`, in a unit, as text."""
    quantity = expectation.quantity
    if expectation.sides != "interval":
        word = "at least" if expectation.sides == "minimum" else "at most"
        return {"limit": f"{word} {show(expectation.value, unit, quantity)}"}
    low, high = expectation.low or 0.0, expectation.high or 0.0
    return {
        "expected": show(expectation.value, unit, quantity),
        "range": f"{plain(in_unit(low, unit, quantity))} to {show(high, unit, quantity)}",
    }


def said(status: Status) -> dict[str, Any]:
    """What the latest entry of a step says: the answer, the reading, or the reason."""
    entry = status.entry
    if entry is None:
        return {}
    if entry.type != "answer":
        return {"state": status.state, "reason": entry.text}
    if not entry.quantity:
        return {"answer": entry.text}
    measured: dict[str, Any] = {"measured": as_read(entry)}
    if entry.relation != "=":
        measured["measured_relation"] = entry.relation
    if entry.value is not None:
        measured[f"measured{SI_ENDING[entry.quantity]}"] = entry.value
    return measured


def said_words(status: Status | None) -> str:
    """The same in words: the reading, the answer, or the state; "" for no step."""
    if status is None:
        return ""
    found = said(status)
    return str(found.get("measured") or found.get("answer") or status.state)


def compact(job: Job, status: Status) -> dict[str, Any]:
    """One line for one step: what was asked, what was found, and the verdict."""
    step = status.step
    line: dict[str, Any] = {"title": step.title}
    expectation = job.expectation_of(status)
    if expectation is not None:
        line |= expectation_words(expectation, step.item.unit)
    line |= said(status)
    line["verdict"] = status.verdict
    if status.verdict in (FAIL, MARGINAL) and status.finding:
        line["finding"] = status.finding
    if status.entry is not None:
        line["entry"] = status.entry.number
        if status.entry.photo:
            line["photo"] = status.entry.photo
    return line | noted(job, step.id)


def noted(job: Job, step_id: str) -> dict[str, str]:
    """The notes made at a step, in one text; nothing where there are none."""
    notes = [entry.text for entry in job.state.notes.get(step_id, ())]
    return {"note": "; ".join(notes)} if notes else {}


def in_full(job: Job, status: Status) -> dict[str, Any]:
    """Everything about one measured step: expected, range, measured, verdict, hands, SI."""
    step, entry = status.step, status.entry
    table: dict[str, Any] = {"title": step.title, "step": step.id}
    expectation = job.expectation_of(status)
    if expectation is not None:
        table |= expectation_words(expectation, step.item.unit)
        table["conditions"] = expectation.conditions
    found = said(status)
    table |= {key: value for key, value in found.items() if isinstance(value, str)}
    table["verdict"] = status.verdict
    if status.finding and entry is not None and entry.type == "answer":
        table["finding"] = status.finding
    table |= {key: value for key, value in found.items() if not isinstance(value, str)}
    table |= _si(expectation, entry)
    if entry is not None:
        table |= _hands(job, entry)
    return table | noted(job, step.id)


def _si(expectation: Expectation | None, entry: Entry | None) -> dict[str, float]:
    """The same numbers in SI at full precision; accepted is the range with the meter's part."""
    numbers: dict[str, float | None] = {}
    if expectation is not None:
        ending = SI_ENDING[expectation.quantity]
        numbers[f"expected{ending}" if expectation.sides == "interval" else f"limit{ending}"] = (
            expectation.value
        )
        if expectation.sides == "interval":
            numbers[f"low{ending}"] = expectation.low
            numbers[f"high{ending}"] = expectation.high
    if entry is not None and entry.quantity:
        ending = SI_ENDING[entry.quantity]
        numbers[f"accepted_low{ending}"] = entry.low
        numbers[f"accepted_high{ending}"] = entry.high
    return {key: value for key, value in numbers.items() if value is not None}


def _hands(job: Job, entry: Entry) -> dict[str, Any]:
    """Who, when, with what, and which entries came before it on the same step."""
    earlier = [
        e.number
        for e in job.state.entries
        if e.step == entry.step and e.type == entry.type and e.number < entry.number
    ]
    table: dict[str, Any] = {
        "observed_by": entry.observed_by,
        "observed_at": entry.observed_at,
        "entered_by": entry.entered_by,
        "instrument": entry.instrument,
        "warning": entry.warning,
        "photo": entry.photo,
        "entry": entry.number,
        "earlier_entries": earlier,
    }
    return {key: value for key, value in table.items() if value not in ("", None, [])}


def verdict_of(statuses: Iterable[Status]) -> str:
    """The verdict of several steps together: the worst of the required and of those answered."""
    found = {
        status.verdict
        for status in statuses
        if status.step.item.required or status.state == "answered"
    }
    worst = next((verdict for verdict in _WORST_FIRST if verdict in found), NOT_APPLICABLE)
    return PASS if worst == RECORDED else worst
