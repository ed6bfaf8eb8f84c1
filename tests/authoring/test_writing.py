"""The written file: what each key is and where it comes from stands by it, and changes nothing."""

from __future__ import annotations

import dataclasses
import json
import re
import tomllib
from collections.abc import Iterator

import jsonschema  # type: ignore[import-untyped]
import pytest
import tomlkit

from commission.authoring.draft import USUAL_TRANSFORMER, Kinds, Supply, Transformer, usual_supply
from commission.authoring.evenly import Answers, drawn_evenly
from commission.authoring.explained import WORDS
from commission.authoring.from_list import Choices, drawn_from
from commission.authoring.station_list import parse
from commission.authoring.transformer import USUAL, AnswerRefused, transformer_of
from commission.authoring.writing import site_text
from commission.expected.sheet import Sheet
from commission.schemas import schema_text
from commission.site.load import parse_site
from commission.site.schema import CableKind, DecoderKind, SolenoidKind

LIST = b"""\
Zone;Code;Path;Valve box;Distance;Wire;Valves;Area
1;101;A;A1;85 ft;14 AWG;1;"Front # lawn"
2;102;A;A2;225.5 ft;thick;2 x big;Roses
"""
LONG = 'a note that is so long that no comment has room behind it: "quoted", # and marked'
OWN = Kinds(
    {"big": {"rated_voltage": "24 V", "inrush_current": "0.5 A", "holding_current": "0.2 A"}},
    {"double": {"solenoids": 2, "standby_current": "2 mA", "note": LONG}},
    {"thick": {"conductor": "10 AWG", "stranded": True}},
)


def from_a_list() -> str:
    choices = Choices("A # garden", "US", usual_supply("US"), decoder="double")
    draft, problems = drawn_from(parse(LIST, "l.csv"), choices, OWN)
    assert not problems
    return site_text(draft)


def from_answers(supply: Supply) -> str:
    answers = Answers("Garden", "SI", supply, (2, 2), "2.5 mm²", (2,) * 4, "45 m", 1, "big")
    return site_text(drawn_evenly(answers, OWN))


PLATE = {"rated": "24 V", "rating": "2,5 A", "rise": "27 V", "resistance": "0.8 ohm"}
TEXTS = {
    "list": from_a_list(),
    "answers": from_answers(usual_supply("SI", 2)),
    "plates": from_answers(
        Supply("230 V", "50 Hz", 1, (transformer_of(PLATE), USUAL_TRANSFORMER)),
    ),
}
texts = pytest.mark.parametrize("text", TEXTS.values(), ids=TEXTS)


def without_comment(text: str) -> Iterator[str]:
    """Keys, as `table.key` without the names of kinds, that have none behind them or above."""
    table, before = "", ""
    for line in text.splitlines():
        header = re.match(r"\[+([a-z_]+)", line)
        key = re.match(r"([a-z_]+) = ", line)
        if header:
            table = header[1] + "."
        elif key and not (re.search(r' # [^"]+ - [^"]+$|# .*"[^#]* - [^"]+$', line) or before):
            yield table + key[1]
        before = line if line.startswith("# ") and " - " in line else ""


@texts
def test_each_key_has_its_comment_the_stations_above_the_first_of_them(text: str) -> None:
    bare = set(without_comment(text))
    assert bare <= {f"station.{key}" for key in tomllib.loads(text)["station"][0]}
    for name in bare:
        key = name.partition(".")[2]
        assert re.search(rf"^#   {key} +\S.* - \S", text, re.MULTILINE), key


@texts
def test_comments_change_nothing(text: str) -> None:
    """Another parser takes every comment out; what is left is the same site."""
    document = tomlkit.parse(text)
    bare = tomlkit.dumps(document.unwrap())
    assert "# " not in bare.replace("# garden", "").replace("# lawn", "").replace("# and", "")
    assert parse_site(bare.encode(), "s") == parse_site(text.encode(), "s")
    assert max(map(len, text.splitlines())) <= 120


@texts
def test_the_published_schema_takes_it(text: str) -> None:
    """By another program's reading of JSON Schema."""
    jsonschema.validate(tomllib.loads(text), json.loads(schema_text("site")))


def test_what_stands_behind_a_value_says_where_it_is_from() -> None:
    for text, where in (
        ("list", r'name = "A # garden" .* - usual'),
        ("list", r'from = "A1", to = "A2", length = "140.5 ft", cable = "thick" \}, # line 3'),
        ("list", r"\[\[station\]\] # line 2"),
        ("list", r'conductor = "14 AWG" .* - line 2'),
        ("list", r"stranded = true .* - your kinds.toml"),
        ("list", r"#   address .* - column 'Code'"),
        ("answers", r'units = "SI" .* - answered'),
        ("answers", r'rating = "60 VA" .* - usual'),
        ("answers", r'nominal_voltage = "230 V" .* - usual'),
        ("answers", r'conductor = "2.5 mm²" .* - answered'),
        ("answers", r'inrush_current = "0.5 A" .* - your kinds.toml'),
        ("plates", r'rated_current = "2,5 A" .* - answered'),
        ("plates", r'open_circuit_voltage = "27 V" .* - answered'),
        ("plates", r'rated_voltage = "24 V" .* - usual'),
    ):
        assert re.search(where, TEXTS[text]), where


def test_every_key_that_a_kind_may_have_has_its_words() -> None:
    for table, shape in (
        ("solenoid_kind", SolenoidKind), ("decoder_kind", DecoderKind), ("cable_kind", CableKind),
    ):  # fmt: skip
        endings = re.compile(r"_(v|hz|a|ohm|ohm_per_m)$")
        keys = {endings.sub("", one.name) for one in dataclasses.fields(shape)}
        assert {f"{table}.{key}" for key in keys} <= WORDS.keys()


def test_a_stated_source_is_what_the_voltages_are_computed_from() -> None:
    """Behind 27 V the source drops 0.8 Ω times the current; Ohm's law, by hand.

    The standby of the four decoders, 3 mA each, is all that flows at the terminals: 26.99 V.
    """
    sheet = Sheet(parse_site(TEXTS["plates"].encode(), "s"))
    model = sheet.on_test_day("1")
    assert model.drawing.site.output[0].open_circuit_voltage_v == 27.0
    found = sheet.expectation("output-voltage", Place())
    assert found is not None
    assert found.value == pytest.approx(27.0 - 0.8 * 4 * 0.003, abs=0.002)


@dataclasses.dataclass(frozen=True)
class Place:
    output: str = "1"
    path: str = ""
    box: str = ""
    station: str = ""


@pytest.mark.parametrize(
    ("answers", "keys"),
    [
        ({}, {"rated_voltage": "24 V", "rating": "60 VA", "regulation": "12 %"}),
        ({"rise": "27 V"}, {"rated_voltage": "24 V", "rating": "60 VA", "regulation": "12.5 %"}),
        ({"rise": "0 %"}, {"rated_voltage": "24 V", "rating": "60 VA", "regulation": "0 %"}),
        (
            {"rise": "10 %", "resistance": "1 ohm", "rating": "2 A"},
            {
                "rated_voltage": "24 V", "rated_current": "2 A",
                "open_circuit_voltage": "26.4 V", "source_resistance": "1 ohm",
            },
        ),
    ],
)  # fmt: skip
def test_answers_become_keys(answers: dict[str, str], keys: dict[str, str]) -> None:
    found = transformer_of(USUAL | answers)
    assert isinstance(found, Transformer)
    assert found.keys == keys
    assert found.where.keys() == keys.keys()


@pytest.mark.parametrize(
    ("key", "answer"),
    [
        ("rated", "24"), ("rated", "240 V"), ("rated", "0 V"), ("rated", "24 A"), ("rated", ""),
        ("rating", "60"), ("rating", "60 V"), ("rating", "0 VA"), ("rating", "much"),
        ("rise", "20 V"), ("rise", "-5 %"), ("rise", "12"), ("rise", "120 V"), ("rise", "%"),
        ("resistance", "0.8"), ("resistance", "-1 ohm"), ("resistance", "0 ohm"),
    ],
)  # fmt: skip
def test_an_answer_that_cannot_be_meant_is_refused_at_its_line(key: str, answer: str) -> None:
    with pytest.raises(AnswerRefused) as refused:
        transformer_of(USUAL | {key: answer})
    assert refused.value.key == key
    assert len(str(refused.value)) < 200
