"""One output with its meter and its causes of uncertainty: what a fault predicts, and how surely.

Every shared cause is one variable. What one standard deviation of it does to a reading is found by
reading the same test on an output in which that cause alone has moved.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from functools import cached_property

from commission.electrical.distributions import rectangular_u
from commission.electrical.instruments import reading_error
from commission.expected.causes import segment_u_ohm
from commission.expected.model import OutputModel
from commission.locate.faults import Fault
from commission.locate.plant import Plant
from commission.locate.priors import Priors
from commission.locate.readings import DEAD_KINDS, FieldTest, Meter
from commission.locate.situation import CoilState, Situation

EARTH_PART = 0.03
"""Standard deviation of the volts lost on the way to a leak, a fraction (judgement)."""
_UNITS = ("ohm", "volt", "amp")


class Scene:
    """An output on the test day, with what is known of meter and causes. Pure."""

    def __init__(
        self, model: OutputModel, meter: Meter | None = None, priors: Priors | None = None
    ) -> None:
        self.model, self.meter, self.priors = model, meter or Meter(), priors or Priors()
        self.plant = Plant(model)
        self._slopes: dict[tuple[FieldTest, CoilState], list[float]] = {}

    @cached_property
    def moved(self) -> tuple[Plant, ...]:
        """The output with each shared cause moved by one standard deviation."""
        return tuple(
            Plant(self.model.shifted(cause.key, rectangular_u(cause.half_width)))
            for cause in self.model.causes
            if not cause.key.startswith("own/")
        )

    @cached_property
    def segment_variance(self) -> list[float]:
        """Per node, the variance that joints and uneven soil give a loop up to it [Ω²]."""
        soil_k = self.model.drawing.site.soil.segment_uncertainty_k
        found = [0.0] * len(self.plant.parent)
        for node in range(1, len(found)):
            own_ohm = segment_u_ohm(self.plant.z_ohm[node].real, soil_k)
            found[node] = found[self.plant.parent[node]] + own_ohm * own_ohm
        return found

    def situation(self, faults: Sequence[Fault]) -> Situation:
        """The output with faults in it."""
        return Situation(self.plant, faults)

    @cached_property
    def sound(self) -> Situation:
        """The output without a fault."""
        return Situation(self.plant, ())

    def longest_loop(self, path: str) -> FieldTest:
        """The loop of the farthest end of a path."""
        tree = self.model.drawing.trees[path]
        return FieldTest("loop", path, max(tree.ends(), key=tree.distance_m))

    def slopes(
        self,
        tests: Sequence[tuple[FieldTest, CoilState]],
        faults: Sequence[Fault] = (),
    ) -> list[list[float]]:
        """For each shared cause, what one standard deviation does to each test's value."""
        if faults:
            return self._slopes_of(tests, faults)
        new = [one for one in tests if one not in self._slopes]
        if new:
            columns = self._slopes_of(new, ())
            for i, one in enumerate(new):
                self._slopes[one] = [column[i] for column in columns]
        rows = [self._slopes[one] for one in tests]
        return [list(column) for column in zip(*rows, strict=True)]

    def _slopes_of(
        self, tests: Sequence[tuple[FieldTest, CoilState]], faults: Sequence[Fault]
    ) -> list[list[float]]:
        here = self.situation(faults)
        values = [value(here, *one) for one in tests]
        columns = []
        for plant in self.moved:
            there = Situation(plant, faults)
            columns.append(
                [
                    value(there, *one) - now if math.isfinite(now) else 0.0
                    for one, now in zip(tests, values, strict=True)
                ]
            )
        return columns

    def noise(self, test: FieldTest, reading: float) -> tuple[float, float]:
        """Variance of a reading's own error, and the standard deviation of the meter's common."""
        if not math.isfinite(reading):
            return 1.0, 0.0
        error = reading_error(self.meter.of(test.unit), reading)
        common = rectangular_u(error.gain_half_width * self.meter.common)
        alone = rectangular_u(error.gain_half_width * (1 - self.meter.common))
        variance = alone**2 + rectangular_u(error.counts_half_width) ** 2
        if test.kind == "loop":
            variance += self.segment_variance[self.plant.node(test.path, test.box)]
        elif test.kind == "earth":
            variance += (EARTH_PART * reading) ** 2
        elif test.kind in ("unbridged", "side"):
            variance += max(self.segment_variance) / 4
        return max(variance, 1e-12), common

    def gain_columns(
        self, tests: Sequence[FieldTest], commons: Sequence[float]
    ) -> list[list[float]]:
        """One column for each quantity that the meter reads: its common error."""
        return [
            [c if test.unit == unit else 0.0 for test, c in zip(tests, commons, strict=True)]
            for unit in _UNITS
        ]


def value(situation: Situation, test: FieldTest, state: CoilState) -> float:
    """What a test would read in a situation."""
    return situation.dead(test) if test.kind in DEAD_KINDS else situation.live(test, state)
