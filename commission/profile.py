"""The profile: voltage against distance along a route, loops beside what is expected, stations.

Plain numbers for whoever draws them, on a screen or on paper; nothing here draws. Voltages are in
V, distances in m from the output terminals, loops in ohm.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass

from commission.electrical.uncertainty import Budget
from commission.expected.model import OutputModel, working_case
from commission.expected.voltages import min_solenoid_v, solved
from commission.job import Job, Status
from commission.picture import Found, path_picture
from commission.site.schema import ROOT, Station


@dataclass(frozen=True, slots=True)
class Point:
    """One box of the route, the terminals first.

    `expected_v` with its range (± 2u) is settled and of the test day: what a meter can read.
    `worst_v` is in inrush, at lowest mains and in the warmest soil: no meter is quick enough for
    it. None where nothing runs.
    """

    box: str
    distance_m: float
    expected_v: float
    low_v: float
    high_v: float
    worst_v: float | None


@dataclass(frozen=True, slots=True)
class Measured:
    """A reading that belongs to this profile, with its verdict."""

    box: str
    distance_m: float
    volts: float
    verdict: str


@dataclass(frozen=True, slots=True)
class Profile:
    """Voltage from the terminals to a box, while `running` run (station numbers; none: idle).

    `coil_v` is the lowest at a solenoid of the station at its end, in inrush at the worst; `min_v`
    the least that it needs. Both None where nothing runs.
    """

    output: str
    path: str
    box: str
    running: tuple[int, ...]
    points: tuple[Point, ...]
    measured: tuple[Measured, ...]
    coil_v: float | None = None
    min_v: float | None = None


@dataclass(frozen=True, slots=True)
class Loop:
    """The loop of one end: what is expected with its range, and what was read, in ohm.

    `read_ohm` is None before it is read, and where the meter showed no number.
    """

    path: str
    end: str
    expected_ohm: float
    low_ohm: float
    high_ohm: float
    read_ohm: float | None
    text: str
    verdict: str  # "" before it is read


def worst_set_profile(job: Job, output: str) -> Profile | None:
    """While the worst set of an output runs, to its worst station; None without stations."""
    running = [job.sheet.drawing.stations[one] for one in job.sheet.worst_sets[output]]
    if not running:
        return None
    worst = running[-1]
    at = {"together-output-voltage": ROOT, "together-voltage": worst.box}
    read = [
        (at[status.step.item.compare], status)
        for status in _read(job)
        if status.step.item.compare in at and status.step.target.output == output
    ]
    return _profile(job, worst.path, worst.box, running, read)


def station_profile(job: Job, station: str) -> Profile:
    """While one station runs, with those that always run, to its box. KeyError for none."""
    one = job.sheet.drawing.stations[station]
    read = [
        (one.box, status)
        for status in _read(job)
        if status.step.item.compare == "station-voltage" and status.step.target.station == station
    ]
    return _profile(job, one.path, one.box, [one], read)


def idle_profile(job: Job, path: str, end: str) -> Profile:
    """While nothing runs, to an end of a path. KeyError for none."""
    route = {segment.to_box for segment in job.sheet.drawing.trees[path].route(end)}
    read = []
    for status in _read(job):
        target, compare = status.step.target, status.step.item.compare
        if target.path == path and compare == "output-voltage":
            read.append((ROOT, status))
        elif target.path == path and compare == "end-voltage" and target.box in route:
            read.append((target.box, status))
    return _profile(job, path, end, [], read)


def _read(job: Job) -> list[Status]:
    """The steps with a live reading that is a number."""
    return [
        status
        for status in job.statuses.values()
        if status.state == "answered"
        and status.entry is not None
        and status.entry.value is not None
        and status.entry.relation == "="
    ]


def _profile(
    job: Job, path: str, box: str, running: Sequence[Station], read: Sequence[tuple[str, Status]]
) -> Profile:
    drawing = job.sheet.drawing
    output, tree = drawing.path_of[path].output, drawing.trees[path]
    slopes = solved(job.sheet.on_test_day(output, job.conditions), *running)
    worst_v = _worst_v(working_case(drawing, output), running)
    points = []
    for there in (ROOT, *(segment.to_box for segment in tree.route(box))):
        value_v, slope = slopes.voltage(path, there)
        half_v = 2 * Budget(value_v, slopes.model.contributions(slope)).u
        points.append(
            Point(
                there, tree.distance_m(there), value_v, max(0.0, value_v - half_v),
                value_v + half_v, worst_v.get((path, there)),
            )
        )  # fmt: skip
    measured = tuple(
        Measured(there, tree.distance_m(there), status.entry.value, status.verdict)
        for there, status in read
        if status.entry is not None and status.entry.value is not None
    )
    numbers = tuple(station.number for station in slopes.running)
    if not running:
        return Profile(output, path, box, numbers, tuple(points), measured)
    coils = working_case(drawing, output).coil_voltages_v(running, "inrush")
    coil_v = min(volts for (owner, _), volts in coils.items() if owner == running[-1].id)
    min_v = min_solenoid_v(drawing, running[-1])
    return Profile(output, path, box, numbers, tuple(points), measured, coil_v, min_v)


def _worst_v(model: OutputModel, running: Sequence[Station]) -> dict[tuple[str, str], float]:
    """Voltage at every box in inrush at the worst; empty where nothing runs."""
    if not running:
        return {}
    node_v = model.solve(running, "inrush").node_v
    return {place: abs(node_v[node]) for place, node in model.nodes.items()}


def loops(job: Job) -> tuple[Loop, ...]:
    """The loops of all ends, in walking order."""
    found = []
    for status in job.statuses.values():
        expectation = job.expectation_of(status)
        if status.step.item.compare != "loop-resistance" or expectation is None:
            continue
        entry = status.entry if status.state == "answered" else None
        number = entry.value if entry and entry.relation == "=" else None
        low, high = expectation.low or 0.0, expectation.high or 0.0
        found.append(
            Loop(
                status.step.target.path, status.step.target.box, expectation.value, low, high,
                number, entry.text if entry else "", status.verdict if entry else "",
            )
        )  # fmt: skip
    return tuple(found)


def station_states(job: Job) -> dict[str, tuple[Found, ...]]:
    """Every path with its stations by number, each in its worst state: see `picture.Found`."""
    found: dict[str, list[Found]] = defaultdict(list)
    for path in job.site.path:
        for row in path_picture(job, path.id):
            found[path.id] += row.stations
    return {
        path: tuple(sorted(rows, key=lambda one: int(one.words))) for path, rows in found.items()
    }
