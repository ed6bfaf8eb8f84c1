"""What a site file may say that looks unusual and is right."""

from __future__ import annotations

import pytest

from commission.resources import samples
from commission.site.load import parse_site
from commission.site.schema import ROOT, Site

TEXT = samples()["small-garden"].read_text("utf-8")


def changed(*changes: tuple[str, str]) -> Site:
    text = TEXT
    for old, new in changes:
        assert old in text
        text = text.replace(old, new, 1)
    return parse_site(text.encode("utf-8"), "site.toml")


def test_a_station_at_the_terminals() -> None:
    """A pump relay beside the controller."""
    site = changed(('box = "B1"\ndecoder', f'box = "{ROOT}"\ndecoder'))
    assert site.station[0].box == ROOT


@pytest.mark.parametrize("size", ["22 AWG", "0 AWG", "4/0 AWG", "1.0 mm²", "2.50 mm²", "2.5 mm2"])
def test_sizes_as_people_write_them(size: str) -> None:
    site = changed(('conductor = "14 AWG"', f'conductor = "{size}"'))
    assert site.cable_kind["pair-14"].conductor == size.replace("mm2", "mm²")


@pytest.mark.parametrize("size", ["24 AWG", "2 mm²", "1.3 mm²"])
def test_an_odd_size_with_its_data_sheet(size: str) -> None:
    changed(('conductor = "14 AWG"', f'conductor = "{size}"\nresistance = "84 ohm/km"'))


def test_a_large_earthing_conductor() -> None:
    assert changed(('conductor = "6 AWG"', 'conductor = "120 mm²"')).earth.conductor == "120 mm²"


def test_numbers_with_either_decimal_mark() -> None:
    site = changed(('length = "85 ft"', 'length = "26,5 m"'), ('"140 ft"', '"42.7 m"'))
    assert [one.length_m for one in site.path[0].segment[:2]] == [26.5, 42.7]


def test_one_address_on_two_outputs() -> None:
    """Addresses are an output's own; so are paths, and a path takes its boxes along."""
    second = TEXT[TEXT.index("[[output]]") : TEXT.index("[earth]")].replace('id = "1"', 'id = "2"')
    path = (
        '[[path]]\nid = "B"\noutput = "2"\ncable = "pair-14"\n'
        'segment = [{ from = "output", to = "C1", length = "9 ft" }]\n'
        '[[station]]\nid = "S7"\nnumber = 7\naddress = 101\npath = "B"\nbox = "C1"\n'
        'decoder = "single"\nsolenoid = [{ id = "V7", kind = "valve-1in" }]\n'
    )
    site = parse_site((TEXT.replace("[earth]", second + "[earth]", 1) + path).encode(), "site.toml")
    assert [one.address for one in site.station if one.id in ("S1", "S7")] == [101, 101]


def test_two_stations_in_one_box() -> None:
    site = changed(('box = "B2"\ndecoder', 'box = "B1"\ndecoder'))
    assert [one.box for one in site.station[:2]] == ["B1", "B1"]


def test_segments_in_any_order() -> None:
    first = '    { from = "output", to = "B1", length = "85 ft" },\n'
    last = 'length_by = "drawing" }, # under the drive\n'
    site = changed((first, ""), (last, last + first))
    assert site.path[0].segment[-1].from_box == ROOT
