"""The profile: voltage at every box of an output, loops beside what is expected, stations.

Plain numbers for whoever draws them, on a screen or on paper; nothing here draws. Voltages are in
V, distances in m from the output terminals, loops in ohm.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

from commission.electrical.instruments import half_width
from commission.electrical.uncertainty import Budget
from commission.expected.model import OutputModel, working_case
from commission.expected.sheet import Conditions
from commission.expected.slopes import solved
from commission.expected.voltages import min_solenoid_v
from commission.job import Job, Status
from commission.picture import Found, path_picture
from commission.record.entry import Entry
from commission.site.schema import ROOT, Station


@dataclass(frozen=True, slots=True)
class Point:
    """One box, or the terminals at the head of a path; `fed_from` is "" there.

    `expected_v` with its range (± 2u) is settled and of the test day: what a meter can read.
    `worst_v` is in inrush, at lowest mains and in the warmest soil: no meter is quick enough for
    it. None where nothing runs.
    """

    path: str
    box: str
    fed_from: str
    distance_m: float
    expected_v: float
    low_v: float
    high_v: float
    worst_v: float | None


@dataclass(frozen=True, slots=True)
class Measured:
    """A reading that belongs to a profile, with its verdict; `path` is "" for the output itself.

    `error_v` is the meter's own, a half-width. `range_then` is what was expected at the mains and
    in the soil that were known when it was read, where the points stand for others.
    """

    path: str
    box: str
    distance_m: float
    volts: float
    error_v: float
    verdict: str
    range_then: tuple[float, float] | None = None


@dataclass(frozen=True, slots=True)
class Profile:
    """An output while `running` run (station numbers; none: idle), its points in walking order.

    The points stand for the conditions that its latest reading was taken in. `coil_v` is the lowest
    at a solenoid of the station asked for, or of the worst of a set, in inrush at the worst;
    `min_v` the least that it needs. Both None where nothing runs.
    """

    output: str
    running: tuple[int, ...]
    points: tuple[Point, ...]
    measured: tuple[Measured, ...]
    coil_v: float | None = None
    min_v: float | None = None

    def legs(self) -> Iterator[tuple[Point, Point]]:
        """Every cable between two points, the end nearer to the terminals first."""
        places = {(point.path, point.box): point for point in self.points}
        for point in self.points:
            if point.fed_from:
                yield places[point.path, point.fed_from], point

    def along(self, path: str, box: str) -> Profile:
        """The same from the terminals to one box only. KeyError for none."""
        places = {point.box: point for point in self.points if point.path == path}
        route = [places[box]]
        while route[0].fed_from:
            route.insert(0, places[route[0].fed_from])
        there = {(where, point.box) for point in route for where in ("", path)}
        measured = tuple(one for one in self.measured if (one.path, one.box) in there)
        return replace(self, points=tuple(route), measured=measured)


@dataclass(frozen=True, slots=True)
class Loop:
    """The loop of one end: what is expected with its range, and what was read, in ohm.

    "Accepted" counts the meter's own error in. `read_ohm` is None before it is read, and where the
    meter showed no number; `entry` is the answer, if there is one.
    """

    path: str
    end: str
    is_reversed: bool  # read once more with the leads changed over
    expected_ohm: float
    low_ohm: float
    high_ohm: float
    accepted_low_ohm: float
    accepted_high_ohm: float
    read_ohm: float | None
    entry: Entry | None
    verdict: str

    def off(self, ohm: float) -> float:
        """How far a value lies from what was expected, as a fraction of that."""
        return ohm / self.expected_ohm - 1.0


Read = tuple[str, str, Status, Entry]  # path and box where it was taken, its step, and itself


def worst_set_profile(job: Job, output: str) -> Profile | None:
    """While the worst set of an output runs; None without stations."""
    running = [job.sheet.drawing.stations[one] for one in job.sheet.worst_sets[output]]
    if not running:
        return None
    at = {
        "together-output-voltage": ("", ROOT),
        "together-voltage": (running[-1].path, running[-1].box),
    }
    read = [
        (*at[status.step.item.compare], status, entry)
        for status, entry in _read(job, output)
        if status.step.item.compare in at
    ]
    return _profile(job, output, running, read)


def station_profile(job: Job, station: str) -> Profile:
    """While one station runs, with those that always run. KeyError for none."""
    one = job.sheet.drawing.stations[station]
    output = job.sheet.drawing.path_of[one.path].output
    read = [
        (one.path, one.box, status, entry)
        for status, entry in _read(job, output)
        if status.step.item.compare == "station-voltage" and status.step.target.station == station
    ]
    return _profile(job, output, [one], read)


def idle_profile(job: Job, output: str) -> Profile:
    """While nothing runs."""
    return _profile(job, output, [], _idle(job, output))


def idle_route(job: Job, path: str, end: str) -> Profile:
    """While nothing runs, to one box, as its own latest reading was taken. KeyError for none."""
    tree, output = job.sheet.drawing.trees[path], job.sheet.drawing.path_of[path].output
    boxes = {ROOT, *(segment.to_box for segment in tree.route(end))}
    read = [one for one in _idle(job, output) if one[0] == path and one[1] in boxes]
    return _profile(job, output, [], read).along(path, end)


def _idle(job: Job, output: str) -> list[Read]:
    """What was read with nothing running: at the terminals for each path, at ends and boxes."""
    found = []
    for status, entry in _read(job, output):
        target, compare = status.step.target, status.step.item.compare
        if compare in ("output-voltage", "end-voltage"):
            box = ROOT if compare == "output-voltage" else target.box
            found.append((target.path, box, status, entry))
    return found


def _read(job: Job, output: str) -> Iterator[tuple[Status, Entry]]:
    """The steps of an output with a live reading that is a number."""
    for status in job.statuses.values():
        entry = status.entry
        if status.step.target.output == output and entry and _number(status) is not None:
            yield status, entry


def _number(status: Status) -> float | None:
    """What was read in a step, where the meter showed a number."""
    entry = status.entry
    return entry.value if entry and status.state == "answered" and entry.relation == "=" else None


def _profile(job: Job, output: str, running: Sequence[Station], read: Sequence[Read]) -> Profile:
    drawing = job.sheet.drawing
    conditions = _conditions(job, read)
    slopes = solved(job.sheet.on_test_day(output, conditions), *running)
    worst_v = _worst_v(working_case(drawing, output), running)
    points = []
    for path, box in slopes.model.nodes:
        tree = drawing.trees[path]
        value_v, slope = slopes.voltage(path, box)
        low_v, high_v = Budget(value_v, slopes.model.contributions(slope)).expanded()
        fed_from = tree.feeds[box].from_box if box != ROOT else ""
        points.append(
            Point(
                path, box, fed_from, tree.distance_m(box), value_v, max(0.0, low_v), high_v,
                worst_v.get((path, box)),
            )
        )  # fmt: skip
    numbers = tuple(station.number for station in slopes.running)
    measured = tuple(_measured(job, output, one, conditions) for one in read)
    coil_v, min_v = None, None
    if running:
        coils = working_case(drawing, output).coil_voltages_v(running, "inrush")
        coil_v = min(volts for (owner, _), volts in coils.items() if owner == running[-1].id)
        min_v = min_solenoid_v(drawing, running[-1])
    return Profile(output, numbers, tuple(points), measured, coil_v, min_v)


def _conditions(job: Job, read: Sequence[Read]) -> Conditions:
    """Those that the latest of some readings was taken in; as they are now before the first."""
    numbers = [entry.number for *_, entry in read]
    return job.conditions_before(max(numbers)) if numbers else job.conditions


def _measured(job: Job, output: str, read: Read, conditions: Conditions) -> Measured:
    path, box, status, entry = read
    volts = entry.value or 0.0
    distance_m = job.sheet.drawing.trees[path].distance_m(box) if path else 0.0
    then, range_then = job.conditions_before(entry.number), None
    expected = job.expectation_of(status)
    as_now = (then.mains_v.get(output), then.soil_c) == (
        conditions.mains_v.get(output), conditions.soil_c,
    )  # fmt: skip
    if expected is not None and not as_now:
        range_then = (expected.low or 0.0, expected.high or 0.0)
    error_v = half_width(entry.accuracy, volts)
    return Measured(path, box, distance_m, volts, error_v, status.verdict, range_then)


def _worst_v(model: OutputModel, running: Sequence[Station]) -> dict[tuple[str, str], float]:
    """Voltage at every box in inrush at the worst; empty where nothing runs."""
    if not running:
        return {}
    node_v = model.solve(running, "inrush").node_v
    return {place: abs(node_v[node]) for place, node in model.nodes.items()}


def loops(job: Job) -> tuple[Loop, ...]:
    """The loops of all ends, read either way, in walking order."""
    found = []
    for status in job.statuses.values():
        compare, expected = status.step.item.compare, job.expectation_of(status)
        if compare not in ("loop-resistance", "loop-reversed") or expected is None:
            continue
        entry = status.entry if status.state == "answered" else None
        low, high = expected.low or 0.0, expected.high or 0.0
        accepted = (entry.low, entry.high) if entry else (None, None)
        target = status.step.target
        found.append(
            Loop(
                target.path, target.box, compare == "loop-reversed", expected.value, low, high,
                low if accepted[0] is None else accepted[0],
                high if accepted[1] is None else accepted[1],
                _number(status), entry, status.verdict,
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
