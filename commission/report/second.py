"""Two readings of one thing by two people: do they agree within what both can tell?

|E_n| = |d| / U(d), d the inspector's value less the installer's and U(d) its expanded uncertainty
(k = 2); up to 1 they agree (ISO 13528, from memory). What both share, such as the gain of one
instrument that read both, is one variable and cancels in d (JCGM 100 5.2).
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

from commission.checklist.plan import Step
from commission.electrical.uncertainty import COVERAGE_FACTOR
from commission.job import Job, Status
from commission.report.change import CHANGED, UNCHANGED
from commission.report.measured import how_compared, measured_change
from commission.report.shown import said_words
from commission.verdict.judge import RECORDED

HOW = (
    "e_n is |inspector - installer| over its expanded uncertainty (k = 2), the gain of an "
    "instrument that read both cancelled; up to 1 they agree. Loops at 20 °C; voltages and "
    "currents less what was expected at the mains and in the soil of their day. Without e_n they "
    "agree when their verdicts do"
)
_SEEN = ("measure", "observe")


@dataclass(frozen=True, slots=True)
class SecondReading:
    """What both found at one step; `agrees` is None where that cannot be said, `why` says why."""

    installer: Status
    inspector: Status
    agrees: bool | None
    e_n: float | None = None
    why: str = ""

    @property
    def table(self) -> dict[str, Any]:
        """One line of the report."""
        step = self.inspector.step
        row: dict[str, Any] = {
            "step": step.id,
            "place": step.target.label,
            "title": step.title,
            "installer": said_words(self.installer),
            "installer_verdict": self.installer.verdict,
            "inspector": said_words(self.inspector),
            "inspector_verdict": self.inspector.verdict,
            "e_n": self.e_n,
            "agrees": self.agrees,
            "why": self.why,
        }
        return {key: value for key, value in row.items() if value is not None and value != ""}


def second_reading(earlier: Job, later: Job, step: Step) -> SecondReading | None:
    """Both results of a step side by side; None unless both jobs have answered it."""
    then, now = earlier.statuses.get(step.id), later.statuses.get(step.id)
    if then is None or now is None or {then.state, now.state} != {"answered"}:
        return None
    how = how_compared(step)
    if how is None:
        if {then.verdict, now.verdict} == {RECORDED}:
            return SecondReading(then, now, None)
        return SecondReading(then, now, then.verdict == now.verdict)
    change = measured_change(earlier, later, step, how).change
    if change.value is None or not change.u:
        agrees = {UNCHANGED: True, CHANGED: False}.get(change.result)
        return SecondReading(then, now, agrees, why=change.why)
    e_n = abs(change.value) / (COVERAGE_FACTOR * change.u)
    weather = e_n > 1 and change.result == UNCHANGED
    why = "within what soil and weather may change" if weather else ""
    return SecondReading(then, now, e_n <= 1, e_n, why)


def second_readings(earlier: Job, later: Job) -> Iterator[SecondReading]:
    """All that both measured or observed, and whatever else was answered otherwise."""
    for status in later.statuses.values():
        found = second_reading(earlier, later, status.step)
        if found is None:
            continue
        if status.step.item.answer in _SEEN or found.agrees is False:
            yield found
