"""The profile's numbers: against ngspice, against the sheet, and with what was read."""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise
from pathlib import Path

import pytest

from commission.checklist.plan import Step
from commission.expected.model import working_case
from commission.expected.netlist import netlist
from commission.profile import (
    idle_profile,
    idle_route,
    loops,
    station_profile,
    station_states,
    worst_set_profile,
)
from commission.resources import samples
from commission.session import Session
from commission.tui.widgets.plot import legend, loop_bar, plot
from tests import walks
from tests.expected.test_netlist import simulated


def begun(folder: Path, sample: str) -> Session:
    """A job that was just begun."""
    session = walks.begin(folder, sample)
    session.close()
    return session


@pytest.mark.parametrize("sample", sorted(samples()))
def test_the_worst_solenoid_has_the_voltage_that_ngspice_finds(tmp_path: Path, sample: str) -> None:
    job = begun(tmp_path, sample).job
    for output in job.site.output:
        profile = worst_set_profile(job, output.id)
        assert profile is not None
        model = working_case(job.sheet.drawing, output.id)
        found = simulated(netlist([model]), tmp_path)
        worst = job.sheet.drawing.stations[job.sheet.worst_sets[output.id][-1]]
        own = [found[f"coil_{coil.id.lower()}"] for coil in worst.solenoid]
        assert profile.coil_v == pytest.approx(min(own), rel=1e-6)
        # The decoder's output lies between box and coil: the box is never the lower one.
        last = profile.along(worst.path, worst.box).points[-1]
        assert last.worst_v is not None
        assert last.worst_v >= min(own) * (1 - 1e-9)


@pytest.mark.parametrize("sample", sorted(samples()))
def test_voltages_fall_along_the_route_and_end_at_what_the_sheet_expects(
    tmp_path: Path, sample: str
) -> None:
    session = begun(tmp_path, sample)
    job = session.job
    step = walks.first(session, lambda step: step.item.compare == "station-voltage")
    expected = job.expectation(step)
    assert expected is not None
    station = job.sheet.drawing.stations[step.target.station]
    profile = station_profile(job, station.id).along(station.path, station.box)
    last = profile.points[-1]
    assert (last.expected_v, last.low_v, last.high_v) == pytest.approx(
        (expected.value, expected.low, expected.high)
    )
    assert last.distance_m == job.sheet.drawing.trees[last.path].distance_m(station.box)
    for before, after in pairwise(profile.points):
        assert after.distance_m > before.distance_m
        assert after.expected_v < before.expected_v
        assert before.worst_v is not None
        assert after.worst_v is not None
        assert after.worst_v < before.worst_v
    assert profile.measured == ()


def test_what_was_read_stands_where_it_was_read(tmp_path: Path) -> None:
    session = walks.begin(tmp_path, "small-garden")
    walks.walk_to_the_end(session)
    session.close()
    job = session.job
    together = worst_set_profile(job, "1")
    assert together is not None
    worst = job.sheet.drawing.stations[job.sheet.worst_sets["1"][-1]]
    assert [one.box for one in together.measured] == ["output", worst.box]
    assert together.along(worst.path, worst.box).measured == together.measured
    assert together.along(worst.path, "B1").measured == together.measured[:1]
    idle = idle_route(job, "A", "B4")
    assert [one.box for one in idle.measured] == ["output", "B4"]
    assert idle.running == ()
    assert idle.min_v is None
    assert {point.worst_v for point in idle.points} == {None}
    station = job.site.station[0]
    (read,) = station_profile(job, station.id).measured
    assert (read.box, read.verdict) == (station.box, "pass")


def test_a_master_valve_runs_with_every_station(tmp_path: Path) -> None:
    job = begun(tmp_path, "two-paths").job
    always = [one for one in job.site.station if one.runs_with_every_station]
    other = next(one for one in job.site.station if not one.runs_with_every_station)
    output = job.sheet.drawing.path_of[other.path].output
    own = [one.number for one in always if job.sheet.drawing.path_of[one.path].output == output]
    assert sorted(station_profile(job, other.id).running) == sorted([other.number, *own])


def test_loops_with_what_was_read(tmp_path: Path) -> None:
    session = walks.begin(tmp_path, "small-garden")
    loop = walks.first(session, lambda step: step.item.compare == "loop-resistance")
    walks.walk_until(session, loop)
    walks.answer(session, loop, "11.6")
    session.close()
    first, second = (one for one in loops(session.job) if not one.is_reversed)
    expected = session.job.expectation(loop)
    assert expected is not None
    assert (first.expected_ohm, first.low_ohm) == (expected.value, expected.low)
    assert (first.end, first.read_ohm, first.verdict) == (loop.target.box, 11.6, "fail")
    assert (second.read_ohm, second.entry, second.verdict) == (None, None, "not tested")
    drawn = "".join(part if isinstance(part, str) else part[0] for part in loop_bar(first))
    assert drawn.endswith("x►")
    assert "x" not in "".join(
        part if isinstance(part, str) else part[0] for part in loop_bar(second)
    )


def test_stations_by_path_and_number(tmp_path: Path) -> None:
    job = begun(tmp_path, "two-paths").job
    found = station_states(job)
    assert list(found) == [path.id for path in job.site.path]
    for path, stations in found.items():
        there = sorted(one.number for one in job.sheet.drawing.stations_on(path))
        assert [int(one.words) for one in stations] == there
        assert {one.verdict for one in stations} == {"open"}


@pytest.mark.parametrize(("width", "height"), [(20, 6), (75, 14), (115, 30)])
def test_a_plot_keeps_to_its_place_and_shows_all_that_is_in_it(
    tmp_path: Path, width: int, height: int
) -> None:
    session = walks.begin(tmp_path, "small-garden")
    walks.walk_to_the_end(session)
    session.close()
    whole = worst_set_profile(session.job, "1")
    assert whole is not None
    worst = session.job.sheet.drawing.stations[session.job.sheet.worst_sets["1"][-1]]
    profile = whole.along(worst.path, worst.box)
    lines = plot(profile, lambda length_m: f"{length_m:.0f} m", width, height).plain.split("\n")
    assert max(len(line) for line in lines) <= max(width, 18)
    assert len(lines) == max(height, 7)
    text = "\n".join(lines)
    for mark in "░•╌+" if height > 6 else "•╌+":  # the range hides behind what is in it
        assert mark in text
    least = next(line for line in lines if "╌" in line)
    assert least.startswith("20.0 V" if width < 20 else " 20.0 V")


def compared(session: Session, name: str) -> list[Step]:
    """The steps whose readings are compared with that."""
    return [step for step in session.job.plan.steps if step.item.compare == name]


def test_readings_stand_beside_what_was_expected_at_the_mains_read_then(tmp_path: Path) -> None:
    """With nothing running voltages go with the mains (superposition), but for the standby drop."""
    session = walks.begin(tmp_path, "small-garden")
    walks.walk_to_the_end(session)
    before = idle_profile(session.job, "1")
    (mains,) = compared(session, "mains-voltage")
    first_v = session.job.conditions.mains_v["1"]
    walks.answer(session, mains, "110")
    assert idle_profile(session.job, "1") == before
    ends = compared(session, "end-voltage")
    end = next(step for step in ends if step.target.scope == "end" and step.target.box == "B4")
    walks.answer(session, end, walks.good_answer(session, end))
    session.close()
    whole, route = idle_profile(session.job, "1"), idle_route(session.job, "A", "B4")
    assert whole.along("A", "B4") == route
    for then, now in zip(before.points, whole.points, strict=True):
        low, high = (edge * 110 / first_v for edge in (0.97, 1.03))
        assert low * then.expected_v < now.expected_v < high * then.expected_v
        assert now.expected_v < then.expected_v
    last = {(p.path, p.box): (p.low_v, p.high_v) for p in before.points}
    for one in whole.measured:
        again = (one.path, one.box) == ("A", "B4")
        assert one.verdict == "pass"
        assert one.range_then == (None if again else pytest.approx(last[one.path, one.box]))
    assert idle_route(session.job, "A", "B6") == before.along("A", "B6")


def test_a_plot_shows_the_range_of_then(tmp_path: Path) -> None:
    session = walks.begin(tmp_path, "small-garden")
    walks.walk_to_the_end(session)
    (mains,) = compared(session, "mains-voltage")
    walks.answer(session, mains, "100")
    session.close()
    assert "▒" not in legend(idle_route(session.job, "A", "B4"))
    route = idle_route(session.job, "A", "B4")
    then = replace(route.measured[0], range_then=(30.0, 31.0), volts=30.5)
    profile = replace(route, measured=(then,))
    assert "▒" in plot(profile, str, 75, 30).plain
    assert "▒" in legend(profile)
