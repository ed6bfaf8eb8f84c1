"""What an earlier report already held about a place where something is wrong or different now.

For whoever reviews a warranty: it says what was read, by how much it was inside, what was left
undone and what was put right. It states facts; whose fault it was is not in them.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Literal

from commission.job import Job, Status
from commission.record.entry import Entry
from commission.report.comparable import as_read
from commission.report.shown import as_read as as_shown
from commission.units import in_unit, plain, show
from commission.verdict.judge import FAIL, MARGINAL, PASS

Kind = Literal[
    "outside",
    "marginal",
    "upper part",
    "lower part",
    "as expected",
    "kept its limit",
    "passed",
    "recorded",
    "skipped",
    "not measured",
    "not applicable",
    "not in the earlier report",
]
NEAR_U = 1.0  # standard uncertainties from what was expected, from where it is said to be inside


@dataclass(frozen=True, slots=True)
class Handover:
    """What the earlier report held, as one of a few kinds and in words."""

    kind: Kind
    words: str


def at_handover(earlier: Job, step_id: str) -> Handover:
    """What the earlier report says of a step."""
    status = earlier.statuses.get(step_id)
    if status is None:
        return Handover("not in the earlier report", "the earlier report does not ask for it")
    kind, words = _told(status)
    return Handover(kind, "; ".join([words, *_besides(earlier, status)]))


def _told(status: Status) -> tuple[Kind, str]:
    entry = status.entry
    if entry is None:
        return "not measured", "left open then: nothing was recorded"
    if status.state == "skipped":
        return "skipped", f"skipped then: {entry.text}"
    if status.state == "not applicable":
        return "not applicable", f"marked as not applicable then: {entry.text}"
    if status.verdict == FAIL:
        return "outside", f"it failed then already: {entry.finding or entry.text}"
    if status.verdict == MARGINAL:
        return "marginal", f"it was marginal then: {entry.finding}"
    if status.verdict != PASS:
        return "recorded", "recorded then without a verdict"
    return _inside(entry)


def _inside(entry: Entry) -> tuple[Kind, str]:
    """Where in its range a passing reading stood, in standard uncertainties."""
    low, high, value, expected = entry.low, entry.high, entry.value, entry.expected
    if not entry.quantity:
        return "passed", f"seen as it should be then: {entry.text}"
    if value is None or expected is None or entry.relation != "=":
        return "kept its limit", f"it passed then with {as_shown(entry)}"
    if low is None or high is None:
        return "kept its limit", _beside_limit(entry, value, expected)
    # The bounds used are the expected value ±2u, the meter's part included.
    away = 2 * (value - expected) / (high - expected) if high > expected else 0.0
    side = "above" if away > 0 else "below"
    told = f"{abs(away):.1f} standard uncertainties {side} the value expected then"
    if abs(away) < 0.05:  # 0.0 as it is shown
        return "as expected", "it passed then, at the value expected"
    if away >= NEAR_U:
        return "upper part", f"it passed then, in the upper part of the range: {told}"
    if away <= -NEAR_U:
        return "lower part", f"it passed then, in the lower part of the range: {told}"
    return "as expected", f"it passed then, near the middle of the range: {told}"


def _beside_limit(entry: Entry, value: float, limit: float) -> str:
    quantity = entry.quantity
    apart = show(abs(value - limit), entry.unit, quantity, 2)  # type: ignore[arg-type]
    shown = plain(in_unit(limit, entry.unit, quantity))  # type: ignore[arg-type]
    words = f"it passed then with {as_shown(entry)}, {apart} from its limit of {shown}"
    u = as_read(entry, "then").u
    if u and entry.accuracy.percent_of_reading:
        words += f", {abs(value - limit) / u:.1f} standard uncertainties of the meter"
    return words


def _besides(earlier: Job, status: Status) -> Iterator[str]:
    """Failed readings before the latest, defects of the step, a decision on its result."""
    step_id, latest = status.step.id, status.entry
    failed = [
        entry
        for entry in earlier.state.history.get(step_id, ())
        if entry.type == "answer"
        and entry.verdict == FAIL
        and earlier.state.is_live(entry)
        and latest is not None
        and entry.number < latest.number
    ]
    if failed:
        shown = ", ".join(as_shown(e) if e.quantity else e.text for e in failed)
        yield f"it had failed before that ({shown}) and was tested again"
    for defect in earlier.state.defects.values():
        if defect.step == step_id and defect.state != "withdrawn":
            yield f"defect {defect.id} was {defect.state} there: {defect.text}"
    if step_id in earlier.state.decisions:
        yield "handed over as a named exception"
