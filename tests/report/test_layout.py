"""The report's TOML: whatever goes in comes back exactly, in the order in which it was put."""

from __future__ import annotations

import tomllib
from datetime import UTC, date, datetime

import pytest
from hypothesis import given
from hypothesis import strategies as st

from commission.report.layout import long_text, toml_text

HOSTILE = [
    "plain\nlines\n",
    "ends with a quote'\n'",
    "three ''' of them\n",
    'three """ and a back\\slash\n',
    "carriage\r\nreturns\r\n",
    "\n\nblank lines first\n",
    "esc \u001b[31m and bidi \u202e turned\n",
    "\ufeffa byte order mark\n",
    "2.5 mm² at 15 °C, 4 Ω\n",
    'ends with """',
    "tab\there\n",
]


@pytest.mark.parametrize("text", HOSTILE)
def test_a_long_text_comes_back_exactly(text: str) -> None:
    assert tomllib.loads(f"text = {long_text(text)}")["text"] == text


@given(st.text(st.characters(exclude_categories=["Cs"])))
def test_any_text_comes_back_exactly(text: str) -> None:
    assert tomllib.loads(f"text = {long_text(text)}")["text"] == text


@pytest.mark.parametrize("text", HOSTILE)
def test_nothing_hidden_stands_raw_in_the_file(text: str) -> None:
    written = long_text(text)
    assert "\u001b" not in written
    assert "\u202e" not in written
    assert "\r" not in written


def test_tables_come_back_and_keep_their_order() -> None:
    document = {
        "kind": "test",
        "ratio": 1e-6,
        "whole": 12,
        "true": True,
        "at": datetime(2031, 5, 4, 9, 30, tzinfo=UTC),
        "due": date(2031, 1, 2),
        "numbers": [1.5, 2.0],
        "words": ["one", 'two "2"'],
        "none": [],
        "path": [
            {"id": "A", "checks": [{"title": "x", "verdict": "pass"}], "end": [{"box": "B1"}]},
            {"id": "B", "end": [{"box": "B7", "reading": [{"ohm": 1.25}]}]},
        ],
        "two words": {"a.b": {"c": 1}},
        "budget": [{"cause": "soil", "effect_ohm": 0.125}],
        "signoff": [{"number": 1}, {"number": 2}],
    }
    text = toml_text(document, {"path": "The paths"})
    read = tomllib.loads(text)
    assert read == document
    assert "\n# The paths\n\n[[path]]\n" in text
    assert '    { title = "x", verdict = "pass" },' in text.splitlines()
    assert list(read)[-1] == "signoff"


def test_one_table_or_many_look_the_same() -> None:
    """A list of tables is never written inline because it happens to be short."""
    assert "[[defect]]" in toml_text({"defect": [{"id": "D1"}]}, {})
    assert toml_text({"defect": [{"id": "D1"}, {"id": "D2"}]}, {}).count("[[defect]]") == 2
