"""The samples are sites that one could build: they load, they work with room to spare."""

from __future__ import annotations

import tomllib
from functools import cache
from pathlib import Path

import pytest

from commission.expected.model import OutputModel, rated_current_a, working_case
from commission.expected.sheet import Sheet
from commission.resources import samples
from commission.shapes import build
from commission.site.load import load_site
from commission.site.schema import Output, Site, Station

NAMES = sorted(samples())
ASKED_FOR = {"small-garden", "two-paths", "sixty-boxes", "converted-bundle"}
ROOM_V = 1.0  # above its minimum, at the worst solenoid


@cache
def sheet_of(name: str) -> Sheet:
    return Sheet(load_site(samples()[name]))


def outputs(name: str) -> list[tuple[Output, OutputModel, list[Station]]]:
    sheet = sheet_of(name)
    drawing = sheet.drawing
    return [
        (
            output,
            working_case(drawing, output.id),
            [drawing.stations[one] for one in sheet.worst_sets[output.id]],
        )
        for output in sheet.site.output
    ]


def total_a(site: Site, stations: list[Station], inrush: bool) -> float:
    """All that could flow, by adding data-sheet currents: more than any network lets flow."""
    standby_a = sum(site.decoder_kind[one.decoder].standby_current_a for one in site.station)
    kinds = [site.solenoid_kind[coil.kind] for one in stations for coil in one.solenoid]
    return standby_a + sum(k.inrush_current_a if inrush else k.holding_current_a for k in kinds)


def test_the_samples_are_there() -> None:
    assert set(NAMES) >= ASKED_FOR


@pytest.mark.parametrize("name", NAMES)
def test_each_says_in_three_places_that_it_is_invented(name: str) -> None:
    text = samples()[name].read_text("utf-8")
    site = sheet_of(name).site
    assert site.site.invented
    assert "nvented" in site.site.note
    assert "# INVENTED" in text.partition("kind = ")[0]


@pytest.mark.parametrize("name", NAMES)
def test_each_names_its_schema_first(name: str) -> None:
    path = samples()[name]
    mark, _, schema = path.read_text("utf-8").split("\n")[0].partition(" ")
    assert mark == "#:schema"
    assert (path.parent / Path(schema)).is_file()


@pytest.mark.parametrize("name", NAMES)
def test_built_without_checks_it_is_the_same_site(name: str) -> None:
    table = tomllib.loads(samples()[name].read_text("utf-8"))
    assert build(Site, table) == sheet_of(name).site


@pytest.mark.parametrize("name", NAMES)
def test_the_worst_set_works_with_room_to_spare(name: str) -> None:
    """At lowest mains, in the warmest soil, all of the set in inrush at once."""
    for _output, model, stations in outputs(name):
        kinds = model.drawing.site.solenoid_kind
        kind_of = {(s.id, one.id): kinds[one.kind] for s in stations for one in s.solenoid}
        voltages_v = model.coil_voltages_v(stations, "inrush")
        assert voltages_v.keys() == kind_of.keys()
        for coil, coil_v in voltages_v.items():
            assert coil_v >= kind_of[coil].min_voltage_v + ROOM_V, coil


@pytest.mark.parametrize("name", NAMES)
def test_the_output_carries_the_worst_set(name: str) -> None:
    """Held within its rating; in inrush below its fuse or its electronic limit."""
    for output, model, stations in outputs(name):
        site = model.drawing.site
        bound_a = output.fuse_a or output.current_limit_a
        assert bound_a is not None
        assert total_a(site, stations, inrush=False) < rated_current_a(output)
        assert total_a(site, stations, inrush=True) < bound_a


@pytest.mark.parametrize("name", NAMES)
def test_equipment_is_of_the_plain_kind(name: str) -> None:
    """24 V a.c. outputs and decoders that draw milliamperes (common practice, no source)."""
    site = sheet_of(name).site
    assert site.site.frequency_hz in (50.0, 60.0)
    assert all(output.rated_voltage_v == 24.0 for output in site.output)
    assert all(40.0 <= (output.rating_va or 0.0) <= 100.0 for output in site.output)
    assert all(0.001 <= k.standby_current_a <= 0.004 for k in site.decoder_kind.values())


@pytest.mark.parametrize("name", NAMES)
def test_every_kind_is_used_and_every_station_waters_something_of_its_own(name: str) -> None:
    site = sheet_of(name).site
    coils = {coil.kind for station in site.station for coil in station.solenoid}
    assert coils == site.solenoid_kind.keys()
    assert {station.decoder for station in site.station} == site.decoder_kind.keys()
    pairs = [segment.cable or path.cable for path in site.path for segment in path.segment]
    old = {one.cable or path.cable[0] for path in site.path for one in path.conductor}
    assert {kind for pair in pairs for kind in pair} | old == site.cable_kind.keys()
    waters = [station.waters for station in site.station]
    assert all(waters)
    assert len(set(waters)) == len(waters)


def test_small_garden() -> None:
    sheet = sheet_of("small-garden")
    (tree,) = sheet.drawing.trees.values()
    assert sheet.site.site.units == "US"
    assert len(sheet.site.station) == 6
    assert tree.ends() == ("B4", "B6")
    assert sheet.site.output[0].stations_at_once == 2


def test_two_paths() -> None:
    sheet = sheet_of("two-paths")
    site = sheet.site
    assert len(site.path) == 2
    assert all(tree.branched for tree in sheet.drawing.trees.values())
    assert 38 <= len(site.station) <= 42
    assert len({segment.cable or site.path[0].cable for segment in site.path[0].segment}) > 1
    assert sum(len(station.solenoid) == 2 for station in site.station) >= 3
    (master,) = (station for station in site.station if station.runs_with_every_station)
    assert master.id in sheet.worst_sets["1"]


def test_sixty_boxes() -> None:
    sheet = sheet_of("sixty-boxes")
    boxes = [segment.to_box for path in sheet.site.path for segment in path.segment]
    assert len(boxes) == len(sheet.site.station) == 60


def test_converted_bundle() -> None:
    site = sheet_of("converted-bundle").site
    assert site.site.units == "SI"
    assert site.site.frequency_hz == 50.0
    assert not any(path.new_cable for path in site.path)
    assert any(path.cable[0] != path.cable[1] for path in site.path)
