"""Every station alone by superposition, against solving the output for each."""

from __future__ import annotations

from dataclasses import replace

import pytest

from commission.electrical.solenoids import State
from commission.expected.alone import each_alone
from commission.expected.model import on_test_day, working_case
from commission.expected.sheet import Sheet
from commission.resources import samples
from commission.site.load import load_site
from commission.site.schema import Site

STATES: tuple[State, ...] = ("inrush", "holding")
SITES = sorted(samples())


def _agrees(site: Site) -> int:
    """Compare with a solution of the whole output for each station; how many there were."""
    sheet, count = Sheet(site), 0
    for output in site.output:
        for model in (
            working_case(sheet.drawing, output.id), on_test_day(sheet.drawing, output.id, None),
        ):  # fmt: skip
            for state in STATES:
                found = each_alone(model, state)
                for station in model.stations:
                    one, solution = found[station.id], model.solve((station,), state)
                    volts = model.coil_voltages_v((station,), state)
                    own = {coil: v for (owner, coil), v in volts.items() if owner == station.id}
                    assert one.coils_v == pytest.approx(own, rel=1e-10)
                    assert one.lowest_v == pytest.approx(min(own.values()), rel=1e-10)
                    assert one.source_current_a == pytest.approx(abs(solution.source_a), rel=1e-10)
                    path_a = model.path_current_a(solution, station.path)
                    assert one.path_current_a == pytest.approx(path_a, rel=1e-10)
                    count += 1
    return count


@pytest.mark.parametrize("name", SITES)
def test_it_is_what_a_solution_for_each_station_gives(name: str) -> None:
    assert _agrees(load_site(samples()[name])) >= 4


def test_with_a_master_valve_and_constant_power_too() -> None:
    site = load_site(samples()["two-paths"])
    first, *rest = site.station
    always = replace(site, station=(replace(first, runs_with_every_station=True), *rest))
    assert _agrees(always)
    kinds = {name: replace(kind, standby_model="power") for name, kind in site.decoder_kind.items()}
    assert _agrees(replace(always, decoder_kind=kinds))


def test_an_ideal_source_has_a_current_too() -> None:
    site = load_site(samples()["small-garden"])
    ideal = tuple(
        replace(output, open_circuit_voltage_v=26.0, source_resistance_ohm=0.0, regulation=None)
        for output in site.output
    )
    assert _agrees(replace(site, output=ideal))
