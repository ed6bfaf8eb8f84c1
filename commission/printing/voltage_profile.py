"""Voltage against distance while the worst set of an output runs: expected, at the worst, read."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Final

from commission.electrical.uncertainty import COVERAGE_FACTOR, Budget
from commission.expected.model import working_case
from commission.expected.slopes import Slopes
from commission.expected.voltages import min_solenoid_v
from commission.job import Job
from commission.printing.page import Html
from commission.printing.svg import Scale, around, drawing, line, polygon, shape, words_at
from commission.record.entry import Entry
from commission.site.schema import ROOT
from commission.units import in_unit

_WIDTH, _HEIGHT = 560, 250
_LEFT, _RIGHT, _TOP, _BOTTOM = 38, 548, 12, 214
_READ_AT: Final = {"together-voltage": "worst", "together-output-voltage": "terminals"}


@dataclass(frozen=True, slots=True)
class Place:
    """A box while the set runs; SI. `worst_v` is with all in inrush, lowest mains, warmest soil."""

    distance_m: float
    expected_v: float
    u95_v: float
    worst_v: float

    @property
    def low_v(self) -> float:
        """The lower end of the expected range."""
        return self.expected_v - self.u95_v

    @property
    def high_v(self) -> float:
        """The upper end of the expected range."""
        return self.expected_v + self.u95_v


@dataclass(frozen=True, slots=True)
class Read:
    """A voltage that was read while the set ran; `error_v` is the meter's own, half-width."""

    distance_m: float
    volts: float
    error_v: float
    verdict: str


@dataclass(frozen=True, slots=True)
class Profile:
    """An output with its worst set running. A leg is a segment between two places, by its path."""

    output: str
    stations: tuple[int, ...]
    legs: tuple[tuple[str, Place, Place], ...]
    min_v: float
    read: tuple[Read, ...]


def voltage_profile(job: Job, output: str) -> Profile | None:
    """The profile of an output; None where no stations may run."""
    drawing = job.sheet.drawing
    running = [drawing.stations[one] for one in job.sheet.worst_sets[output]]
    if not running:
        return None
    taken = list(_taken(job, output))
    conditions = job.conditions_before(taken[-1][1].number) if taken else job.conditions
    model, worst = job.sheet.on_test_day(output, conditions), working_case(drawing, output)
    slopes = Slopes(model, running, "holding")
    worst_v = worst.solve(running, "inrush").node_v
    places = {}
    for (path, box), node in model.nodes.items():
        value, slope = slopes.voltage(path, box)
        u95_v = COVERAGE_FACTOR * Budget(value, model.contributions(slope)).u
        distance_m = drawing.trees[path].distance_m(box)
        places[path, box] = Place(distance_m, value, u95_v, abs(worst_v[node]))
    legs = [
        (path, places[path, segment.from_box], places[path, box])
        for path, box in places
        if box != ROOT
        for segment in [drawing.trees[path].feeds[box]]
    ]
    at = running[-1]
    far_m = drawing.trees[at.path].distance_m(at.box)
    return Profile(
        output=output,
        stations=tuple(sorted(one.number for one in running)),
        legs=tuple(legs),
        min_v=min_solenoid_v(drawing, at),
        read=tuple(_read(entry, far_m if where == "worst" else 0.0) for where, entry in taken),
    )


def _taken(job: Job, output: str) -> Iterator[tuple[str, Entry]]:
    """The latest readings of the set while it ran, and where they were taken."""
    for status in job.statuses.values():
        step, entry = status.step, status.entry
        where = _READ_AT.get(step.item.compare or "")
        if where and step.target.output == output and entry and entry.value is not None:
            yield where, entry


def _read(entry: Entry, distance_m: float) -> Read:
    volts = entry.value or 0.0
    error_v = (entry.instrument_percent or 0.0) / 100 * abs(volts)
    error_v += (entry.instrument_counts or 0.0) * (entry.instrument_resolution or 0.0)
    return Read(distance_m, volts, error_v, entry.verdict)


def profile_drawing(profile: Profile, unit: str) -> Html:
    """The profile drawn; distances in `unit`."""
    places = [place for _path, *both in profile.legs for place in both]
    volts = [profile.min_v, *(one.volts for one in profile.read)]
    volts += [v for place in places for v in (place.low_v, place.high_v, place.worst_v)]
    low_v, high_v = around(volts, 1.0)
    farthest = in_unit(max(place.distance_m for place in places), unit, "length")
    across = Scale(0.0, farthest * 1.04 or 1.0, _LEFT, _RIGHT)
    up = Scale(low_v, high_v, _BOTTOM, _TOP)

    def x(metres: float) -> float:
        return across.at(in_unit(metres, unit, "length"))

    shapes = [*_axes(across, up, unit)]
    for _path, near, far in profile.legs:
        a, b = x(near.distance_m), x(far.distance_m)
        corners = [
            (a, up.at(near.low_v)), (b, up.at(far.low_v)),
            (b, up.at(far.high_v)), (a, up.at(near.high_v)),
        ]  # fmt: skip
        shapes.append(polygon(corners, "band"))
    for _path, near, far in profile.legs:
        a, b = x(near.distance_m), x(far.distance_m)
        shapes.append(line(a, up.at(near.expected_v), b, up.at(far.expected_v)))
        shapes.append(line(a, up.at(near.worst_v), b, up.at(far.worst_v), "dashed"))
    level = up.at(profile.min_v)
    shapes.append(line(_LEFT, level, _RIGHT, level, "limit"))
    shapes.append(
        words_at(_RIGHT, level - 3, f"minimum of the solenoid {profile.min_v:g} V", "small", "end")
    )
    for one in profile.read:
        shapes += _point(x(one.distance_m), up, one)
    shapes += _key()
    words = f"voltage against distance, output {profile.output}, worst set running"
    return drawing(_WIDTH, _HEIGHT, words, *shapes)


def _axes(across: Scale, up: Scale, unit: str) -> Iterator[Html]:
    for number in up.ticks():
        yield line(_LEFT, up.at(number), _RIGHT, up.at(number), "thin")
        yield words_at(_LEFT - 4, up.at(number) + 3, f"{number:g} V", "small", "end")
    for number in across.ticks(8):
        yield line(across.at(number), _BOTTOM, across.at(number), _BOTTOM + 3)
        words = f"{number:g} {unit}"
        yield words_at(across.at(number), _BOTTOM + 12, words, "small", "middle")
    yield line(_LEFT, _BOTTOM, _RIGHT, _BOTTOM)
    yield line(_LEFT, _TOP, _LEFT, _BOTTOM)


def _point(x: float, up: Scale, one: Read) -> Iterator[Html]:
    """A reading with the meter's own error as a bar, its verdict beside it where it is no pass."""
    y = up.at(one.volts)
    top, bottom = up.at(one.volts + one.error_v), up.at(one.volts - one.error_v)
    yield line(x, top, x, bottom)
    yield shape("circle", kind="ink reading", cx=x, cy=y, r=3)
    beside, anchor = (x + 5, "start") if x < (_LEFT + _RIGHT) / 2 else (x - 5, "end")
    yield words_at(beside, y - 5, f"{one.volts:.1f} V {one.verdict}", "small bold", anchor)


def _key() -> Iterator[Html]:
    """What each line means."""
    y = _BOTTOM + 28
    yield shape("rect", kind="band", x=_LEFT, y=y - 7, width=18, height=8)
    yield line(_LEFT, y - 3, _LEFT + 18, y - 3)
    yield words_at(_LEFT + 22, y, "expected, held, on the test day", "small")
    yield line(190, y - 3, 212, y - 3, "dashed")
    yield words_at(216, y, "all in inrush, lowest mains, warmest soil", "small")
    yield shape("circle", kind="ink", cx=396, cy=y - 3, r=3)
    yield words_at(403, y, "read, with the meter's own error", "small")
