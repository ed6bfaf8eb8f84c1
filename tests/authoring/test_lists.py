"""Lists of stations: what is wrong in broken ones, and that a sound one gives the site by hand.

Beside `NAME.csv` in broken/ stands `NAME.problems`, written by hand from the file: one problem on
each line, as line, column and a part of the words. A line of "-" is a problem that has no line.
"""

from __future__ import annotations

import tomllib
from collections.abc import Iterator, Mapping
from dataclasses import replace
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from commission.authoring.draft import Kinds, Units, usual_supply
from commission.authoring.from_list import Choices, drawn_from
from commission.authoring.station_list import COLUMNS, parse
from commission.authoring.writing import site_text
from commission.checklist.targets import Target
from commission.expected.sheet import Sheet
from commission.expected.values import Expectation
from commission.problems import InputRefused, Problem
from commission.resources import samples
from commission.site.load import load_site, parse_site
from commission.site.schema import Path as DrawnPath
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
    assert len(FILES) >= 58
    assert len(FILES) + len(list(SITES.glob("*.toml"))) >= 130
    assert {one.stem for one in FILES} == {one.stem for one in FOLDER.glob("*.problems")}


@pytest.mark.parametrize("path", FILES, ids=lambda path: path.stem)
def test_every_problem_is_told_and_no_other(path: Path) -> None:
    found = problems_in(path.read_bytes())
    assert found
    for row in path.with_suffix(".problems").read_text("utf-8").splitlines():
        line, column, words = row.split(" | ", 2)
        number = None if line == "-" else int(line)
        matching = [
            one for one in found if (one.line, one.key) == (number, column) and words in one.message
        ]
        assert len(matching) == 1, f"{row} among {found}"
        found.remove(matching[0])
    assert found == []


def as_list(site: Site) -> str:
    """A sample as its estimator might have written it, in feet."""
    trees = Sheet(site).drawing.trees
    head = "Zone;Decoder address;Path;Valve box;From box;Cable length (ft);Wire;Kind of decoder"
    rows = [f"{head};Valves;Area"]
    for station in site.station:
        feed = trees[station.path].feeds[station.box]
        wire = (feed.cable or path_of(site, station.path).cable)[0]
        cells = [station.number, station.address, station.path, station.box, feed.from_box]
        cells += [f"{feed.length_m / FOOT_M:.6f}", wire, station.decoder]
        cells += [f"{len(station.solenoid)} x {station.solenoid[0].kind}", station.waters]
        rows.append(";".join(map(str, cells)))
    return "\n".join([*rows, ""])


def path_of(site: Site, name: str) -> DrawnPath:
    """A path by its id."""
    return next(one for one in site.path if one.id == name)


def put_on_top(listed: Site, by_hand: Site) -> Site:
    """The site of a list with what no list holds: soil, supply, limits, how lengths were taken."""
    numbers = {one.number: one for one in by_hand.station}
    stations = [(one, numbers[one.number]) for one in listed.station]
    return replace(
        by_hand,
        solenoid_kind=listed.solenoid_kind,
        decoder_kind=listed.decoder_kind,
        cable_kind=listed.cable_kind,
        path=tuple(path_on_top(one, path_of(by_hand, one.id)) for one in listed.path),
        station=tuple(
            replace(one, id=hand.id, runs_with_every_station=hand.runs_with_every_station)
            for one, hand in stations
        ),
    )


def path_on_top(listed: DrawnPath, by_hand: DrawnPath) -> DrawnPath:
    """The same for a path."""
    taken = {one.to_box: one.length_by for one in by_hand.segment}
    return replace(
        listed,
        length_by=by_hand.length_by,
        stations_at_once=by_hand.stations_at_once,
        segment=tuple(replace(one, length_by=taken[one.to_box]) for one in listed.segment),
    )


# The other samples describe bundles, whose pairs have two conductors each: no list holds them.
LISTED = ("small-garden", "two-paths", "sixty-boxes")


def test_every_sample_is_listed_but_those_of_a_bundle() -> None:
    for name, file in samples().items():
        paths = load_site(file).path
        pairs = [segment.cable or path.cable for path in paths for segment in path.segment]
        bundle = any(path.conductor for path in paths) or any(a != b for a, b in pairs)
        assert bundle == (name not in LISTED)


@pytest.mark.parametrize("name", LISTED)
def test_a_list_gives_the_expectations_of_the_file_by_hand(name: str) -> None:
    """A sample, every box of which has a station: all that is computed of it agrees.

    Its kinds are taken for the user's own.
    """
    sample = samples()[name]
    tables = tomllib.loads(sample.read_text("utf-8"))
    own = Kinds(tables["solenoid_kind"], tables["decoder_kind"], tables["cable_kind"])
    by_hand = load_site(sample)
    listed = parse(as_list(by_hand).encode("utf-8"), "l.csv")
    draft, found = drawn_from(listed, choices("US"), own)
    assert not found
    written = parse_site(site_text(draft).encode("utf-8"), "l.toml")
    assert written.cable_kind == by_hand.cable_kind
    assert written.solenoid_kind == by_hand.solenoid_kind
    one, other = Sheet(by_hand), Sheet(put_on_top(written, by_hand))
    assert other.worst_sets == one.worst_sets
    compared = 0
    for target in targets(by_hand):
        for expectation in EXPECTED[target.scope]:
            want, got = one.expectation(expectation, target), other.expectation(expectation, target)
            assert want is not None
            assert got is not None
            assert numbers_of(got) == pytest.approx(numbers_of(want), rel=1e-5), (want.name, target)
            compared += 1
    assert compared == 4 * len(by_hand.station) + 3 * len(by_hand.path) + len(by_hand.output)


def numbers_of(expectation: Expectation) -> list[float]:
    """The value and its bounds, as far as there are any."""
    numbers = (expectation.value, expectation.low, expectation.high)
    return [one for one in numbers if one is not None]


EXPECTED: Mapping[str, tuple[str, ...]] = {
    "station": ("loop-resistance", "end-voltage", "station-current", "station-voltage"),
    "path": ("standby-current", "first-volts-to-earth", "second-volts-to-earth"),
    "output": ("output-voltage",),
}


def targets(site: Site) -> Iterator[Target]:
    """Everywhere that something is expected."""
    outputs = {path.id: path.output for path in site.path}
    for one in site.station:
        yield Target("station", outputs[one.path], one.path, one.box, one.id)
    for path in site.path:
        yield Target("path", path.output, path.id)
    for output in site.output:
        yield Target("output", output.id)


def test_distances_from_the_terminals_make_a_chain_in_their_order() -> None:
    site = drawn(
        "station,box,distance (m),cable\n1,B1,20,2.5 mm²\n3,B3,75.5,2.5 mm²\n2,B2,50,2.5 mm²\n",
        "SI",
    )
    assert [(s.from_box, s.to_box, s.length_m) for s in site.path[0].segment] == [
        ("output", "B1", 20.0), ("B1", "B2", 30.0), ("B2", "B3", 25.5),
    ]  # fmt: skip


def test_usual_data_never_stand_under_the_name_of_an_own_kind() -> None:
    """One row names a kind of the user's, one none: the other gets what is usual, 0.37 A."""
    own = Kinds({"valve": {"inrush_current": "0.6 A", "holding_current": "0.3 A"}})
    text = b"station,box,distance,wire,valves\n1,B1,9 m,14 AWG,1 x valve\n2,B2,19 m,14 AWG,1\n"
    draft, found = drawn_from(parse(text, "l.csv"), choices("SI"), own)
    assert not found
    site = parse_site(site_text(draft).encode("utf-8"), "l.toml")
    inrush = [site.solenoid_kind[one.solenoid[0].kind].inrush_current_a for one in site.station]
    assert inrush == [0.6, 0.37]


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


@pytest.mark.parametrize("blank", "\u00a0\u2007\u202f\u3000")
def test_every_blank_is_a_plain_one(blank: str) -> None:
    text = f"station,box,distance{blank}(ft),cable\n1,B1,{blank}100,14{blank}AWG\n"
    assert drawn(text).path[0].segment[0].length_m == pytest.approx(30.48)
    problems = problems_in(text.replace("distance", "distbnce").encode("utf-8"))
    assert "'distbnce (ft)'" in problems[0].message


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


def test_addresses_are_each_outputs_own() -> None:
    """Decoders on another output hang on another pair of wires."""
    site = drawn(
        "station,address,output,path,distance (m),cable\n"
        "1,1,1,A,5,14 AWG\n2,1,North side,B,5,14 AWG\n"
    )
    assert [(one.id, [s.address for s in site.station]) for one in site.output] == [
        ("1", [1, 1]), ("North-side", [1, 1]),
    ]  # fmt: skip


def test_a_length_goes_on_from_the_box_before_where_distances_are_known_of_others() -> None:
    site = drawn(
        "station,box,distance (m),length (m),cable\n"
        "1,B1,20,,14 AWG\n2,B2,,15,14 AWG\n3,B3,60,,14 AWG\n4,B4,70,10,14 AWG\n",
        "SI",
    )
    assert [s.length_m for s in site.path[0].segment] == [20.0, 15.0, 25.0, 10.0]


def test_a_length_of_three_decimals_comes_back_from_the_file() -> None:
    """30 ft are 9.144 m, which could be read as 9144 m without another digit."""
    (segment,) = drawn("station,distance,cable\n1,30 ft,14 AWG\n", "SI").path[0].segment
    assert segment.length_m == pytest.approx(9.144)
    (segment,) = drawn("station,distance,cable\n1,1.1525 m,14 AWG\n").path[0].segment
    assert segment.length_m == pytest.approx(1.1525, abs=2e-4)


# Cells as they might stand in a list: some sound, some not, some that only a whole site can judge.
CELLS: Mapping[str, tuple[str, ...]] = {
    "station": ("1", "2", "3", "4", "5", "9999", "10000"),
    "address": ("", "1", "2", "3", "99999", "100000"),
    "output": ("", "1", "2", "North side", "x" * 20, "ü"),
    "path": ("", "A", "B", "my path"),
    "box": ("", "B1", "B2", "Output", "controller"),
    "from": ("", "output", "B1", "B2", "Output", "B9"),
    "distance": ("5 m", "30 ft", "0 m", "", "12.345 m", "21000 m"),
    "length": ("", "5 m", "30 ft", "0 m", "99999 m"),
    "cable": ("14 AWG", "thick", "2.5 mm²", "2.50 mm2", "3 mm²", "40 AWG", "0 AWG", "4/0 AWG"),
    "decoder kind": ("", "double", "none"),
    "solenoids": ("", "1", "2", "0", "17", "2 x big", "99 x big"),
    "description": ("", "Lawn", "a # b"),
}
OWN = Kinds(
    {"big": {"inrush_current": "0.5 A", "holding_current": "0.2 A"}},
    {"double": {"solenoids": 2, "standby_current": "2 mA"}},
    {"thick": {"conductor": "10 AWG"}},
)


@settings(max_examples=400, deadline=None)
@given(st.data())
def test_a_list_in_which_nothing_is_wrong_makes_a_site_that_loads(data: st.DataObject) -> None:
    """So every problem is told of a row and column, none of a file that was not written."""
    columns = ["station", "cable", *data.draw(st.sets(st.sampled_from(sorted(CELLS))))]
    columns = list(dict.fromkeys([*columns, "distance"]))
    row = st.tuples(*(st.sampled_from(CELLS[name]) for name in columns))
    rows = data.draw(st.lists(row, min_size=1, max_size=4))
    text = "\n".join(";".join(cells) for cells in [columns, *rows])
    units = data.draw(st.sampled_from(["US", "SI"]))
    wanted = Choices("A site", "US" if units == "US" else "SI", usual_supply("US"))
    draft, found = drawn_from(parse(text.encode(), "l.csv"), wanted, OWN)
    if found:
        assert all(problem.line for problem in found)
        return
    site = parse_site(site_text(draft).encode(), "l.toml")
    assert len(site.station) == len(rows)
