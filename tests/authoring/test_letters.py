"""The letters of lists in several encodings, each beside what must be said and read of it.

Beside `NAME.csv` in encodings/ stands `NAME.expected`, written by hand in UTF-8: the lines that
tell what was assumed, then number and description of each station. Lists that must be refused lie
in broken/. The encodings are those of Python's codecs, made from the Unicode Consortium's tables.
"""

from __future__ import annotations

from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from commission.authoring.letters import decoded
from commission.authoring.station_list import parse
from commission.problems import InputRefused

FOLDER = Path(__file__).parent / "encodings"
FILES = sorted(FOLDER.glob("*.csv"))


def test_every_list_has_its_expectations() -> None:
    assert len(FILES) >= 6
    assert {one.stem for one in FILES} == {one.stem for one in FOLDER.glob("*.expected")}


@pytest.mark.parametrize("path", FILES, ids=lambda path: path.stem)
def test_what_was_assumed_is_said_and_every_letter_is_right(path: Path) -> None:
    listed = parse(path.read_bytes(), path.name)
    rows = [f"{row['station']} | {row['description']}" for row in listed.rows]
    expected = path.with_suffix(".expected").read_text("utf-8").splitlines()
    assert [*listed.assumed, *rows] == expected
    assert list(listed.lines())[: len(listed.assumed)] == list(listed.assumed)
    assert not listed.problems


@given(st.text(st.characters(exclude_categories=["Cs"], exclude_characters="\0"), max_size=60))
def test_utf_8_is_always_read_as_such(text: str) -> None:
    found = decoded(text.encode("utf-8-sig"), "l.csv")
    assert found.text == text
    assert not list(found.lines())


@given(st.binary(max_size=60))
def test_any_bytes_are_read_or_refused_in_words(content: bytes) -> None:
    try:
        found = decoded(content, "l.csv")
    except InputRefused:
        return
    assert found.text.isascii() or found.encoding == "UTF-8" or list(found.lines())


# Words of gardens in Western European languages, and of one that Windows-1252 has not.
WORDS = ("Gärtnerei", "Küche", "Höhe", "Straße", "Café", "allée", "Jardín", "Peñón", "Grünfläche")


@pytest.mark.parametrize("encoding", ["cp437", "cp850", "mac_roman"])
@pytest.mark.parametrize("word", WORDS)
def test_letters_of_another_machine_are_never_taken_without_showing_them(
    encoding: str, word: str
) -> None:
    content = f"station,distance (ft),cable,area\n1,5,14 AWG,{word} {word}\n".encode(encoding)
    try:
        found = decoded(content, "l.csv")
    except InputRefused:
        return
    assert any(line.startswith("  please look at line 2: ") for line in found.lines())
