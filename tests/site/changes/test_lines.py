"""The lines of a site file under changes: their ends, and the comments of what is deleted.

What has to come out is stated here by hand, or is the same change of a file of plain line ends.
"""

from __future__ import annotations

import re

import pytest

from commission.site.changes.drawing import edited, edited_text
from commission.site.changes.kinds import (
    AddBox,
    AddStation,
    Cable,
    Change,
    DeleteBox,
    DeleteStation,
    line,
)
from tests.site.changes.test_changes import CHANGES, GARDEN

by_kind = pytest.mark.parametrize("change", [*CHANGES, DeleteBox("A", "B9")], ids=line)
BOXED = edited_text(GARDEN, AddBox("A", "B2", "B9", "60 ft", "80 ft", "No station here"))
S3 = '[[station]]\nid = "S3"\nnumber = 3\n'
LAST_OF_S3 = 'waters = "Roses, drip line"\n'


def drawn(change: Change) -> str:
    return BOXED if isinstance(change, DeleteBox) else GARDEN


@by_kind
def test_every_line_has_the_ends_of_the_file(change: Change) -> None:
    text = drawn(change)
    assert edited_text(text.replace("\n", "\r\n"), change) == edited_text(text, change).replace(
        "\n", "\r\n"
    )


@by_kind
@pytest.mark.parametrize("end", ["\n", "\r\n"], ids=["LF", "CRLF"])
def test_a_file_without_an_end_of_its_last_line_stays_so(change: Change, end: str) -> None:
    text = drawn(change).replace("\n", end)
    short = text.removesuffix(end)
    assert edited_text(short, change) == edited_text(text, change).removesuffix(end)


@by_kind
@pytest.mark.parametrize("often", [2, 3])
def test_in_a_file_of_both_ends_lines_that_stay_keep_theirs(change: Change, often: int) -> None:
    """Every second or third line ends plainly; new lines as most lines do.

    Of empty lines next to a new block nobody can say which is new.
    """
    rows = drawn(change).split("\n")[:-1]
    ends = ["\n" if n % often == 0 else "\r\n" for n in range(len(rows))]
    text = "".join(map(str.__add__, rows, ends))
    found = edited_text(text, change)
    assert found.replace("\r\n", "\n") == edited_text(drawn(change), change)
    usual = "\r\n" if text.count("\r\n") * 2 > text.count("\n") else "\n"
    lines = re.findall(r"([^\r\n]*)(\r?\n)", found)
    old = list(zip(rows, ends, strict=True))
    first, last = 0, 0
    while first < min(len(rows), len(lines)) and lines[first][0] == rows[first]:
        first += 1
    assert _filled(lines[:first]) == _filled(old[:first])
    while min(len(rows), len(lines)) - first > last and lines[-1 - last][0] == rows[-1 - last]:
        last += 1
    assert _filled(lines[len(lines) - last :]) == _filled(old[len(rows) - last :])
    if first + last == len(rows):  # all between are new
        assert {end for _, end in lines[first : len(lines) - last]} == {usual}


def _filled(lines: list[tuple[str, str]]) -> list[tuple[str, str]]:
    return [line for line in lines if line[0]]


def test_what_looks_like_a_comment_in_a_text_of_several_lines_is_none() -> None:
    text = GARDEN.replace(LAST_OF_S3, 'waters = """Roses\\\n# drip line\\\n"""\n')
    assert edited(text, DeleteStation("S3")).told[2] == "not there"


def commented(above: str = "", below: str = "") -> str:
    """The garden with comments in, above and below the block of station 3."""
    head = '[[station]] # three\nid = "S3" # id\n# inside\nnumber = 3\n'
    text = GARDEN.replace(S3, f"{above}{head}")
    return text.replace(LAST_OF_S3, f"{LAST_OF_S3}{below}")


@pytest.mark.parametrize(
    ("above", "below", "more"),
    [
        ("", "", ()),
        ("# S3: ask the owner\n", "", ("# S3: ask the owner",)),
        ("# the rose bed\n# station 3.\n", "", ("# the rose bed", "# station 3.")),
        ("", "# replaced last year\n", ("# replaced last year",)),
    ],
)
def test_the_comments_of_a_station_go_with_it_and_are_told(
    above: str, below: str, more: tuple[str, ...]
) -> None:
    found = edited(commented(above, below), DeleteStation("S3"))
    assert found.text == edited_text(GARDEN, DeleteStation("S3"))
    own = ["# three", "# id", "# inside"]
    gone = [*more, *own] if above else [*own, *more]
    assert found.told[2] == f"not there; its comments go too: {', '.join(gone)}"


@pytest.mark.parametrize(
    ("above", "below"),
    [
        ("# the far ones\n", ""),  # of all that follow, perhaps
        ("# S3, S4 and S5 lie deep\n", ""),
        ("# S30 was here\n", ""),
        ("# S3 is below the next line\n\n", ""),
        ("", "\n# of the next\n"),
    ],
)
def test_comments_that_may_be_about_what_follows_stay_apart_from_it(above: str, below: str) -> None:
    found = edited(commented(above, below), DeleteStation("S3"))
    assert found.told[2] == "not there; its comments go too: # three, # id, # inside"
    stayed = (above + below).strip()
    assert f'{stayed}\n\n[[station]]\nid = "S4"' in found.text


def test_the_last_station_goes_with_its_comments_and_leaves_no_blank_line() -> None:
    text = f"{GARDEN}# of the sixth\n"
    found = edited(text, DeleteStation("S6"))
    assert found.text == GARDEN[: GARDEN.index('\n[[station]]\nid = "S6"')]
    assert found.told[2] == "not there; its comments go too: # of the sixth"


def test_the_comment_of_a_cable_goes_with_its_box_and_is_told() -> None:
    text = edited_text(GARDEN, DeleteStation("S6"))
    found = edited(text, DeleteBox("A", "B6"))
    assert "# under the drive" not in found.text
    assert found.told[2] == "not there; its comments go too: # under the drive"


def test_a_new_kind_stands_below_the_others_and_parts_no_comment_from_its_path() -> None:
    found = edited_text(GARDEN, Cable("A", "B3", "12 AWG"))
    last = 'marking = "14-2 DB LOT-17 (invented)"\n'
    assert f'{last}\n[cable_kind.12-AWG]\nconductor = "12 AWG"\n\n# A path is a tree' in found
    assert "Ends are where loops are measured.\n\n[[path]]\n" in found


def test_a_comment_goes_with_nothing_but_what_is_deleted() -> None:
    """A new station at the end of a file leaves the comments that stand there."""
    text = f"{GARDEN}\n# the end"
    found = edited(text, AddStation("S7", 7, 107, "A", "B2", "single", "valve-1in"))
    assert "\n# the end" in found.text
    assert found.told[2] == "S7, address 107, box B2"
