"""Text that data may hold; categories by the Unicode Character Database."""

from __future__ import annotations

import unicodedata

import pytest
from hypothesis import given
from hypothesis import strategies as st

from commission.text import MAX_TEXT, as_counted, clean, counted, visible

STEERING = {
    "escape": "\x1b",
    "one-character control sequence": "\x9b",
    "right-to-left override": "\u202e",
    "line separator": "\u2028",
    "paragraph separator": "\u2029",
    "zero-width joiner": "\u200d",
    "byte order mark": "\ufeff",
    "surrogate": "\ud800",
    "private use": "\ue000",
    "not assigned": "\u0378",
    "null": "\x00",
    "bell": "\x07",
    "delete": "\x7f",
    "tab": "\t",
    "newline": "\n",
}


@pytest.mark.parametrize("character", STEERING.values(), ids=STEERING.keys())
def test_steering_characters_are_refused_and_shown_as_code_points(character: str) -> None:
    with pytest.raises(ValueError, match=f"character 4 .U.{ord(character):04X}. is not printable"):
        clean(f"abc{character}d")
    assert visible(f"a{character}b") == f"a<U+{ord(character):04X}>b"


@pytest.mark.parametrize(
    "text", ["North lawn", "Straße 5", "Ω µ ² ½ °", "日本語", "[bold]x[/]", "a[/]b", "'; --"]
)
def test_ordinary_text_is_kept(text: str) -> None:
    assert clean(f"  {text} ") == text
    assert visible(text) == text


def test_too_long_is_refused_and_cut() -> None:
    assert clean("x" * MAX_TEXT) == "x" * MAX_TEXT
    with pytest.raises(ValueError, match=str(MAX_TEXT)):
        clean("x" * (MAX_TEXT + 1))
    assert visible("abcdef", 3) == "abc..."


@given(st.text(st.characters(codec=None, exclude_categories=())))
def test_what_is_shown_never_steers(text: str) -> None:
    refused = {"Cc", "Cf", "Cs", "Co", "Cn", "Zl", "Zp"}
    assert not {unicodedata.category(character) for character in visible(text)} & refused
    try:
        kept = clean(text)
    except ValueError as error:
        kept, refusal = None, str(error)
    if kept is None:
        assert refusal.isprintable()
        return
    assert kept == text.strip()
    assert not {unicodedata.category(character) for character in kept} & refused


def test_names_are_sorted_as_people_count() -> None:
    counted = ["A", "B2", "B10", "B10a", "B10b", "C1-9", "C1-10", "S"]
    mixed = ["C1-10", "B10b", "B2", "S", "B10", "A", "C1-9", "B10a"]
    assert sorted(mixed, key=as_counted) == counted
    assert sorted(["10", "9", "x"], key=as_counted) == ["x", "9", "10"]


@pytest.mark.parametrize(
    ("number", "noun", "words"),
    [(0, "box", "0 boxes"), (1, "box", "1 box"), (2, "path", "2 paths"), (1, "path", "1 path")],
)
def test_things_are_counted_in_words(number: int, noun: str, words: str) -> None:
    assert counted(number, noun) == words
