"""The resistance of a coil whose data sheet is silent: one cause for all coils of its kind."""

from __future__ import annotations

from dataclasses import replace
from math import sqrt
from random import Random
from statistics import stdev

import pytest

from commission.expected.asfound import AsFound
from commission.expected.model import OutputModel, on_test_day, working_case
from commission.expected.sheet import Sheet
from commission.expected.voltages import together_current
from commission.resources import samples
from commission.site.load import load_site, parse_site
from tests.expected.real_site import RealSite

SILENT = "coil-r/"


def sheet_of(coil_ohm: float | None) -> Sheet:
    """The largest sample, its coils' resistance stated or not."""
    site = parse_site(samples()["sixty-boxes"].read_bytes(), "sixty-boxes")
    kinds = {
        name: replace(
            kind, rated_frequency_hz=60.0, rated_voltage_v=24.0, inrush_current_a=0.4,
            holding_current_a=0.2, coil_resistance_ohm=coil_ohm,
        )
        for name, kind in site.solenoid_kind.items()
    }  # fmt: skip
    return Sheet(replace(site, solenoid_kind=kinds))


def day(sheet: Sheet) -> OutputModel:
    """The first output on the test day."""
    return on_test_day(sheet.drawing, sheet.site.output[0].id, None)


def silent_causes(model: OutputModel) -> dict[str, float]:
    """The causes of this sort, with their half-widths."""
    return {c.key: c.half_width for c in model.causes if c.key.startswith(SILENT)}


def test_only_a_silent_data_sheet_leaves_the_resistance_uncertain() -> None:
    """±30 % (judgement), one variable for each kind of coil in use."""
    sheet = sheet_of(None)
    used = {one.kind for station in sheet.site.station for one in station.solenoid}
    assert silent_causes(day(sheet)) == {f"{SILENT}{kind}": 0.3 for kind in used}
    assert silent_causes(day(sheet_of(30.0))) == {}


@pytest.mark.parametrize(("part", "r_ohm"), [(0.0, 30.0), (0.3, 39.0), (-0.3, 21.0)])
def test_it_moves_the_resistance_and_leaves_both_impedances(part: float, r_ohm: float) -> None:
    """By hand: 24 V draw 0.4 and 0.2 A, so |Z| is 60 and 120 ohm, R half of 60 and ±30 %."""
    model = day(sheet_of(None))
    station = model.stations[0]
    moved = model.shifted(f"{SILENT}{station.solenoid[0].kind}", part)
    scale = model.drawing.site.site.frequency_hz / 60
    for state, z_ohm in (("inrush", 60.0), ("holding", 120.0)):
        coil = moved.coils(station, "inrush" if state == "inrush" else "holding")[0]
        assert coil.z_ohm.real == pytest.approx(r_ohm)
        assert coil.z_ohm.imag == pytest.approx(sqrt(z_ohm**2 - r_ohm**2) * scale)


def test_it_stands_in_the_budget_of_a_running_station() -> None:
    """More resistance, and the coil's voltage is more in phase with the drop of the cable."""
    sheet = sheet_of(None)
    model = day(sheet)
    station = model.stations[-1]
    key = f"{SILENT}{station.solenoid[0].kind}"
    volts = [
        min(m.coil_voltages_v((station,), "holding").values())
        for m in (model.shifted(key, 0.3), model, model.shifted(key, -0.3))
    ]
    assert volts == sorted(volts)
    assert volts[0] < volts[-1]


def test_will_it_work_has_it_as_one_variable() -> None:
    """Where nothing else is uncertain, it alone decides how sure the verdict is."""
    doubts = []
    for coil_ohm in (None, 30.0):
        sheet = sheet_of(coil_ohm)
        output = sheet.site.output[0].id
        work = replace(working_case(sheet.drawing, output), sizing=False)
        running = [sheet.drawing.stations[one] for one in sheet.worst_sets[output]]
        model = AsFound(day(sheet), work, running)
        lowest_v = model.works([]).lowest_v
        kinds = {
            name: replace(kind, min_voltage_v=lowest_v - 0.2)
            for name, kind in sheet.site.solenoid_kind.items()
        }
        near = Sheet(replace(sheet.site, solenoid_kind=kinds)).as_found(output)
        assert near is not None
        doubts.append(1 - near.works([]).probability)
    assert doubts[0] > doubts[1]


def test_coils_that_run_together_err_each_for_itself() -> None:
    """JCGM 101, 600 sites solved by nodal analysis: the current of a set varies as is stated.

    Were the ±5 % of each of its seven coils one and the same, it would vary by a third more.
    """
    sheet = Sheet(load_site(samples()["two-paths"]))
    output = sheet.site.output[0]
    running = [sheet.drawing.stations[one] for one in sheet.worst_sets[output.id]]
    assert sum(len(station.solenoid) for station in running) == 7
    draw = Random(4)
    amperes = []
    for _ in range(600):
        solved = RealSite(sheet.site, draw).solve(output, running)
        amperes.append(abs(sum(solved.path_a.values())))
    stated = together_current(sheet.drawing, output.id, sheet.worst_sets[output.id], None)
    assert stated.u == pytest.approx(stdev(amperes), rel=0.1)
    own = [part for part in stated.budget if part.cause.startswith("this coil rotor")]
    assert [part.distribution for part in own] == ["normal"]
