"""Will the output carry it? The most that may run at once against rating, fuse and limit.

At nominal mains, where ratings are stated, and in the test day's soil. The set is not the worst one
for voltage: near the terminals coils draw more.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from commission.electrical.conformance import Limits, conformance, verdict
from commission.electrical.solenoids import State
from commission.electrical.uncertainty import Budget
from commission.expected.alone import each_alone
from commission.expected.inputs import Drawing
from commission.expected.model import OutputModel, on_test_day, rated_current_a
from commission.expected.slopes import Slopes
from commission.site.schema import Output, Station

_DIGITS = 9  # of a current in A: what differs by less goes by number


@dataclass(frozen=True, slots=True)
class Carried:
    """One total current of an output against what it may be; A, r.m.s."""

    state: State  # the coils' state: all held, or all in inrush
    stations: tuple[str, ...]  # ids
    current_a: float
    u_a: float
    limit_a: float
    limited_by: str  # "rating", "fuse" or "current limit"
    probability: float  # that the current keeps the limit

    @property
    def verdict(self) -> str:
        """Pass at 95 % and more, fail at 5 % and less, else marginal."""
        return verdict(self.probability)

    @property
    def words(self) -> str:
        """What it means, on one line."""
        states = {"holding": "held", "inrush": "all in inrush at once (conservative)"}
        return (
            f"{self.verdict}: {self.current_a:.2f} A, {states[self.state]}, "
            f"{self.limited_by} {self.limit_a:.3g} A"
        )


def inrush_limit_a(output: Output) -> tuple[float, str] | None:
    """The lowest of fuse and electronic limit, and which; None when the site file has neither."""
    found = [
        (value, words)
        for value, words in (
            (output.fuse_a, "fuse"), (output.current_limit_a, "current limit"),
        )
        if value is not None
    ]  # fmt: skip
    return min(found, default=None)


def most_current(model: OutputModel, state: State) -> tuple[Station, ...]:
    """The permitted set that draws most, by number; what always runs is in it.

    Each station is ranked by what it alone adds, the largest first while the limits of path and
    output leave room. With limits of this kind the largest first is the largest sum; the cable's
    drops, which all of them share, take a few per cent off every set and are solved for afterwards.
    """
    always = model.always
    idle_a = abs(model.solve(always, state).source_a)
    free = [s for s in model.stations if not s.runs_with_every_station]
    adds_a = {name: one.source_current_a - idle_a for name, one in each_alone(model, state).items()}
    room = {
        path.id: path.stations_at_once
        for path in model.drawing.site.path
        if path.stations_at_once is not None
    }
    chosen: list[Station] = []
    for station in sorted(free, key=lambda s: (-round(adds_a[s.id], _DIGITS), s.number)):
        if len(chosen) == model.output.stations_at_once:
            break
        if room.get(station.path, 1) <= 0:
            continue
        if station.path in room:
            room[station.path] -= 1
        chosen.append(station)
    return tuple(sorted((*always, *chosen), key=lambda s: s.number)) if chosen else ()


def carried(drawing: Drawing, output_id: str) -> tuple[Carried, ...]:
    """Question 3 of an output: held against its rating; in inrush against fuse or limit, if any.

    Empty where no station may run.
    """
    model = on_test_day(drawing, output_id, None)
    limits: list[tuple[State, tuple[float, str] | None]] = [
        ("holding", (rated_current_a(model.output), "rating")),
        ("inrush", inrush_limit_a(model.output)),
    ]
    found = []
    for state, limit in limits:
        if limit is None or not (running := most_current(model, state)):
            continue
        budget = _budget(model, running, state)
        chance = conformance(budget.value, budget.errors, Limits(high=limit[0]))
        stations = tuple(station.id for station in running)
        found.append(Carried(state, stations, budget.value, budget.u, *limit, chance))
    return tuple(found)


def _budget(model: OutputModel, running: Sequence[Station], state: State) -> Budget:
    """The current of the output with what each cause contributes."""
    value, slope = Slopes(model, running, state).current()
    return Budget(value, model.contributions(slope))
