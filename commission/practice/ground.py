"""The practice ground: what its meter shows, and what its helper sees, at every step.

The site differs from its drawing within the stated uncertainties; the meter has a gain error of its
own for each quantity, noise, resolution and over-range. All of it follows from one random state, so
that the same reading taken again at the same place is the same but for its noise.
"""

from __future__ import annotations

import math
import random
from dataclasses import replace
from functools import cached_property

from commission.checklist.plan import Step
from commission.checklist.schema import NO, YES
from commission.expected.causes import OWN_ERROR
from commission.expected.model import OutputModel
from commission.expected.sheet import Sheet
from commission.job import Job
from commission.locate.faults import Fault
from commission.locate.plant import Plant
from commission.locate.readings import DEAD_KINDS, FieldTest, Unit
from commission.locate.situation import CoilState, Situation
from commission.practice.repair import left
from commission.practice.truth import Truth
from commission.search.symptoms import test_at
from commission.units import in_unit
from commission.user.instruments import DEMO

_AT_STATION = ("indicator", "valve", "others")
_COMMON = 2 / 3  # of each percentage, in all readings of a quantity
_MOST = {"E": 0.02}  # of the half-width of a cause
_PART = 0.7  # of each half-width: what is sound reads as sound, nearly always (judgement)
_SOUND_OHM = 300_000.0  # where a sound path stops climbing


class Ground:
    """A practice site as it really is."""

    def __init__(self, sheet: Sheet, truth: Truth) -> None:
        self._sheet, self.truth = sheet, truth
        self._repaired: dict[tuple[Fault, ...], Ground] = {}

    def _rng(self, *names: object) -> random.Random:
        return random.Random("/".join(map(str, (self.truth.random, *names))))

    @cached_property
    def _model(self) -> OutputModel:
        """The output as built: every cause somewhere within its half-width."""
        drawn = self._sheet.on_test_day("1")
        shifts = {
            cause.key: self._rng(cause.key).uniform(-_PART, _PART)
            * min(cause.half_width, _MOST.get(cause.key, cause.half_width))
            for cause in drawn.causes
            if not cause.key.startswith("own/")
        }
        for station in drawn.stations:
            shifts[f"own/{station.id}"] = OWN_ERROR * self._rng("coil", station.id).uniform(
                -_PART, _PART
            )
        return replace(drawn, mains=self.mains_v / self._nominal_v, shifts=shifts)

    @property
    def _nominal_v(self) -> float:
        return self._sheet.site.supply.nominal_voltage_v

    @property
    def mains_v(self) -> float:
        """The mains of the day."""
        return round(self._nominal_v * self._rng("mains").uniform(0.97, 1.03), 1)

    @cached_property
    def _plant(self) -> Plant:
        return Plant(self._model)

    @cached_property
    def _now(self) -> Situation:
        return Situation(self._plant, self.truth.faults)

    # what is told

    def tells(self, job: Job, step: Step) -> str:
        """What is to be entered at a step, as it is typed; "" where the person decides.

        What was put right so far reads and looks as it should. Of what was drawn in on site nothing
        is told: it is not in this ground.
        """
        if not self._has(step):
            return ""
        return self._as_left(left(job, self.truth))._tells(job, step)

    def _has(self, step: Step) -> bool:
        """Whether the place of a step is in this ground."""
        target, drawing = step.target, self._sheet.drawing
        if target.station and target.station not in drawing.stations:
            return False
        return not target.box or target.box in drawing.trees[target.path].boxes

    def _as_left(self, faults: tuple[Fault, ...]) -> Ground:
        """The same ground with these faults only."""
        if faults == self.truth.faults:
            return self
        if faults not in self._repaired:
            self._repaired[faults] = Ground(self._sheet, replace(self.truth, faults=faults))
        return self._repaired[faults]

    def _tells(self, job: Job, step: Step) -> str:
        if step.item.answer == "measure":
            return self._shown(job, step)
        return self._seen(step)

    def _shown(self, job: Job, step: Step) -> str:
        """What the meter shows."""
        item, before = step.item, job.state.history.get(step.id, ())
        rng = self._rng(step.id, sum(entry.type == "answer" for entry in before))
        if item.compare == "mains-voltage":
            return f"{self.mains_v:.1f} V"
        if item.compare == "dead-voltage":
            return "0.00 V"
        test = test_at(step, job.site)
        if item.compare == "loop-reversed":
            test = FieldTest("loop", step.target.path, step.target.box)
        if test is None:
            return ""
        return self._displayed(step, test.unit, self._value(test), rng)

    def _value(self, test: FieldTest) -> float:
        """What a test really is."""
        if test.kind in DEAD_KINDS:
            value = self._now.dead(test)
            climbs = test.kind in ("unbridged", "side") and not math.isfinite(value)
            return _SOUND_OHM if climbs else value
        state: CoilState = self._call(test.station)[0] if test.station else "holding"
        if self._gives_up(test.station, state):
            return 0.0
        return self._now.live(test, state)

    def _displayed(self, step: Step, unit: Unit, value: float, rng: random.Random) -> str:
        """A value with the meter's gain, noise and resolution, in the unit of the step."""
        if not math.isfinite(value):
            return "OL"
        item = step.item
        assert item.quantity is not None
        accuracy = DEMO.accuracy_for(item.quantity, value)
        if accuracy is None:
            return "OL"
        part = accuracy.percent_of_reading / 100
        gain = self._rng("gain", unit).uniform(-1, 1) * part * _COMMON
        noise = rng.uniform(-1, 1) * part * (1 - _COMMON)
        offset = self._rng("offset", unit).uniform(0, 1) * accuracy.offset_half_width
        off = rng.uniform(-1, 1) * accuracy.counts * accuracy.resolution
        exact = value * (1 + gain + noise) + offset + off
        counts = round(exact / accuracy.resolution)
        read = max(0.0, counts * accuracy.resolution)
        shown = in_unit(read, item.unit, item.quantity)
        step_shown = in_unit(accuracy.resolution, item.unit, item.quantity)
        places = max(0, -math.floor(math.log10(step_shown) + 1e-9))
        if places == 3 and shown >= 1:
            places = 4  # three decimals could be read as thousands
        return f"{shown:.{places}f} {item.unit}"

    def _seen(self, step: Step) -> str:
        """What the helper reads back."""
        item, station = step.item, step.target.station
        if station and (item.sign in _AT_STATION or item.id == "which-other"):
            return self._at_station(step)
        if item.answer == "choose" and step.target.path and not station:
            leak = self._now.leak(step.target.path)
            return item.choice[0 if leak is None else -1].say
        if item.answer == "text":
            return ""
        return next((one.say for one in item.choice if one.verdict == "pass"), YES)

    def _at_station(self, step: Step) -> str:
        item, station = step.item, step.target.station
        state, opened = self._call(station)
        if self._gives_up(station, state):
            opened = frozenset()
        if item.sign == "indicator":
            lit = station in self._now.answering(station) and self._acts(station)
            return item.choice[0].say if lit else "dark"
        if item.sign == "valve":
            return item.choice[0].say if station in opened else item.choice[-1].say
        others = opened - {station}
        if item.sign == "others":
            return NO if others else YES
        numbers = {one.id: one.number for one in self._sheet.site.station}
        return ", ".join(str(numbers[one]) for one in sorted(others))

    # what is called

    def _call(self, station: str) -> tuple[CoilState, frozenset[str]]:
        """The state of the coils while a station is called, and the valves that open."""
        acting = [one for one in self._now.answering(station) if self._acts(one)]
        if not acting:
            return "off", frozenset()
        opened = frozenset(one for one in acting if self._pulls(one, station))
        return ("holding" if opened else "inrush"), opened

    def _acts(self, station: str) -> bool:
        node = self._plant.coils[station].node
        return self._now.idle_v(node) > self._rng("acts", station).uniform(8.5, 11.5)

    def _pulls(self, name: str, called: str) -> bool:
        over = self._rng("pulls", name).uniform(0.6, 0.9) * self._plant.coils[name].min_v
        return self._now.pull_in_v(name, called) > over

    def _gives_up(self, station: str, state: CoilState) -> bool:
        limit_a = self._plant.trip_a * self._rng("trip").uniform(0.9, 1.1)
        return self._now.output_a(self._now.run(station, state)) > limit_a
