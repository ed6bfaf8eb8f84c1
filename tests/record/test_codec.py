"""A record is read back as it was written, by us and by any TOML reader, or refused in words."""

from __future__ import annotations

import dataclasses
import tomllib
from dataclasses import replace
from datetime import datetime, timedelta, timezone
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from commission.record import codec
from commission.record.chain import chained
from commission.record.entry import Entry
from tests.record.examples import HEADER, NOON, ONE_OF_EACH_TYPE, answer

_KINDS = {field.name: str(field.type).split(" ")[0] for field in dataclasses.fields(Entry)}
_FILLED_IN = {"number", "type", "previous", "sha256", "list_of", "written_with", "refers_to"}
_VALUES: dict[str, st.SearchStrategy[Any]] = {
    "str": st.text(
        st.characters(exclude_categories=["Cc", "Cf", "Cs", "Co", "Cn", "Zl", "Zp"]), max_size=80
    )
    | st.sampled_from(['"""', "\\", "\\u0041", "'", "[[entry]]", 'sha256 = "', "# no", " = "]),
    "float": st.none() | st.floats(allow_nan=False, allow_infinity=False),
    "bool": st.none() | st.booleans(),
    "datetime": st.none()
    | st.datetimes(
        min_value=datetime(1971, 1, 1),
        max_value=datetime(2200, 1, 1),
        timezones=st.integers(-14 * 60, 14 * 60).map(lambda m: timezone(timedelta(minutes=m))),
    ).map(lambda moment: moment.replace(microsecond=0)),
}
_ENTRIES = st.builds(
    Entry,
    number=st.just(0),
    type=st.sampled_from(["answer", "note", "change"]),
    **{name: _VALUES[kind] for name, kind in _KINDS.items() if name not in _FILLED_IN},
)


@given(st.lists(_ENTRIES, min_size=1, max_size=3))
def test_any_entry_is_read_back_and_tomllib_reads_the_same(entries: list[Entry]) -> None:
    top = codec.encode_header(HEADER)
    data, written = chained(entries, 0, codec.digest_of(top))
    table = tomllib.loads((top + data).decode("utf-8"))
    for entry, read, shown in zip(entries, written, table["entry"], strict=True):
        same = {name: getattr(entry, name) for name in _FILLED_IN - {"type", "refers_to"}}
        assert replace(read, **same) == entry
        said = {k: v for k, v in dataclasses.asdict(read).items() if v is not None and v != ""}
        assert shown == said


def test_header_is_read_back_and_tomllib_reads_the_same() -> None:
    top = codec.encode_header(HEADER)
    assert codec.decode_header(top) == HEADER
    table = tomllib.loads(top.decode("utf-8"))
    assert list(table)[:2] == ["kind", "format"]
    stated = {key: value for key, value in dataclasses.asdict(HEADER).items() if value != ""}
    assert {key: table[key] for key in stated} == stated


@pytest.mark.parametrize("kind", ONE_OF_EACH_TYPE)
def test_last_keys_are_the_chain(kind: str) -> None:
    data, _ = chained([ONE_OF_EACH_TYPE[kind]], 1, "4" * 64)
    lines = data.decode("utf-8").rstrip("\n").split("\n")
    assert lines[:2] == ["", "[[entry]]"]
    assert lines[-2] == f'previous = "{"4" * 64}"'
    assert lines[-1].startswith('sha256 = "')


@pytest.mark.parametrize("text", ["\x1b[2J", "\nb", "\x00", "\u202e", "\x9b", "\ud800", "\u2028"])
def test_text_that_steers_a_terminal_is_refused_in_writing_and_reading(text: str) -> None:
    with pytest.raises(ValueError, match=r"text: character \d+ \(U\+"):
        codec.encode_entry(replace(answer(), text=text))
    escaped = f"\\u{ord(text[0]):04x}"
    with pytest.raises(ValueError, match="text"):
        codec.decode_entry(_changed(b'text = "11.6 ohm"', f'text = "{escaped}"'.encode()))


def test_a_time_without_offset_or_a_value_that_is_no_number_is_refused() -> None:
    with pytest.raises(ValueError, match="entered_at: a time without its offset"):
        codec.encode_entry(replace(answer(), entered_at=datetime(2026, 5, 4)))
    with pytest.raises(ValueError, match="value: this is not a number"):
        codec.encode_entry(replace(answer(), value=float("nan")))


def test_times_are_whole_seconds_and_offsets_whole_minutes() -> None:
    odd = timezone(timedelta(hours=1, minutes=19, seconds=32))
    moment = NOON.astimezone(odd).replace(microsecond=700_000)
    _, (written,) = chained([replace(answer(), entered_at=moment)], 0, "4" * 64)
    assert written.entered_at == NOON
    assert written.entered_at.utcoffset() == timedelta(hours=1, minutes=20)


def _changed(old: bytes, new: bytes) -> bytes:
    """An answer's block, changed by a hand that also computed its digest again."""
    block = codec.encode_entry(replace(answer(), number=1, previous="4" * 64))
    body = block[: block.rindex(b"sha256 = ")]
    assert old in body
    changed = body.replace(old, new)
    return changed + codec._sha256_line(changed)


@pytest.mark.parametrize(
    ("old", "new", "words"),
    [
        (b"step = ", b"stepp = ", "nearest valid: step"),
        (b"value = 11.6", b'value = "11.6"', "value: the value is of another type"),
        (b"value = 11.6", b"value = 11", "not written as this program"),
        (b"value = 11.6", b"value = inf", "value: the value is of another type"),
        (b"number = 1\n", b"number = true\n", "number: the value is of another type"),
        (b"number = 1\n", b"", "number is missing"),
        (b'type = "answer"', b'type = "answr"', "nearest valid: answer"),
        (b'type = "answer"', b"type = 'answer'", "type: the value is of another type"),
        (b"12:00:00-06:00", b"25:00:00-06:00", "entered_at"),
        (b'text = "11.6 ohm"', b'text = "11.6 ohm" # seen', "text"),
        (b"relation", b"\nrelation", "a line is not 'key = value'"),
        (b'text = "11.6 ohm"', b'text = "a"b"', "not written as this program"),
        (b'text = "11.6 ohm"\n', b'text = "a"\ntext = "b"\n', "not written as this program"),
        (b'text = "11.6 ohm"', b'text = "\xff"', "not UTF-8"),
    ],
)
def test_reading_is_strict(old: bytes, new: bytes, words: str) -> None:
    with pytest.raises(ValueError, match=words):
        codec.decode_entry(_changed(old, new))


@pytest.mark.parametrize(
    ("old", "new", "words"),
    [
        (b"format = 1", b"format = 2", "format 2 is newer than this program reads"),
        (b"format = 1", b"format = x", "digest does not match"),
        (b"commission record", b"commission site", "this is not a record"),
        (b"practice = true", b"practice = false", "digest does not match"),
    ],
)
def test_another_kind_or_a_newer_format_is_refused_with_words(
    old: bytes, new: bytes, words: str
) -> None:
    with pytest.raises(ValueError, match=words):
        codec.decode_header(codec.encode_header(HEADER).replace(old, new))
