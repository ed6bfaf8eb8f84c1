"""Broken checklists as files: every problem at once, with line, key, words and remedy."""

from __future__ import annotations

import tomllib
from contextlib import suppress
from pathlib import Path

import pytest

from commission.checklist.load import load_checklist, parse_checklist
from commission.commands.schema import schema_of
from commission.problems import InputRefused
from commission.resources import checklists
from tests.checklist.sites import LISTS

BROKEN = Path(__file__).parent / "broken"
EXPECTED: dict[str, list[str]] = tomllib.loads((BROKEN / "problems.txt").read_text("utf-8"))


def test_every_broken_file_has_its_problems_written_down() -> None:
    assert sorted(EXPECTED) == sorted(path.stem for path in BROKEN.glob("*.toml"))
    assert len(EXPECTED) >= 30
    assert all(EXPECTED.values())


@pytest.mark.parametrize("name", EXPECTED)
def test_all_problems_are_named_at_once(name: str) -> None:
    path = BROKEN / f"{name}.toml"
    with pytest.raises(InputRefused) as refused:
        parse_checklist(path.read_bytes(), name)
    assert [str(problem).removeprefix(name) for problem in refused.value.problems] == EXPECTED[name]


def test_a_file_that_is_not_there_is_refused_with_words() -> None:
    with pytest.raises(InputRefused, match="cannot be read"):
        load_checklist(BROKEN / "nowhere.toml")


@pytest.mark.parametrize("place", range(0, 40_000, 1_500))
def test_a_list_cut_anywhere_is_refused_or_whole_never_a_traceback(place: int) -> None:
    data = (LISTS / "new-installation.toml").read_bytes()
    with suppress(InputRefused):
        assert parse_checklist(data[:place], "cut.toml").stage


def test_the_schema_for_editors_knows_every_key() -> None:
    tables = schema_of("checklist")["$defs"]
    assert {"ask", "when", "reopened_by", "unit_us"} <= set(tables["Item"]["properties"])
    assert set(tables["Condition"]["properties"]) == {"fact", "answer", "is"}


@pytest.mark.parametrize("value", ["[]", "{}", "7", "true"])
def test_an_item_whose_id_is_no_text_is_told_in_words(value: str) -> None:
    text = checklists()["new-installation"].read_text("utf-8")
    line = next(line for line in text.split("\n[[stage.item]]")[1].split("\n") if "id = " in line)
    with pytest.raises(InputRefused, match="id"):
        parse_checklist(text.replace(line, f"id = {value}", 1).encode(), "list.toml")
