"""Which readings are compared over the years, and by which rule; one step of both reports each."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Final, Literal

from commission.checklist.plan import Step
from commission.job import Job
from commission.judging import SLOPE
from commission.record.entry import Entry
from commission.report.change import (
    CANNOT,
    CHANGED,
    SEASON_FACTOR,
    WEATHER_FACTOR,
    Change,
    changed_by,
)
from commission.report.comparable import (
    Comparable,
    against_expectation,
    as_read,
    at_20_c,
    by_slope,
    gain_name,
)

How = Literal["loop", "earth", "insulation", "expectation", "as read"]

# Name of a comparison -> how its readings are compared. What is not here belongs to its day (mains,
# proving dead), or is a check and no value (unbridged): of it only the verdicts are compared.
MEASURED: Final[Mapping[str, How]] = {
    "loop-resistance": "loop",
    "earth-resistance": "earth",
    "earth-clamp": "earth",
    "slope-60": "earth",
    "earthing-conductor": "as read",
    "insulation": "insulation",
    "leak-resistance": "insulation",
    "output-voltage": "expectation",
    "standby-current": "expectation",
    "end-voltage": "expectation",
    "station-current": "expectation",
    "station-voltage": "expectation",
    "together-voltage": "expectation",
    "together-output-voltage": "expectation",
}

RULES: Final[Mapping[str, str]] = {
    "loop": (
        "loops at 20 °C, each by the soil of its own day; all of a loop is taken for copper: "
        "joints do not warm, but are small"
    ),
    "earth": (
        f"earth: moisture and temperature alone may change it by a factor of {SEASON_FACTOR:g} "
        "(judgement; temperature alone makes 1.9 in sandy loam, IEEE Std 142); frozen soil is not "
        "compared"
    ),
    "insulation": (
        f"insulation and leaks, the same test only: weather alone may change them by a factor of "
        f"{WEATHER_FACTOR:g} (they halve for each 10 K, common practice; judgement)"
    ),
    "expectation": (
        "voltages and currents: what was read less what was expected at the mains and in the soil "
        "of that day; doubts of the drawing that both share cancel"
    ),
    "as read": "earthing conductor: as read, its temperature is not known",
    "verdict": "everything else: by its verdict",
    "worst set": "worst sets: by their verdict, computed by this program from both reports",
}


@dataclass(frozen=True, slots=True)
class MeasuredChange:
    """A change of a reading, what it was compared by, in SI, and what is to be known of it."""

    change: Change
    then_si: float | None = None
    now_si: float | None = None
    notes: tuple[str, ...] = ()


def how_compared(step: Step) -> How | None:
    """By which rule the readings of a step are compared; None where only verdicts are."""
    return MEASURED.get(step.item.compare or "")


def measured_change(earlier: Job, later: Job, step: Step, how: How) -> MeasuredChange:
    """Compare the readings of a step that both jobs have answered."""
    then_read, now_read = earlier.state.latest[step.id], later.state.latest[step.id]
    reason = _apart(earlier, later, step, how, (then_read, now_read))
    if reason:
        return MeasuredChange(Change(CANNOT, reason))
    if how == "loop" and (then_read.relation == "OL") != (now_read.relation == "OL"):
        closed = "a circuit then, none now" if now_read.relation == "OL" else "none then, one now"
        return MeasuredChange(Change(CHANGED, closed))
    then, now = _comparable(earlier, step, how, "then"), _comparable(later, step, how, "now")
    if isinstance(then, str) or isinstance(now, str):
        reasons = dict.fromkeys(one for one in (then, now) if isinstance(one, str))
        return MeasuredChange(Change(CANNOT, "; ".join(reasons)))
    if how == "earth":
        change = changed_by(then, now, SEASON_FACTOR)
    elif how == "insulation":
        change = changed_by(then, now, WEATHER_FACTOR, "fall")
    else:
        change = changed_by(then, now)
    notes = [one.note for one in (then, now) if one.note]
    notes += _notes(earlier, later, step, how, (then_read, now_read))
    values = [one.value if one.relation == "=" else None for one in (then, now)]
    return MeasuredChange(change, values[0], values[1], tuple(notes))


def _apart(earlier: Job, later: Job, step: Step, how: How, read: tuple[Entry, Entry]) -> str:
    """Why two readings do not belong together; empty where they do."""
    if how == "earth":
        frozen = {"then": _frozen(earlier), "now": _frozen(later)}
        if any(frozen.values()):
            days = " and ".join(f"{why} {day}" for day, why in frozen.items() if why)
            return f"frozen soil: {days}"
    tests = [job.plan.by_id[step.id].item.compare for job in (earlier, later)]
    if tests[0] != tests[1]:
        return f"not the same test: {tests[0] or 'none'} then, {tests[1] or 'none'} now"
    if read[0].quantity != read[1].quantity:
        return "not the same quantity"
    return ""


def _frozen(job: Job) -> str:
    """By what the soil is known to have been frozen; empty where it was not."""
    soil_c = job.conditions.soil_c
    if soil_c is not None and soil_c <= 0.0:
        return f"soil at {job.sheet.drawing.degrees(soil_c)}"
    return "called frozen" if _moisture(job) == "frozen" else ""


def _moisture(job: Job) -> str:
    """How wet the soil was called; empty where it was not asked."""
    return job.answers.get("job/soil-moisture", "")


def _comparable(job: Job, step: Step, how: How, day: str) -> Comparable | str:
    """A job's reading as it can be compared, or why it cannot be."""
    entry = job.state.latest[step.id]
    if how == "loop":
        return at_20_c(job, _polarities(job, step, entry), day)
    if how == "expectation":
        if entry.relation != "=":
            return f"only a bound was read {day}"
        found = against_expectation(job, entry, day)
        return found or f"mains not measured {day}"
    if step.item.compare == SLOPE[-1]:
        found = by_slope(_slope_entries(job, step), day)
        return found or f"the three readings of the slope method give no value {day}"
    return as_read(entry, day)


def _polarities(job: Job, step: Step, entry: Entry) -> tuple[Entry, ...]:
    """The loop's readings: both polarities where one range of one meter read both."""
    other = next(
        (
            status.entry
            for status in job.statuses.values()
            if status.step.item.compare == "loop-reversed"
            and status.step.target == step.target
            and status.state == "answered"
        ),
        None,
    )
    if other is None or entry.relation != "=" or other.relation != "=":
        return (entry,)
    return (entry, other) if gain_name(entry, "") == gain_name(other, "") else (entry,)


def _slope_entries(job: Job, step: Step) -> tuple[Entry, ...]:
    """The three readings of the slope method in their order, as far as they are numbers."""
    found: dict[str | None, Entry | None] = {
        status.step.item.compare: status.entry
        for status in job.statuses.values()
        if status.step.target == step.target and status.state == "answered"
    }
    entries = (found.get(name) for name in SLOPE)
    return tuple(e for e in entries if e is not None and e.relation == "=")


def _notes(earlier: Job, later: Job, step: Step, how: How, read: tuple[Entry, Entry]) -> list[str]:
    """What else is to be known of this comparison: meters, moisture, another drawing."""
    then, now = read
    notes = [_meters(then, now)]
    moisture = _moisture(earlier), _moisture(later)
    if how in ("earth", "insulation") and all(moisture):
        notes.append(f"soil {moisture[0]} then, {moisture[1]} now")
    if how == "loop":
        drawn = [_drawn_ohm(job, step) for job in (earlier, later)]
        if abs(drawn[0] - drawn[1]) > 1e-6 * max(drawn):
            notes.append(
                f"the route is drawn otherwise: {drawn[0]:.2f} ohm of cable at 20 °C then, "
                f"{drawn[1]:.2f} now"
            )
    return notes


def _meters(then: Entry, now: Entry) -> str:
    """Whether one instrument read both, so that its gain cancels."""
    if gain_name(then, "then") != gain_name(now, "now"):
        return (
            "not the same instrument, range and accuracy (which the air changes), or no serial: "
            "both gains count in full"
        )
    words = f"the same instrument ({now.instrument}): its gain cancels"
    if then.instrument_calibration_due != now.instrument_calibration_due:
        words += ", but not if it was adjusted at a calibration in between"
    return words


def _drawn_ohm(job: Job, step: Step) -> float:
    """The copper of a route as drawn, at 20 °C, in ohm."""
    cables = [one.cable for one in job.sheet.drawing.route(step.target.path, step.target.box)]
    return sum(c.length_m * (c.first.r20_ohm_per_m + c.second.r20_ohm_per_m) for c in cables)
