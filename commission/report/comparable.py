"""A reading brought to conditions in which it can stand beside one of another year, SI.

Every doubt keeps the name of its cause. One that acts on both days, such as the gain of one meter
or the length of one cable, is then one variable, and of it remains what it does to the difference.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from math import hypot
from typing import Final

from commission.checklist.plan import Step
from commission.electrical.conductors import COPPER_PER_K, at_temperature
from commission.electrical.distributions import rectangular_u
from commission.electrical.earth import slope_method
from commission.electrical.instruments import reading_error
from commission.electrical.solenoids import coil_z_ohm
from commission.electrical.sources import FORMULA_SET
from commission.electrical.uncertainty import Budget, Contribution, budget
from commission.expected.model import solenoid
from commission.expected.soil import MEASURED_SOIL_K
from commission.job import Job
from commission.judging import SLOPE
from commission.record.entry import Entry
from commission.units import show
from commission.verdict.earth import slope_error

_SOIL: Final = "soil temperature"  # how loops and networks call the cause that is another each day
COIL_K: Final = 15.0
"""How much warmer or colder a coil may be than on another day: weather, running (judgement)."""
MAINS_DRIFT: Final = 0.01
"""How far the mains may move between their own reading and another one, a fraction (judgement)."""


@dataclass(frozen=True, slots=True)
class Comparable:
    """A value with what each cause may have done to it; `note` says how it came about.

    `relation` is that of the reading: with ">" or "<" the value is a bound, with "OL" it says
    nothing.
    """

    value: float
    parts: tuple[Contribution, ...]
    note: str = ""
    relation: str = "="

    def times(self, factor: float) -> Comparable:
        """The same, multiplied."""
        parts = tuple(replace(part, effect=part.effect * factor) for part in self.parts)
        return replace(self, value=self.value * factor, parts=parts)

    @property
    def u(self) -> float:
        """Standard uncertainty."""
        return budget(self.value, self.parts).u


def difference(then: Comparable, now: Comparable) -> Budget:
    """`now` less `then`; what both share is one variable (JCGM 100 5.2)."""
    return budget(now.value - then.value, (*now.parts, *then.times(-1.0).parts))


def gain_name(entry: Entry, day: str) -> str:
    """The cause behind a meter's percentage: one for each instrument, quantity and range.

    An instrument is known again by its id and serial; without a serial it is another each day.
    """
    known = entry.instrument_serial and entry.instrument_percent is not None
    which = f"{entry.instrument} serial {entry.instrument_serial}" if known else f"meter {day}"
    percent, count = entry.instrument_percent, entry.instrument_resolution
    return f"gain of {which}, {entry.quantity}, {percent} % with counts of {count}"


def as_read(entry: Entry, day: str) -> Comparable:
    """A reading as it is, with the meter's errors."""
    value = entry.value or 0.0
    error = reading_error(entry.accuracy, value)
    return Comparable(
        value,
        (
            Contribution(gain_name(entry, day), error.gain_half_width),
            Contribution(f"counts of entry {entry.number} {day}", error.counts_half_width),
        ),
        relation=entry.relation,
    )


def at_20_c(job: Job, entries: tuple[Entry, ...], day: str) -> Comparable:
    """A loop at 20 °C: the mean of its polarities over 1 + 0.00393 (T - 20).

    T is the soil as measured that day, ±3 K, else as the site file says. All of the loop is taken
    for copper: joints do not warm, but are a small part of a loop.
    """
    soil = job.site.soil
    measured_c = job.conditions.soil_c
    soil_c = soil.test_day_c if measured_c is None else measured_c
    half_width_k = soil.test_day_uncertainty_k if measured_c is None else MEASURED_SOIL_K
    read = [as_read(entry, day).times(1 / len(entries)) for entry in entries]
    mean = budget(sum(one.value for one in read), (part for one in read for part in one.parts))
    factor = at_temperature(1.0, soil_c)
    at_20 = Comparable(mean.value, mean.contributions).times(1 / factor)
    per_k = at_20.value * COPPER_PER_K / factor
    spread = rectangular_u(soil.segment_uncertainty_k) * _unevenness(job, entries[0].step)
    parts = (
        *at_20.parts,
        Contribution(f"{_SOIL} {day}", -per_k * half_width_k),
        Contribution(f"temperature from segment to segment {day}", per_k * spread, "normal"),
    )
    known = "measured" if measured_c is not None else "not measured, by the site file"
    note = f"soil {day} {job.sheet.drawing.degrees(soil_c)} ±{half_width_k:g} K ({known})"
    return Comparable(at_20.value, parts, note, entries[0].relation)


def _unevenness(job: Job, step: str) -> float:
    """How much of independent errors of its segments a route keeps: 1 for one segment alone."""
    target = job.plan.by_id[step].target
    cables = [one.cable for one in job.sheet.drawing.route(target.path, target.box)]
    shares = [c.length_m * (c.first.r20_ohm_per_m + c.second.r20_ohm_per_m) for c in cables]
    return hypot(*shares) / sum(shares)


def against_expectation(job: Job, entry: Entry, day: str) -> Comparable | None:
    """A voltage or current less what was expected of it at the mains and in the soil of that day.

    None where mains were not measured: what was expected is then not known well enough. The error
    of that reading moves the expectation in proportion (a little too much for currents).
    """
    step = job.plan.by_id[entry.step]
    expectation, mains = job.expectation(step), _mains(job, step.target.output)
    if expectation is None or mains is None or not mains.value:
        return None
    expected = expectation.value
    if job.header.formula_set == FORMULA_SET and entry.expected is not None:
        expected = entry.expected  # at the mains measured by then
    model = Comparable(expected, tuple(_on(day, part) for part in expectation.budget))
    supply = as_read(mains, day).times(expected / mains.value)
    read = as_read(entry, day)
    coils = _coil_temperature(job, step, expected, day)
    drift = Contribution(f"mains between the readings {day}", MAINS_DRIFT * expected)
    doubts = (*read.parts, drift, *coils, *model.times(-1.0).parts, *supply.times(-1.0).parts)
    parts = budget(read.value, doubts).contributions
    shown = show(expected, entry.unit, entry.quantity, 4)  # type: ignore[arg-type]
    note = f"mains {day} {mains.value:.1f} V, expected {day} {shown}"
    return Comparable(read.value - expected, parts, note)


def _coil_temperature(job: Job, step: Step, expected: float, day: str) -> Iterator[Contribution]:
    """What a coil's own temperature does to the current of a station; copper, and no model has it.

    d|Z|/|Z| = (R/|Z|)²·α·ΔT, and the current follows the impedance; standby counted with it.
    """
    station = job.sheet.drawing.stations.get(step.target.station)
    if station is None or step.item.quantity != "current":
        return
    site = job.site
    coils = [
        coil_z_ohm(solenoid(site.solenoid_kind[one.kind]), "holding", site.site.frequency_hz)
        for one in station.solenoid
    ]
    share = max((z.real / abs(z)) ** 2 for z in coils)
    yield Contribution(f"coil temperature {day}", expected * share * COPPER_PER_K * COIL_K)


def _on(day: str, part: Contribution) -> Contribution:
    """A cause of doubt of the drawing; the soil's temperature is another each day."""
    return replace(part, cause=f"{part.cause} {day}") if _SOIL in part.cause else part


def _mains(job: Job, output: str) -> Entry | None:
    """The latest reading of the mains that counts for an output."""
    return next(
        (
            entry
            for step_id, entry in reversed(tuple(job.state.latest.items()))
            if (step := job.plan.by_id.get(step_id)) is not None
            and step.item.compare == "mains-voltage"
            and step.target.output in ("", output)
            and entry.value is not None
        ),
        None,
    )


def by_slope(entries: tuple[Entry, ...], day: str) -> Comparable | None:
    """What three readings of the slope method give together; None where they give nothing."""
    if len(entries) != len(SLOPE):
        return None
    r20, r40, r60 = (entry.value or 0.0 for entry in entries)
    try:
        found = slope_method(r20, r40, r60)
    except ValueError:
        return None
    error = slope_error((r20, r40, r60), found.resistance_ohm, entries[-1].accuracy)
    parts = (
        Contribution(gain_name(entries[-1], day), error.gain_half_width),
        Contribution(f"counts of the slope method {day}", error.counts_half_width),
    )
    return Comparable(found.resistance_ohm, parts)
