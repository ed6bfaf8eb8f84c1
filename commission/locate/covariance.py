"""How far all readings together may lie from what is predicted: the covariance of the readings."""

from __future__ import annotations

import math
from collections.abc import Sequence
from functools import cached_property

from commission.electrical.distributions import rectangular_u
from commission.expected.causes import OWN_ERROR
from commission.locate.facts import Facts
from commission.locate.faults import Fault
from commission.locate.readings import DEAD_KINDS, FieldTest, Reading
from commission.locate.situation import CoilState
from commission.locate.spread import Spread


class Covariance:
    """The covariance of the readings of one output. Pure."""

    def __init__(self, facts: Facts) -> None:
        self.facts, self.scene = facts, facts.scene
        noise = [self.scene.noise(r.test, r.value) for r in facts.measured]
        self._variance = [v for v, _ in noise]
        self._commons = [c for _, c in noise]

    @cached_property
    def sound(self) -> Spread:
        """The covariance of all readings as the sound output has it, sized by what was read."""
        tests = [(r.test, self._sound_state(r)) for r in self.facts.measured]
        scale = [self._scale(reading) for reading in self.facts.measured]
        columns = self._sound_slopes(tests)
        idle = self._idle_slopes(tests)
        columns = [
            [base + (slope - base) * part for slope, base, part in zip(*rows, scale, strict=True)]
            for rows in zip(columns, idle, strict=True)
        ]
        own = [
            self.scene.sound.own_slope(test, state) * part * rectangular_u(OWN_ERROR)
            if test.kind in ("current", "voltage")
            else 0.0
            for (test, state), part in zip(tests, scale, strict=True)
        ]
        return self._spread_with(columns, own)

    def _sound_slopes(self, tests: Sequence[tuple[FieldTest, CoilState]]) -> list[list[float]]:
        """Slopes of the sound output; what is over range there takes those of its longest loop."""
        stand_in = list(tests)
        for i, (test, _) in enumerate(tests):
            if test.kind in ("unbridged", "side"):
                stand_in[i] = (self.scene.longest_loop(test.path), "holding")
        return self.scene.slopes(stand_in) if stand_in else [[] for _ in self.scene.moved]

    def of(self, faults: Sequence[Fault], states: Sequence[CoilState]) -> Spread:
        """The covariance of all readings while faults are there."""
        pairs = list(zip(self.facts.measured, states, strict=True))
        tests = [(reading.test, state) for reading, state in pairs]
        columns = self.scene.slopes(tests, faults)
        situation = self.scene.situation(faults)
        own = [
            situation.own_slope(test, state) * rectangular_u(OWN_ERROR)
            if test.kind in ("current", "voltage")
            else 0.0
            for test, state in tests
        ]
        return self._spread_with(columns, own)

    def _spread_with(self, columns: list[list[float]], own: list[float]) -> Spread:
        """Stations read more than once share their coils' error; of the others it is noise.

        What reads nothing, because nothing is there to read, says nothing of any cause.
        """
        silent = [
            r.test.kind not in DEAD_KINDS and self.facts.reads_nothing(r)
            for r in self.facts.measured
        ]
        columns = [[0.0 if q else x for x, q in zip(c, silent, strict=True)] for c in columns]
        places: dict[str, list[int]] = {}
        for i, reading in enumerate(self.facts.measured):
            if own[i] and not silent[i]:
                places.setdefault(reading.test.station, []).append(i)
        variance = list(self._variance)
        gains = self.scene.gain_columns([r.test for r in self.facts.measured], self._commons)
        columns = [*columns, *gains]
        for rows in places.values():
            if len(rows) == 1:
                variance[rows[0]] += own[rows[0]] ** 2
            else:
                columns.append([x if i in rows else 0.0 for i, x in enumerate(own)])
        return Spread(variance, columns)

    def _sound_state(self, reading: Reading) -> CoilState:
        """The state that a coil is in where nothing is wrong; pulling in where no water came."""
        station = reading.test.station
        seen = self.facts.water.get(station)
        return "inrush" if seen is not None and not seen else "holding"

    def _scale(self, reading: Reading) -> float:
        """How much of the sound coil's current there was."""
        test = reading.test
        if test.kind in DEAD_KINDS:
            if not math.isfinite(reading.value):
                return 0.0
            like = test if test.kind == "loop" else self.scene.longest_loop(test.path)
            return min(1.0, reading.value / self.scene.sound.dead(like))
        if test.kind == "earth":
            return 0.0  # its causes are in its own noise
        if test.kind == "voltage":
            return 1.0 if reading.value > 1.0 else 0.0
        if test.kind != "current" or not test.station:
            return 1.0
        idle_a = self.scene.sound.live(FieldTest("current", test.path))
        sound_a = self.scene.sound.live(test, self._sound_state(reading))
        idle = self.facts.current.get((test.path, ""))
        drawn_a = reading.value - (idle.value if idle else idle_a)
        part = drawn_a / (sound_a - idle_a) if sound_a != idle_a else 1.0
        return min(max(part, 0.0), 3.0)

    def _idle_slopes(self, tests: Sequence[tuple[FieldTest, CoilState]]) -> list[list[float]]:
        """The slopes of the path's idle current for currents; none for what is no current."""
        idle: list[tuple[FieldTest, CoilState]] = [
            (FieldTest("current", test.path), "holding") for test, _ in tests
        ]
        if not idle:
            return [[] for _ in self.scene.moved]
        columns = self.scene.slopes(idle)
        is_current = [test.kind == "current" for test, _ in tests]
        return [[x if one else 0.0 for x, one in zip(c, is_current, strict=True)] for c in columns]
