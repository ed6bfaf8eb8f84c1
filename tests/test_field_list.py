"""A list from the field: how spreadsheets save one, and everything that can be wrong in it.

How cells, quotes and line ends are written: RFC 4180, from memory.
"""

from __future__ import annotations

import os
import time
from collections.abc import Iterator
from datetime import datetime, timedelta, timezone

import pytest

from commission.field_list import FieldList, moment, parse
from commission.problems import InputRefused
from commission.spreadsheet import MAX_BYTES, MAX_LINE, MAX_ROWS

WEST = timezone(timedelta(hours=-6))
STEP = "path/A/end/B4/loop-resistance"
HEAD = "step,reading,instrument,observer,time,note"
ROW = f"{STEP},4.2 ohm,meter,Pat,2031-05-04 10:31,"
AT = datetime(2031, 5, 4, 10, 31, tzinfo=WEST)


def local(written: datetime) -> datetime:
    """A machine six hours west, summer and winter."""
    return written.replace(tzinfo=WEST)


def listed(text: str | bytes) -> FieldList:
    return parse(text.encode() if isinstance(text, str) else text, "list.csv", local)


def refused(text: str | bytes) -> str:
    with pytest.raises(InputRefused) as raised:
        listed(text)
    return str(raised.value)


def problems(*rows: str, head: str = HEAD) -> list[str]:
    return [str(problem) for problem in listed("\n".join([head, *rows])).problems]


@pytest.mark.parametrize(
    ("separator", "reading"),
    [(",", '"4,2 ohm"'), (";", "4,2 ohm"), ("\t", "4,2 ohm"), (";", '"4,2 ohm"')],
)
@pytest.mark.parametrize("line_end", ["\n", "\r\n"])
@pytest.mark.parametrize("mark", [b"", b"\xef\xbb\xbf"])
def test_as_spreadsheets_save_it(separator: str, reading: str, line_end: str, mark: bytes) -> None:
    lines = [
        separator.join(["Step ID", " READING", "Instrument", "Observed  by", "Time", "Note"]),
        separator.join([STEP, reading, "meter", '"Pat ""P"" Example"', "2031-05-04 10:31", ""]),
        separator * 5,
        "",
    ]
    found = listed(mark + line_end.join(lines).encode())
    assert not found.problems
    (row,) = found.rows
    assert (row.line, row.step, row.text, row.observer) == (2, STEP, "4,2 ohm", 'Pat "P" Example')
    assert row.at == AT
    assert found.separator == {",": "comma", ";": "semicolon", "\t": "tab"}[separator]


def test_columns_in_any_order_and_those_that_may_be_missing() -> None:
    (row,) = listed(f"time;observer;step;answer\n2031-05-04T10:31:59-06:00;Pat;{STEP};yes").rows
    assert row.at == AT + timedelta(seconds=59)
    assert (row.text, row.instrument, row.note) == ("yes", "", "")


def test_rows_left_blank_are_named_and_a_note_alone_is_told() -> None:
    assert listed(f"{HEAD}\n{STEP},,,,,\n{STEP},,meter,Pat,,").blank == (STEP, STEP)
    (told,) = problems(f"{STEP},,,Pat,2031-05-04 10:31,no water")
    assert told.startswith("list.csv:2: reading: nothing is written here - ")


@pytest.mark.parametrize(
    ("row", "told"),
    [
        (f"{STEP},4.2,meter,Pat,10:31,", "list.csv:2: time: this is no time - write it as 2031"),
        (f"{STEP},4.2,meter,Pat,04.05.2031 10:31,", "time: this is no time"),
        (f"{STEP},4.2,meter,Pat,2031-02-29 10:31,", "time: there is no such day or time"),
        (f"{STEP},4.2,meter,Pat,2031-05-04 24:31,", "time: there is no such day or time"),
        (f"{STEP},4.2,meter,Pat,,", "time: nothing is written here"),
        (f"{STEP},4.2,meter,,2031-05-04 10:31,", "observer: nothing is written here - write who"),
        (",4.2,meter,Pat,2031-05-04 10:31,", "step: nothing is written here"),
        (f"{STEP},4,2,meter,Pat,2031-05-04 10:31,n", "'n' stands in no column - put a cell that"),
        (f"{STEP},4.2,me\x1bter,Pat,2031-05-04 10:31,", "instrument: character 3 (U+001B)"),
        (f'{STEP},"4.2\n5",meter,Pat,2031-05-04 10:31,', "reading: character 4 (U+000A)"),
        (f"{STEP},4.2,meter,P\u202eat,2031-05-04 10:31,", "observer: character 2 (U+202E)"),
        (f"{STEP},4.2,meter,Pat,2031-05-04 10:31,{'n' * 2001}", "note: longer than 2000"),
        (f'{STEP},"4.2,meter', "not a list that can be read: unexpected end of data"),
    ],
)
def test_what_is_wrong_in_a_row_is_told_with_its_column(row: str, told: str) -> None:
    found = problems(row)
    assert any(told in one for one in found), found


def test_a_number_set_apart_by_its_own_comma_is_told() -> None:
    head = "step,time,observer,reading,note"
    (told,) = problems(f"{STEP},2031-05-04 10:31,Pat,11,6", head=head)
    assert "list.csv:2: reading: '11' and '6' may be one number" in told
    assert not problems(f"{STEP},2031-05-04 10:31,Pat,11,6 leaves on the lid", head=head)
    assert not problems(f'{STEP},2031-05-04 10:31,Pat,"11,6",', head=head)


def test_all_problems_of_all_rows_are_told_at_once() -> None:
    found = problems(f"{STEP},4.2,meter,,yesterday,", ROW, f"{STEP},4.2,meter,,2031-05-04,")
    assert [one.split(" - ")[0] for one in found] == [
        "list.csv:2: observer: nothing is written here",
        "list.csv:2: time: this is no time",
        "list.csv:4: observer: nothing is written here",
        "list.csv:4: time: this is no time",
    ]


@pytest.mark.parametrize(
    ("head", "told"),
    [
        ("step,reading,observer", "list.csv:1: time: no such column"),
        ("step,reading,observer,time,unit", "columns: there is no column 'unit' - take it out"),
        ("step,reading,answer,observer,time", "reading: named twice"),
        ("step,reading,observer,time,n\x1bote", "there is no column 'n<U+001B>ote'"),
        (ROW, "step: no such column"),
    ],
)
def test_a_first_row_that_does_not_name_the_columns_is_refused(head: str, told: str) -> None:
    assert told in refused(f"{head}\n{ROW}")


def test_what_is_no_list_is_refused() -> None:
    assert "this is not UTF-8 text - save it" in refused(f"{HEAD}\n{ROW}".encode("utf-16"))
    assert "larger than" in refused(b"x" * (MAX_BYTES + 1))
    assert f"longer than {MAX_LINE}" in refused(HEAD + "\n" + "x" * (MAX_LINE + 1))
    assert f"more than {MAX_ROWS} rows" in refused("\n".join([HEAD, *[ROW] * (MAX_ROWS + 1)]))
    assert not listed("\n".join([HEAD, *[ROW] * MAX_ROWS])).problems
    assert "the list is empty" in str(listed("\n ,,\n").problems[0])
    assert "the list is empty" in str(listed(b"").problems[0])


@pytest.fixture
def new_york() -> Iterator[None]:
    """A machine in a zone that changes its clocks: by the rule since 2007, at 2 in the night."""
    before = os.environ.get("TZ")
    os.environ["TZ"] = "EST5EDT,M3.2.0,M11.1.0"
    time.tzset()
    yield
    if before is None:
        del os.environ["TZ"]
    else:
        os.environ["TZ"] = before
    time.tzset()


@pytest.mark.usefixtures("new_york")
def test_a_local_time_gets_the_offset_of_its_own_day() -> None:
    assert moment("2025-07-01 10:31").isoformat() == "2025-07-01T10:31:00-04:00"
    assert moment("2025-12-01 10:31").isoformat() == "2025-12-01T10:31:00-05:00"
    for hour in ("2025-11-02 01:30", "2025-03-09 02:30"):  # comes twice, never comes
        with pytest.raises(ValueError, match="clocks changed in that hour"):
            moment(hour)
    assert moment("2025-11-02 01:30 -05:00").isoformat() == "2025-11-02T01:30:00-05:00"
    assert moment("2025-07-01T10:31Z").utcoffset() == timedelta(0)


def test_a_year_that_the_machine_does_not_know_is_told() -> None:
    def clock(_written: datetime) -> datetime:
        raise OverflowError

    with pytest.raises(ValueError, match="no clock has that year"):
        moment("0001-01-01 00:00", clock)
