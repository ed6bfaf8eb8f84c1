"""The samples by the sizing chart of the trade, without the program's own network.

L_max = (V_source - V_min) / (n · I · 2 · r), read backwards: at the far end of its route, with as
many of its path's hungriest stations beside it as may run together, and the standby of the whole
site too, every station still has its minimum. All drops are added as if in phase: conservative
(common practice, no source). Resistances are those of published tables, brought to warm soil by the
factor of IEC 60228 annex B, (234.5 + t)/254.5.
"""

from __future__ import annotations

import pytest

from commission.resources import samples
from commission.site.load import load_site
from commission.site.schema import CableKind, Output, Site, Station
from commission.site.tree import build_trees
from tests.electrical.published import read_rows

OHM_PER_KM = {
    f"{row.given['awg']} AWG" if "awg" in row.given else f"{row.given['mm2']:g} mm²": row.value
    for row in read_rows()
    if row.law == "metric_limit"
    or (row.law, row.unit, row.given.get("temperature_c")) == ("awg_resistance", "ohm/km", 20.0)
}


def r_ohm_per_m(kind: CableKind, soil_c: float) -> float:
    at_20 = kind.resistance_ohm_per_m or OHM_PER_KM[kind.conductor] / 1000
    return at_20 * (234.5 + soil_c) / 254.5


def inrush_a(site: Site, station: Station) -> float:
    """Data-sheet currents added; at a lower frequency than rated a coil takes more, at most so."""
    kinds = [site.solenoid_kind[coil.kind] for coil in station.solenoid]
    hz = site.site.frequency_hz
    return sum(k.inrush_current_a * max(1.0, k.rated_frequency_hz / hz) for k in kinds)


def source_v(site: Site, output: Output, current_a: float) -> float:
    """At the terminals, on the lowest mains."""
    if output.open_circuit_voltage_v is not None and output.source_resistance_ohm is not None:
        open_v = output.open_circuit_voltage_v
        drop_v = abs(complex(output.source_resistance_ohm, output.source_reactance_ohm)) * current_a
    else:
        assert output.regulation is not None
        assert output.rating_va is not None
        rated_a = output.rating_va / output.rated_voltage_v
        open_v = output.rated_voltage_v * (1 + output.regulation)
        drop_v = output.rated_voltage_v * output.regulation * current_a / rated_a
    return open_v * (1 - site.supply.lowest_fraction_below) - drop_v


def hungriest_a(site: Site, stations: list[Station], count: int) -> float:
    return sum(sorted((inrush_a(site, one) for one in stations), reverse=True)[:count])


@pytest.mark.parametrize("name", sorted(samples()))
def test_every_station_is_near_enough(name: str) -> None:
    site = load_site(samples()[name])
    (output,) = site.output
    trees = build_trees(site)
    soil_c = site.soil.warmest_c
    always = [one for one in site.station if one.runs_with_every_station]
    chosen = [one for one in site.station if one not in always]
    standby_a = sum(site.decoder_kind[one.decoder].standby_current_a for one in site.station)
    always_a = sum(inrush_a(site, one) for one in always)
    total_a = hungriest_a(site, chosen, output.stations_at_once) + always_a + standby_a
    terminals_v = source_v(site, output, total_a)
    for path in site.path:
        at_once = min(path.stations_at_once or 99, output.stations_at_once)
        here = [one for one in chosen if one.path == path.id]
        with_it = [one for one in always if one.path == path.id]
        for station in here:
            others = [one for one in here if one is not station]
            current_a = inrush_a(site, station) + hungriest_a(site, others, at_once - 1)
            end_v = terminals_v
            for segment in trees[path.id].route(station.box):
                pair = segment.cable or path.cable
                loop_ohm = segment.length_m * sum(
                    r_ohm_per_m(site.cable_kind[kind], soil_c) for kind in pair
                )
                through_a = sum(
                    inrush_a(site, one)
                    for one in with_it
                    if segment in trees[path.id].route(one.box)
                )
                end_v -= (current_a + standby_a + through_a) * loop_ohm
            least_v = max(site.solenoid_kind[one.kind].min_voltage_v for one in station.solenoid)
            assert end_v > least_v, station.id
