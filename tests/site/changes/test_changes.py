"""Changes of a drawing: as values, as one line, in tables and in the text of a file.

The text is edited by one library (tomlkit) and read by another (tomllib of Python itself); what a
change does to a whole site is stated here by hand.
"""

from __future__ import annotations

import difflib
import re
import tomllib

import pytest
from hypothesis import given
from hypothesis import strategies as st

from commission.expected.inputs import LENGTH_ERROR
from commission.problems import InputRefused
from commission.resources import samples
from commission.site.changes import drawing
from commission.site.changes.apply import BY_STRENGTH
from commission.site.changes.drawing import (
    changed_site,
    changed_tables,
    edited,
    edited_text,
    tables_of,
)
from commission.site.changes.kinds import (
    AddBox,
    AddEnd,
    AddStation,
    Cable,
    Change,
    ChangeBox,
    ChangeStation,
    DeleteBox,
    DeleteStation,
    Length,
    MoveStation,
    Rename,
    SwapAddresses,
    described,
    line,
    read_line,
)
from commission.site.changes.words import told
from commission.site.load import parse_site
from commission.site.tree import build_tree
from commission.units import parse_quantity

GARDEN = samples()["small-garden"].read_text("utf-8")
CHANGES: tuple[Change, ...] = (
    Length("A", "B6", "90 ft", "tape"),
    Length("A", "B2", "41,5 m"),
    Cable("A", "B3", "pair-14"),
    Cable("A", "B3", "12 AWG"),
    Cable("A", "B3", "2.5 mm²"),
    AddBox("A", "B2", "B7", "60 ft", "80 ft", "Half-way box", "By the pond"),
    AddEnd("A", "B3", "B8", "55 ft"),
    AddEnd("A", "output", "B8", "20 m", "12 AWG", "Gate box", "By the gate"),
    AddStation("S7", 7, 107, "A", "B2", "single", "valve-1in"),
    AddStation(
        "S8", 8, 108, "A", "B3", "double", "valve-1in", 2, waters="Plums",
        decoder_kind=(("solenoids", 2), ("standby_current", "4 mA"), ("note", 'the "new" one')),
    ),
    Cable("A", "B3", "thick", (("conductor", "10 AWG"), ("stranded", True))),
    ChangeStation("S3", number=33, address=203, waters="Roses", label="Rose bed"),
    ChangeStation(
        "S3", decoder="double", solenoid="big", solenoids=2,
        decoder_kind=(("solenoids", 2), ("standby_current", "4 mA")),
        solenoid_kind=(("inrush_current", "0.5 A"), ("holding_current", "0.25 A")),
    ),
    SwapAddresses("S3", "S4"),
    ChangeBox("A", "B3", location="By the pond"),
    ChangeBox("A", "B2", "Fork", "At the oak"),
    Length("A", "B6", length_by="tape"),
    MoveStation("S3", "A", "B4"),
    Rename("box", "B3", "Rose box"),
    Rename("path", "A", "All of it"),
    Rename("station", "S1", "Lawn"),
    DeleteStation("S3"),
    DeleteStation("S6"),
)  # fmt: skip
by_kind = pytest.mark.parametrize("change", CHANGES, ids=line)


@by_kind
def test_a_change_is_one_line_of_toml_and_comes_back(change: Change) -> None:
    assert "\n" not in line(change)
    assert read_line(line(change)) == change


@by_kind
def test_the_edited_text_is_the_changed_site(change: Change) -> None:
    edited = edited_text(GARDEN, change)
    site = parse_site(edited.encode("utf-8"), "edited")
    assert site == changed_site(GARDEN, [change])
    assert site == changed_site(GARDEN, [change], known_good=True)
    assert site != parse_site(GARDEN.encode("utf-8"), "before") or change == CHANGES[2]


@by_kind
def test_comments_and_order_stay(change: Change) -> None:
    def comments(text: str) -> list[str]:
        return [row for row in text.splitlines() if row.lstrip().startswith("#")]

    edited = edited_text(GARDEN, change)
    assert comments(edited) == comments(GARDEN)
    assert "# under the drive" in edited
    # All else is as it was: what is new or gone are the lines of the thing itself.
    moved = [row for row in difflib.ndiff(GARDEN.splitlines(), edited.splitlines())
             if row[:1] in "+-"]  # fmt: skip
    kinds = sum(len(kind) + 2 for _, _, kind in described(change))
    assert len(moved) <= 16 + kinds


@by_kind
def test_the_lines_of_one_table_are_edited_as_the_whole_document_is(change: Change) -> None:
    tables = tables_of(GARDEN)
    alone = drawing._in_its_block(GARDEN, tables, changed_tables(tables, [change]), change)
    whole = drawing._by_document(GARDEN, change)
    if alone:
        assert alone == whole
    else:  # a kind is described too, a station goes, or two change
        several = isinstance(change, Cable | AddEnd | DeleteStation | SwapAddresses)
        assert several or any(described(change))


def test_line_ends_and_the_mark_in_front_stay() -> None:
    edited = edited_text("\ufeff" + GARDEN.replace("\n", "\r\n"), CHANGES[0])
    assert edited == "\ufeff" + edited_text(GARDEN, CHANGES[0]).replace("\n", "\r\n")


def test_changing_back_a_length_gives_the_same_bytes() -> None:
    there = edited_text(GARDEN, Length("A", "B6", "90 ft", "tape"))
    assert edited_text(there, Length("A", "B6", "75 ft", "drawing")) == GARDEN


def test_a_comment_above_the_next_station_stays_when_one_is_deleted() -> None:
    head = '[[station]]\nid = "S4"'
    drawn = GARDEN.replace(head, f"# the far ones\n{head}")
    assert "# the far ones\n" + head in edited_text(drawn, DeleteStation("S3"))


def test_a_box_in_the_middle_and_out_again() -> None:
    added = edited_text(GARDEN, AddBox("A", "B2", "B7", "60 ft", "80 ft"))
    tree = build_tree(parse_site(added.encode("utf-8"), "added").path[0])
    assert [segment.to_box for segment in tree.route("B2")] == ["B1", "B7", "B2"]
    assert tree.distance_m("B2") == pytest.approx(parse_quantity("225 ft", "length"), rel=1e-12)
    without = edited_text(added, DeleteBox("A", "B7"))
    assert parse_site(without.encode(), "x") == parse_site(GARDEN.encode(), "x")


def test_a_new_size_is_described_once() -> None:
    twice = [Cable("A", "B3", "12 AWG"), Cable("A", "B4", "12 AWG")]
    site = changed_site(GARDEN, twice)
    assert list(site.cable_kind) == ["pair-14", "12-AWG"]
    assert [segment.cable for segment in site.path[0].segment[2:4]] == [("12-AWG",) * 2] * 2


def test_the_tables_given_stay_as_they_are() -> None:
    tables = tables_of(GARDEN)
    for change in CHANGES:
        changed_tables(tables, [change])
    assert tables == tomllib.loads(GARDEN)


@pytest.mark.parametrize(
    ("change", "words"),
    [
        (Length("A", "B9", "1 m"), "there is no box 'B9' on path A"),
        (Length("Z", "B2", "1 m"), "there is no path 'Z'"),
        (Length("A", "B2", "10"), "a unit is missing"),
        (Length("A", "B2", "0 m"), "a segment of no length"),
        (Length("A", "B2", "10 m", "guess"), "length_by"),
        (Cable("A", "B2", "pair-15"), "there is no cable kind 'pair-15'"),
        (AddBox("A", "B2", "b3", "1 m", "1 m"), "box id 'b3' is taken"),
        (AddBox("A", "B2", "Output", "1 m", "1 m"), "box id 'Output' is taken"),
        (AddBox("A", "B2", "B 7", "1 m", "1 m"), "an id has 1 to 16"),
        (AddEnd("A", "B9", "B8", "1 m"), "there is no box 'B9'"),
        (AddEnd("A", "B2", "b3", "1 m"), "box id 'b3' is taken"),
        (AddEnd("A", "B2", "B8", "long"), "the length"),
        (AddEnd("A", "B2", "B8", "1 m", "pair-15"), "there is no cable kind 'pair-15'"),
        (AddStation("s1", 9, 9, "A", "B2", "single", "valve-1in"), "station id 's1' is taken"),
        (AddStation("S9", 1, 9, "A", "B2", "single", "valve-1in"), "station number 1 is taken"),
        (AddStation("S9", 9, 101, "A", "B2", "single", "valve-1in"), "address 101 is taken"),
        (AddStation("S9", 9, 9, "A", "B2", "single", "valve-1in", 2), "2 solenoids on a decoder"),
        (AddStation("S9", 9, 9, "A", "B2", "double", "valve-1in"), "no decoder kind 'double'"),
        (MoveStation("S9", "A", "B2"), "there is no station 'S9'"),
        (ChangeStation("S9", number=2), "there is no station 'S9'"),
        (ChangeStation("S3", number=2), "station number 2 is taken"),
        (ChangeStation("S3", address=102), "address 102 is taken"),
        (ChangeStation("S3", decoder="double"), "no decoder kind 'double'"),
        (ChangeStation("S3", solenoids=2), "2 solenoids on a decoder for 1"),
        (ChangeStation("S3", solenoids=0), "one solenoid at least"),
        (SwapAddresses("S3", "S9"), "there is no station 'S9'"),
        (ChangeBox("A", "B9", label="x"), "there is no box 'B9'"),
        (Cable("A", "B3", "thick", (("conductor", "24 AWG"),)), "not a wire gauge"),
        (Cable("A", "B3", "thick", (("size", "12 AWG"),)), "size"),
        (
            Cable("A", "B3", "pair-14", (("conductor", "12 AWG"),)),
            "another kind called 'pair-14'",
        ),
        (Rename("decoder", "S1", "x"), "a path, a box or a station has a label"),
        (Rename("box", "B9", "x"), "there is no box 'B9'"),
        (DeleteStation("S9"), "there is no station 'S9'"),
        (DeleteBox("A", "B2"), "move or delete its stations first: number 2"),
    ],
    ids=str,
)
def test_what_cannot_be_is_refused_in_words(change: Change, words: str) -> None:
    with pytest.raises(InputRefused, match=words):
        changed_site(GARDEN, [change])
    with pytest.raises(InputRefused):
        edited_text(GARDEN, change)


def test_a_box_that_feeds_several_and_the_last_station_stay() -> None:
    with pytest.raises(InputRefused, match="box B2 feeds 2 others"):
        changed_site(GARDEN, [DeleteStation("S2"), DeleteBox("A", "B2")])
    with pytest.raises(InputRefused, match="station"):
        changed_site(GARDEN, [DeleteStation(f"S{n}") for n in range(1, 7)])


WITHOUT_S5 = edited_text(GARDEN, DeleteStation("S5"))


def test_joined_cables_count_as_taken_in_the_weaker_way() -> None:
    """160 ft by wheel (2 %) and 75 ft from the drawing (5 %): 235 ft, all from the drawing."""
    found = edited(WITHOUT_S5, DeleteBox("A", "B5"))
    (cable,) = (one for one in found.site.path[0].segment if one.to_box == "B6")
    assert (cable.from_box, cable.length_by) == ("B2", "drawing")
    assert cable.length_m == pytest.approx(235 * 0.3048)
    assert found.told[2] == "not there; one cable of 235 ft by drawing, B2 to B6"
    assert changed_site(WITHOUT_S5, [DeleteBox("A", "B5")]) == found.site


@pytest.mark.parametrize(
    ("first", "second", "by"),
    [
        ("tape", "wheel", "wheel"),
        ("estimate", "tape", "estimate"),
        ("drawing", "drawing", "drawing"),
        ("loop", "tape", "tape"),
        ("", "tape", "wheel"),  # the path's own way
        ("tape", "", "wheel"),
    ],
)
def test_the_way_of_a_joined_cable_is_never_better_than_either(
    first: str, second: str, by: str
) -> None:
    text = WITHOUT_S5
    for box, way in (("B5", first), ("B6", second)):
        length = "160 ft" if box == "B5" else "75 ft"
        told = f', length_by = "{way}"' if way else ""
        row = re.compile(rf'(to = "{box}", length = "{length}")(, length_by = "drawing")?')
        text = row.sub(rf"\1{told}", text)
    site = edited(text, DeleteBox("A", "B5")).site
    (cable,) = (one for one in site.path[0].segment if one.to_box == "B6")
    assert (cable.length_by or site.path[0].length_by) == by
    # Half-widths of one way add in full: never less than those of both cables together.
    assert LENGTH_ERROR[by] * 235 >= (
        LENGTH_ERROR[first or "wheel"] * 160 + LENGTH_ERROR[second or "wheel"] * 75
    ) * (1 - 1e-12)


def test_the_ways_of_a_length_stand_in_the_order_of_their_errors() -> None:
    assert list(BY_STRENGTH) == sorted(LENGTH_ERROR, key=LENGTH_ERROR.__getitem__)


def test_a_cable_named_by_the_segment_or_by_its_path_is_the_same() -> None:
    named = edited_text(WITHOUT_S5, Cable("A", "B5", "pair-14"))
    assert edited(named, DeleteBox("A", "B5")).told[2].startswith("not there; one cable of 235 ft")
    other = edited_text(WITHOUT_S5, Cable("A", "B5", "12 AWG"))
    with pytest.raises(InputRefused, match="both sides of box B5 are of two kinds"):
        edited(other, DeleteBox("A", "B5"))


@given(st.text(max_size=120))
def test_no_line_is_read_but_one_that_is_written_so(text: str) -> None:
    try:
        change = read_line(text)
    except InputRefused:
        return
    assert line(change) == text


@pytest.mark.parametrize(
    "text",
    [
        "",
        "{}",
        "1",
        '{ change = "lenght", path = "A" }',
        '{ change = "length", path = "A" }',
        '{ change = "length", path = "A", box = 7, length = "1 m" }',
        '{ change = "length", path = "A", box = "B1", length = "1 m", colour = "red" }',
        '{ change = "length", path = "A", box = "B1", length = "1 m" }\nmore = 1',
        '{change = "length", path = "A", box = "B1", length = "1 m"}',
        '{ change = "change-station", station = "S3", number = true }',
        '{ change = "cable", path = "A", box = "B3", cable = "x", cable_kind = "12 AWG" }',
        '{ change = "cable", path = "A", box = "B3", cable = "x", cable_kind = { a = [1] } }',
        '{ change = "cable", path = "A", box = "B3", cable = "x", cable_kind = { "a b" = 1 } }',
        "{ change = [" + "[" * 5000,
    ],
)
def test_other_lines_are_refused(text: str) -> None:
    with pytest.raises(InputRefused):
        read_line(text)


def test_a_change_in_words() -> None:
    tables = tables_of(GARDEN)
    assert told(tables, Length("A", "B6", "90 ft", "tape")) == (
        "path A, cable B5 to B6", "75 ft", "90 ft by tape",
    )  # fmt: skip
    assert told(tables, Cable("A", "B6", "12 AWG"))[1:] == ("pair-14", "12 AWG")
    assert told(tables, MoveStation("S3", "A", "B4")) == (
        "station 3", "path A, box B3", "path A, box B4",
    )  # fmt: skip
    assert told(tables, Rename("box", "B2", "Fork"))[1:] == ("Branch box", "Fork")
    assert told(tables, ChangeStation("S3", address=203, waters="")) == (
        "station 3", "address 103, waters Roses, drip line", "address 203, waters not told",
    )  # fmt: skip
    assert told(tables, SwapAddresses("S3", "S4")) == (
        "stations 3 and 4", "addresses 103 and 104", "104 and 103",
    )  # fmt: skip
    thick = Cable("A", "B6", "thick", (("conductor", "10 AWG"),))
    assert told(tables, thick)[1:] == ("pair-14", "thick, with the data of thick")


def test_the_solenoids_of_a_station_become_more_and_fewer() -> None:
    double = (("solenoids", 2), ("standby_current", "4 mA"))
    more = ChangeStation("S3", decoder="double", solenoids=2, decoder_kind=double)
    two = changed_site(GARDEN, [more])
    (station,) = [one for one in two.station if one.id == "S3"]
    assert [(coil.id, coil.kind) for coil in station.solenoid] == [
        ("V3", "valve-1in"),
        ("S3.1", "valve-1in"),
    ]
    fewer = ChangeStation("S3", decoder="single", solenoids=1)
    assert changed_site(GARDEN, [more, fewer]).station == changed_site(GARDEN, []).station


def test_what_is_too_long_for_a_record_is_refused_in_words() -> None:
    note = (("conductor", "10 AWG"), ("note", "x" * 1990))
    with pytest.raises(InputRefused, match="shorten the notes"):
        line(Cable("A", "B3", "thick", note))
