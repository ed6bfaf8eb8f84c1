"""Lists of stations: what is wrong in broken ones, and that a sound one gives the site by hand.

Beside `NAME.csv` in broken/ stands `NAME.problems`, written by hand from the file: one problem on
each line, as line, column and a part of the words. A line of "-" is a problem that has no line.
"""

from __future__ import annotations

import tomllib
from collections.abc import Mapping
from pathlib import Path

import pytest

from commission.authoring.draft import Kind, Kinds, Units, usual_supply
from commission.authoring.from_list import Choices, drawn_from
from commission.authoring.station_list import COLUMNS, parse
from commission.authoring.writing import site_text
from commission.checklist.targets import Target
from commission.expected.sheet import Sheet
from commission.problems import InputRefused, Problem
from commission.resources import samples
from commission.site.load import load_site, parse_site
from commission.site.schema import Site
from commission.units import FOOT_M

FOLDER = Path(__file__).parent / "broken"
FILES = sorted(FOLDER.glob("*.csv"))
SITES = Path(__file__).parents[1] / "site" / "broken"


def problems_in(content: bytes) -> list[Problem]:
    """Everything wrong in a list."""
    try:
        listed = parse(content, "list.csv")
    except InputRefused as refused:
        return list(refused.problems)
    return drawn_from(listed, choices("US"), Kinds())[1]


def choices(units: Units, cable: str = "") -> Choices:
    return Choices("A site", units, usual_supply(units, 2), cable)


def drawn(text: str, units: Units = "US", cable: str = "") -> Site:
    """The site that a sound list describes, through the file that is written."""
    draft, found = drawn_from(parse(text.encode("utf-8"), "l.csv"), choices(units, cable), Kinds())
    assert not found
    return parse_site(site_text(draft).encode("utf-8"), "l.toml")


def test_there_are_broken_lists_and_each_has_its_problems() -> None:
    assert len(FILES) >= 30
    assert len(FILES) + len(list(SITES.glob("*.toml"))) >= 60
    assert {one.stem for one in FILES} == {one.stem for one in FOLDER.glob("*.problems")}


@pytest.mark.parametrize("path", FILES, ids=lambda path: path.stem)
def test_every_problem_is_told_and_no_other(path: Path) -> None:
    found = problems_in(path.read_bytes())
    for row in path.with_suffix(".problems").read_text("utf-8").splitlines():
        line, column, words = row.split(" | ", 2)
        number = None if line == "-" else int(line)
        matching = [
            one for one in found if (one.line, one.key) == (number, column) and words in one.message
        ]
        assert len(matching) == 1, f"{row} among {found}"
        found.remove(matching[0])
    assert found == []


def as_list(site: Site, *, chained: bool) -> str:
    """A sample as its estimator might have written it, in feet."""
    sheet, rows = Sheet(site), []
    head = "Zone;Decoder address;Path;Valve box;From box;Cable length (ft);Wire;Area"
    wire = site.path[0].cable[0]
    for station in site.station:
        tree = sheet.drawing.trees[station.path]
        feed = tree.feeds[station.box]
        length = feed.length_m if chained else tree.distance_m(station.box)
        cells = [station.number, station.address, station.path, station.box]
        cells += [feed.from_box] if chained else []
        rows.append(";".join(map(str, [*cells, f"{length / FOOT_M:.6f}", wire, station.waters])))
    if not chained:
        head = head.replace("From box;Cable length", "Distance")
    return "\n".join([head, *rows, ""])


def test_a_list_gives_the_expectations_of_the_file_by_hand() -> None:
    """The small garden, every box of which has a station: all that is computed of it agrees.

    Its kinds are taken for the user's own; how lengths were obtained is not in a list.
    """
    sample = samples()["small-garden"]
    tables = tomllib.loads(sample.read_text("utf-8"))
    own = Kinds(tables["solenoid_kind"], tables["decoder_kind"], tables["cable_kind"])
    by_hand = load_site(sample)
    listed = parse(as_list(by_hand, chained=True).encode("utf-8"), "l.csv")
    wanted = Choices(
        "A site",
        "US",
        usual_supply("US", 2),
        solenoid=only(own.solenoid),
        decoder=only(own.decoder),
    )
    draft, found = drawn_from(listed, wanted, own)
    assert not found
    one, other = Sheet(by_hand), Sheet(parse_site(site_text(draft).encode("utf-8"), "l.toml"))
    assert other.worst_sets == one.worst_sets
    compared = 0
    for station in by_hand.station:
        path = by_hand.path[0]
        target = Target(
            "station", output=path.output, path=path.id, box=station.box, station=station.id
        )
        for name in ("loop-resistance", "end-voltage", "station-current", "station-voltage"):
            want, got = one.expectation(name, target), other.expectation(name, target)
            assert want is not None
            assert got is not None
            assert got.value == pytest.approx(want.value, rel=1e-4), (name, station.id)
            compared += 1
    assert compared == 24


def only(kinds: Mapping[str, Kind]) -> str:
    """The name of the one kind that there is."""
    (name,) = kinds
    return name


def test_distances_from_the_terminals_make_a_chain_in_their_order() -> None:
    site = drawn(
        "station,box,distance (m),cable\n1,B1,20,2.5 mm²\n3,B3,75.5,2.5 mm²\n2,B2,50,2.5 mm²\n",
        "SI",
    )
    assert [(s.from_box, s.to_box, s.length_m) for s in site.path[0].segment] == [
        ("output", "B1", 20.0), ("B1", "B2", 30.0), ("B2", "B3", 25.5),
    ]  # fmt: skip


def test_a_decimal_comma_and_a_declared_separator_are_understood() -> None:
    text = "sep=;\r\nzone;box;distance;wire\r\n1;B1;20,5 m;2,5 mm2\r\n"
    listed = parse(text.encode("utf-8-sig"), "list.csv")
    assert listed.separator == "semicolon"
    assert listed.rows[0].line == 3
    assert drawn(text, "SI").path[0].segment[0].length_m == 20.5


@pytest.mark.parametrize(
    "heading", ["Distance (ft)", "distance [FT]", "DISTANCE_ft", "distance, feet"]
)
def test_units_may_stand_in_the_heading(heading: str) -> None:
    text = f'station;box;"{heading}";cable\n1;B1;100;14 AWG\n'
    assert drawn(text).path[0].segment[0].length_m == pytest.approx(30.48)


def test_no_two_columns_share_a_name() -> None:
    names = [name for name, also in COLUMNS.items() for name in (name, *also)]
    assert len(names) == len(set(names))


def test_five_hundred_stations_on_four_paths() -> None:
    rows = [
        f"{n},{'ABCD'[n % 4]},{'ABCD'[n % 4]}{n // 4 + 1},{20 * (n // 4 + 1)} m" for n in range(500)
    ]
    text = "\n".join(["station,path,box,distance", *(f"{row}" for row in rows)])
    site = drawn(text.replace("\n0,", "\n500,"), "SI", "12 AWG")
    assert len(site.station) == 500
    assert [len(path.segment) for path in site.path] == [125] * 4
