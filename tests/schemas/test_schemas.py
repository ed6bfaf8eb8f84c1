"""The published JSON Schemas, judged by the library jsonschema (draft 2020-12)."""

from __future__ import annotations

import copy
import json
import tomllib
from pathlib import Path
from typing import Any, get_args

import pytest
from jsonschema import Draft202012Validator  # type: ignore[import-untyped]

import commission.schemas
from commission.cli import main
from commission.resources import checklists, samples
from commission.schemas import Kind, schema_text
from commission.units import Quantity, parse_quantity

FOLDER = Path(commission.schemas.__file__).parent
KINDS: tuple[Kind, ...] = get_args(Kind)
FILES: list[tuple[Kind, Path]] = [
    *(("site", path) for path in samples().values()),
    *(("checklist", path) for path in checklists().values()),
]
SAMPLE = tomllib.loads(samples()["small-garden"].read_text("utf-8"))


def published(kind: Kind) -> Any:
    return json.loads((FOLDER / f"{kind}.schema.json").read_text("utf-8"))


@pytest.mark.parametrize("kind", KINDS)
def test_the_published_file_is_the_one_that_is_made(kind: Kind) -> None:
    assert (FOLDER / f"{kind}.schema.json").read_text("utf-8") == schema_text(kind)


@pytest.mark.parametrize("kind", KINDS)
def test_it_is_a_schema(kind: Kind) -> None:
    schema = published(kind)
    Draft202012Validator.check_schema(schema)
    assert schema["$schema"] == Draft202012Validator.META_SCHEMA["$id"]
    assert schema["title"] == f"commission {kind}"


@pytest.mark.parametrize("kind", KINDS)
def test_the_command_prints_it(kind: Kind, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["schema", kind]) == 0
    assert capsys.readouterr().out == schema_text(kind)


@pytest.mark.parametrize(("kind", "path"), FILES, ids=lambda one: getattr(one, "stem", one))
def test_every_file_that_comes_along_is_valid(kind: Kind, path: Path) -> None:
    table = tomllib.loads(path.read_text("utf-8"))
    errors = Draft202012Validator(published(kind)).iter_errors(table)
    assert [f"{error.json_path}: {error.message}" for error in errors] == []


def changed(*places: tuple[tuple[str | int, ...], Any]) -> Any:
    """The small garden with values put in other places; None takes one away."""
    table: Any = copy.deepcopy(SAMPLE)
    for place, value in places:
        inner = table
        for part in place[:-1]:
            inner = inner[part]
        if value is None:
            del inner[place[-1]]
        else:
            inner[place[-1]] = value
    return table


@pytest.mark.parametrize(
    ("place", "value"),
    [
        (("nmae",), "x"),
        (("site", "nmae"), "x"),
        (("site", "units"), "us"),
        (("site", "units"), None),
        (("supply",), None),
        (("output", 0, "stations_at_once"), 0),
        (("output", 0, "rating"), 60),
        (("path", 0, "segment"), []),
        (("path", 0, "segment", 0, "cable"), ["a", "b", "c"]),
        (("path", 0, "segment", 0, "length_by"), "guess"),
        (("station", 0, "id"), "S 1"),
        (("station", 0, "solenoid", 0, "colour"), "red"),
        (("solenoid_kind", "valve-1in", "inrush_current"), None),
        (("kind",), "commission checklist"),
        (("format",), 2),
    ],
)
def test_an_editor_is_told_what_is_wrong(place: tuple[str | int, ...], value: Any) -> None:
    table = changed((place, value))
    assert not Draft202012Validator(published("site")).is_valid(table)


def test_the_example_was_valid_before() -> None:
    assert Draft202012Validator(published("site")).is_valid(changed())


def defaults(node: Any) -> list[tuple[str, str]]:
    """Description and default of every quantity in a schema."""
    found = []
    if isinstance(node, dict):
        if isinstance(node.get("default"), str) and ", for example" in node.get("description", ""):
            found.append((str(node["description"]), node["default"]))
        for inner in node.values():
            found += defaults(inner)
    return found


def test_a_default_and_an_example_are_what_one_may_write() -> None:
    found = defaults(published("site"))
    assert len(found) > 10
    quantities = get_args(Quantity)
    for description, default in found:
        quantity, _, example = description.partition(", for example ")
        assert quantity in quantities
        parse_quantity(example, quantity)  # type: ignore[arg-type]
        parse_quantity(default, quantity)  # type: ignore[arg-type]
