"""What was seen of every call: how likely it is, and in which state the coils must have been."""

from __future__ import annotations

import math
from collections.abc import Iterable

from commission.locate.facts import Facts
from commission.locate.readings import Reading
from commission.locate.signs import Signs
from commission.locate.situation import CoilState, Run, Situation

SLIP = 1e-4
"""Least probability of anything that people may have seen or done (judgement)."""
_METER_PART = 0.03  # how far apart a read and a worked out current may be, of it


class Calls:
    """The calls of an output, put to one situation after the other. Pure."""

    def __init__(self, facts: Facts) -> None:
        self.facts, self.signs = facts, Signs(facts.scene)
        self._priors = facts.scene.priors

    def log_on(self, situation: Situation) -> tuple[float, bool]:
        """Whether the output stays on as it did, as a log, and whether it is taken as off.

        It gives up at one current: above every one that it carried, below every one it did not.
        """
        if self.facts.all_off:
            off = self.signs.trip(situation.output_a(situation.run("")))
            return (math.log(off), True) if off > SLIP else (0.0, False)
        if not self.facts.tripped:
            return 0.0, False
        drawn_a = min(situation.output_a(situation.run(s, "inrush")) for s in self.facts.tripped)
        blurred_a = drawn_a + _METER_PART * self.facts.held_a
        between = self.signs.trip(blurred_a) - self.signs.trip(self.facts.held_a)
        return math.log(max(between, SLIP**2)), False

    def log_calls(
        self, situation: Situation, calls: Iterable[str], off: bool
    ) -> tuple[dict[str, float], dict[str, CoilState]]:
        """Log probability of what was seen of each call, and the states of the coils in it."""
        logs: dict[str, float] = {}
        states: dict[str, CoilState] = {}
        for station in calls:
            if off:
                seen = len(self.facts.water.get(station, ()))
                logs[station], states[station] = seen * math.log(SLIP), "off"
            else:
                logs[station], states[station] = self._log_call(situation, station)
            if station in self.facts.indicator:
                likely = 0.0 if off else self.signs.indicator(situation, station)
                likely = max(likely, self._priors.false_indicator)
                logs[station] += math.log(likely if self.facts.indicator[station] else 1 - likely)
        return logs, states

    def _log_call(self, situation: Situation, station: str) -> tuple[float, CoilState]:
        answering = situation.answering(station)
        seen = self.facts.water.get(station)
        if seen is None:
            return 0.0, self.signs.likely_state(situation, station)
        total = 0.0
        for name in {*answering, *seen}:
            likely = self.signs.water(situation, name, station)
            if name in seen:
                total += math.log(likely)
            elif name != station and station in self.facts.not_watched:
                continue  # nobody looked whether it runs
            elif name != station or name not in answering:
                total += math.log(1 - likely)
        if seen & set(answering):
            if station in answering and station not in seen:
                total += math.log(1 - self.signs.water(situation, station, station))
            return total, "holding"
        if station not in answering:
            return total, "holding" if answering else "off"
        log, state = self._without_water(situation, station)
        return total + log, state

    def _without_water(self, situation: Situation, station: str) -> tuple[float, CoilState]:
        """A switched coil whose valve gave no water: which state explains its current best."""
        acts = self.signs.acts(situation, station)
        pulls = self.signs.pulls(situation, station, station)
        weights: dict[CoilState, float] = {
            "off": 1 - acts,
            "inrush": acts * (1 - pulls),
            "holding": acts * pulls * self._priors.no_water,
        }
        reading = self.facts.current_of(station)
        if reading is None:
            log = math.log(max(sum(weights.values()), SLIP))
            return log, self.signs.likely_state(situation, station)
        if station in self.facts.tripped:
            return math.log(max(acts, SLIP)), "inrush"
        best: tuple[float, float, CoilState] = (-math.inf, 0.0, "off")
        for state, weight in weights.items():
            away = self._roughly_away(situation, situation.run(station, state), reading)
            log = math.log(max(weight, SLIP))
            best = max(best, (log - away * away / 2, log, state))
        return best[1], best[2]

    def _roughly_away(self, situation: Situation, run: Run, reading: Reading) -> float:
        """How far a called current is from what a run draws, in rough standard deviations.

        Beside the idle current where that was read: what both have in common is no difference.
        """
        path = reading.test.path
        idle_a = abs(situation.path_a(path, situation.run("")))
        more_a = abs(situation.path_a(path, run)) - idle_a
        idle = self.facts.current.get((path, ""))
        if idle is None:
            return (reading.value - idle_a - more_a) / (0.04 * (idle_a + abs(more_a)) + 1e-3)
        variance = self.facts.scene.noise(reading.test, reading.value)[0]
        return (reading.value - idle.value - more_a) / (
            0.04 * abs(more_a) + 1.5 * math.sqrt(variance)
        )
