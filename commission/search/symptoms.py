"""From a job to what the search for a fault takes: readings, the meter, and what lies open.

Only what counts now is taken: the latest live entry of each step. What did not pass on a path
before something there was put right says nothing of what is left, and is left out until it is
tested again; so is what cannot be put in numbers. Each is named.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass

from commission.checklist.plan import Step
from commission.checklist.targets import Target
from commission.electrical.instruments import Accuracy
from commission.expected.sheet import Conditions
from commission.job import Job, Status
from commission.locate.readings import FieldTest, FieldTestKind, Meter, Reading, Unit
from commission.locate.scene import Scene, value
from commission.locate.situation import OVER_RANGE_OHM
from commission.record.entry import Entry
from commission.repairs import put_right_since
from commission.search import STAGE
from commission.search.seen import seen_at_stations
from commission.search.steps import field_test
from commission.site.schema import ROOT, Site
from commission.verdict.judge import PASS

# What each comparison of a checklist is a test of.
_BY_COMPARISON: dict[str, FieldTestKind] = {
    "loop-resistance": "loop",
    "unbridged-resistance": "unbridged",
    "output-voltage": "voltage",
    "standby-current": "current",
    "end-voltage": "voltage",
    "station-current": "current",
}
# Readings against earth have no comparison of their own that tells the conductor.
_BY_ITEM: dict[str, tuple[FieldTestKind, str]] = {
    "insulation-first": ("insulation", "first"),
    "insulation-second": ("insulation", "second"),
    "leak-first": ("insulation", "first"),
    "leak-second": ("insulation", "second"),
    "first-volts-to-earth": ("earth", "first"),
    "second-volts-to-earth": ("earth", "second"),
}


@dataclass(frozen=True, slots=True)
class Symptoms:
    """What is known of one output: readings brought to the conditions of `scene`."""

    output: str
    scene: Scene
    readings: tuple[Reading, ...]
    open_boxes: frozenset[str]
    left_out: tuple[str, ...]  # what was not taken in, and why, in words
    assumed: tuple[Unit, ...]  # quantities read without a known accuracy


def symptoms(job: Job, output: str) -> Symptoms:
    """Everything that a job's record tells of faults of one output."""
    return _Taking(job, output).all()


def test_at(step: Step, site: Site) -> FieldTest | None:
    """The test that a measured step is, None for one that the search has no use for."""
    if step.stage.id == STAGE:
        return field_test(step.id, site)
    kind, conductor = _BY_COMPARISON.get(step.item.compare or ""), ""
    if kind is None:
        kind, conductor = _BY_ITEM.get(step.item.id, (None, ""))
    if kind is None:
        return None
    target = step.target
    station = target.station if kind == "current" else ""
    box = target.box if step.item.compare in ("loop-resistance", "end-voltage") else ROOT
    path = target.path or next(one.id for one in site.path if one.output == target.output)
    output = next(one for one in site.output if one.id == target.output)
    if kind == "earth" and output.earthing != "floating":
        return None
    return FieldTest(kind, path, box, station, conductor)


class _Taking:
    """Takes in the record of a job for one output."""

    def __init__(self, job: Job, output: str) -> None:
        self._job, self._output = job, output
        self._left_out: list[str] = []
        self._scenes: dict[tuple[float | None, float | None], Scene] = {}

    def all(self) -> Symptoms:
        """The symptoms of the output."""
        latest: dict[FieldTest, tuple[Status, Entry]] = {}
        for status, entry in self._readings():
            test = test_at(status.step, self._job.site)
            if test is not None and (test not in latest or latest[test][1].number < entry.number):
                latest[test] = (status, entry)
        read = [self._reading(test, *found) for test, found in latest.items()]
        taken = [reading for reading in read if reading is not None]
        seen, not_told = seen_at_stations(self._job, self._output, self._counts)
        meter, assumed = _meter([(t, found[1]) for t, found in latest.items()])
        scene = self._scene(self._job.conditions)
        return Symptoms(
            self._output,
            Scene(scene.model, meter),
            (*taken, *seen),
            frozenset(self._open_boxes()),
            tuple(dict.fromkeys((*self._left_out, *not_told))),
            assumed,
        )

    def _readings(self) -> Iterator[tuple[Status, Entry]]:
        """The measured steps of this output that count."""
        for status in self._job.statuses.values():
            entry = status.entry
            here = status.step.target.output == self._output
            if here and entry and entry.quantity and self._counts(status):
                yield status, entry

    def _counts(self, status: Status) -> bool:
        """Whether an answer says something of how things are now; else it is named."""
        entry = status.entry
        if entry is None or status.state != "answered":
            return False
        defect = put_right_since(self._job, status.step, entry)
        if not defect or entry.verdict == PASS:
            return True
        self._leave_out(status, f"read before {defect} was put right; test again")
        return False

    def _leave_out(self, status: Status, why: str) -> None:
        self._left_out.append(f"{status.step.target.label}: {status.step.title}: {why}")

    def _reading(self, test: FieldTest, status: Status, entry: Entry) -> Reading | None:
        """What a test told, under the conditions of the scene; None when it says too little."""
        if test.unit == "ohm" and entry.relation in (">", "OL"):
            return Reading(test, math.inf)
        if entry.relation != "=" or entry.value is None:
            self._leave_out(status, f"'{entry.text}' is no value")
            return None
        read = entry.value
        if test.kind == "loop" and status.step.item.compare == "loop-resistance":
            read = self._mean(status.step.target, read)
        elif test.kind in ("unbridged", "side", "insulation") and entry.verdict == PASS:
            read = math.inf  # decoders connected make a sound path read kilohms and climb
        if test.unit == "ohm" and test.kind != "insulation" and read > self._open_ohm(test.path):
            read = math.inf
        then = self._job.conditions_before(entry.number)
        return Reading(test, self._brought_here(test, read, then))

    def _open_ohm(self, path: str) -> float:
        """From here a reading of a path speaks of no copper: beyond it lie only its decoders."""
        decoders_ohm = self._scene(self._job.conditions).plant.unbridged_ohm(path)
        return min(OVER_RANGE_OHM, decoders_ohm / 2)

    def _mean(self, target: Target, read: float) -> float:
        """A loop's mean of both polarities, where the leads were changed over."""
        reversed_ohm = self._job.value_at(target, "loop-reversed")
        return read if reversed_ohm is None else (read + reversed_ohm) / 2

    def _brought_here(self, test: FieldTest, read: float, then: Conditions) -> float:
        """A reading taken at another mains, or in other soil, as it would be at those of now.

        In the proportion of what the sound output reads under both.
        """
        now = self._job.conditions
        mains_v = then.mains_v or now.mains_v  # before it was measured it is taken as later
        before = self._scene(
            Conditions(mains_v, now.soil_c if then.soil_c is None else then.soil_c)
        )
        here = self._scene(now)
        if here is before or not math.isfinite(read) or test.kind in ("earth", "insulation"):
            return read
        expected, was = (value(one.sound, test, "holding") for one in (here, before))
        return read * expected / was if math.isfinite(was) and was else read

    def _scene(self, conditions: Conditions) -> Scene:
        key = (conditions.mains_v.get(self._output), conditions.soil_c)
        if key not in self._scenes:
            self._scenes[key] = Scene(self._job.sheet.on_test_day(self._output, conditions))
        return self._scenes[key]

    def _open_boxes(self) -> Iterator[str]:
        """The boxes of tests of this search, and the box where the last thing was done."""
        for status in self._job.statuses.values():
            target = status.step.target
            searched = status.step.stage.id == STAGE and status.state == "answered"
            if searched and target.box and target.output == self._output:
                yield target.box
        live = [e for e in self._job.state.entries if self._job.state.is_live(e)]
        places = (self._job.plan.by_id.get(entry.step) for entry in reversed(live))
        last = next((step.target for step in places if step is not None), None)
        if last is not None and last.box and last.output == self._output:
            yield last.box


def _meter(read: list[tuple[FieldTest, Entry]]) -> tuple[Meter, tuple[Unit, ...]]:
    """The meter by the accuracies in the entries, the widest of each quantity.

    Readings over range, and against earth, are on other ranges and count only for being so.
    Where none is recorded the common one of `Meter` stands in, and is named.
    """
    found: dict[Unit, Accuracy] = {}
    assumed: dict[Unit, None] = {}
    for test, entry in read:
        if test.kind in ("insulation", "unbridged", "side"):
            continue
        if entry.instrument_percent is None:
            assumed[test.unit] = None
            continue
        step = (entry.instrument_counts or 0.0) * (entry.instrument_resolution or 0.0)
        own = Accuracy(entry.instrument_percent, 1, step, entry.instrument_offset or 0.0)
        found[test.unit] = _wider(found.get(test.unit, own), own)
    stated = {unit: accuracy for unit, accuracy in found.items() if unit not in assumed}
    usual = Meter()
    meter = Meter(
        ohm=stated.get("ohm", usual.ohm),
        volt=stated.get("volt", usual.volt),
        amp=stated.get("amp", usual.amp),
    )
    return meter, tuple(assumed)


def _wider(a: Accuracy, b: Accuracy) -> Accuracy:
    """The wider part of each of two accuracies."""
    return Accuracy(
        max(a.percent_of_reading, b.percent_of_reading),
        1,
        max(a.resolution, b.resolution),
        max(a.offset_half_width, b.offset_half_width),
    )
