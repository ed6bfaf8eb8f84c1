"""Hostile and mangled site files: refused in words, never a traceback, never a long wait."""

from __future__ import annotations

import random
import tomllib
from itertools import pairwise
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from commission import toml_place
from commission.problems import InputRefused
from commission.resources import samples
from commission.shapes import build
from commission.site.load import load_site, parse_site
from commission.site.schema import Site

SAMPLE = samples()["small-garden"].read_bytes()
TEXT = SAMPLE.decode("utf-8")
HEAD = 'kind = "commission site"\nformat = 1\n'


def outcome(data: bytes) -> Site | None:
    """The site, or None when it was refused in words; anything else is raised."""
    try:
        return parse_site(data, "site.toml")
    except InputRefused as error:
        refused = error
    assert refused.problems
    assert all(line.isprintable() for line in str(refused).split("\n"))
    return None


def refusal(data: bytes) -> str:
    with pytest.raises(InputRefused) as refused:
        parse_site(data, "site.toml")
    return str(refused.value)


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("a" + ".a" * 20_000 + " = 1", "a line is longer than"),
        ("[" + "a." * 1_500 + "a]", "a key with too many dots"),
        ('"a".' * 900 + '"a" = 1', "a key with too many dots"),
        ('"#"' + ".a" * 900 + " = 1", "a key with too many dots"),
        ("x = { " + " . ".join("ab" * 20) + " = 1 }", "a key with too many dots"),
        ("x = " + "[" * 900 + "]" * 900, "nested too deeply"),
        ("x = " + "[" * 1_900 + "]" * 1_900, "nested too deeply"),
        ("x = " + "[\n" * 50_000, "nested too deeply"),
        ("x = " + "{ a = " * 400 + "1" + " }" * 400, "nested too deeply"),
        ("x = " + "{ a = " * 60 + "1" + " }" * 60, "nested too deeply"),
        ("x = 0x" + "f" * 3_900, "the number is too large"),
        ("x = " + "9" * 3_900, "the number is too large"),
        # One quote after another that might begin a string: looking for its end from each of
        # them again would take an hour.
        (('"' + '\\"' * 1_900 + "." * 40 + "\n") * 1_000, "is not valid TOML"),
        ('x = """ " ' + ('\\""" " ' * 400 + "\n") * 500 + "." * 40, "is not valid TOML"),
        ("a." * 9 + "a = 1", "a: unknown key"),
        ("a." * 11 + "a = 1", "a key with too many dots"),
        ('x = { a = """\n""", ' + "b." * 11 + "b = 1 }", "a key with too many dots"),
        ("[[station]]\n" * 20_001, "station: more than 20000 entries"),
        ("".join(f"k{n} = 1\n" for n in range(20_001)), "more than 20000 entries"),
        ("".join(f"k{n} = [" + "1,\n" * 20_000 + "]\n" for n in range(13)), "250000 values"),
        ("x = 2026-02-30", "is not valid TOML"),
        ("x = 1e999999", "x: unknown key"),
        ("x = nan", "x: unknown key"),
        ("x = 2026-02-28T10:00:00Z", "x: unknown key"),
        ('x = "\x1b[2J"', "is not valid TOML"),
        ('"a\\u001b[2J\\u202e" = 1', "a<U+001B>[2J<U+202E>: unknown key"),
        ("x = \x00", "is not valid TOML"),
        ("'''", "is not valid TOML"),
    ],
)
def test_what_would_hang_or_break_a_reader(text: str, words: str) -> None:
    said = refusal((HEAD + text).encode("utf-8"))
    assert words in said
    assert all(line.isprintable() for line in said.split("\n"))


@pytest.mark.parametrize(
    "text",
    [
        "# " + "a." * 400,
        'x = "' + "." * 400 + '"',
        'x = "' + "1.5 and " * 40 + '"',
        'x = """\n' + "a." * 400 + '"""',
        "x = '" + '" a.' * 40 + "' # " + "a." * 40,
        "x = [" + "1.5, " * 40 + "]",
    ],
)
def test_dots_in_words_are_no_dotted_key(text: str) -> None:
    assert "too many dots" not in refusal((HEAD + text).encode("utf-8"))


@pytest.mark.parametrize(
    "character", ["\\u0000", "\\u001b", "\\u007f", "\\u009b", "\\u200b", "\\u202e", "\\u2028",
                  "\\u2066", "\\ufeff", "\\ue000", "\\ufffe"],
)  # fmt: skip
@pytest.mark.parametrize("place", ['name = "Juniper', 'waters = "Vegetable', 'id = "V3'])
def test_no_text_holds_what_steers_or_hides(character: str, place: str) -> None:
    said = refusal(TEXT.replace(place, place + character, 1).encode("utf-8"))
    assert f"U+{character[2:].upper()}" in said
    assert said.isprintable()


def test_a_file_that_is_too_large() -> None:
    assert "larger than 8 MB" in refusal(SAMPLE + b"#" * toml_place.MAX_FILE_BYTES)


def test_a_file_that_is_too_large_is_not_read_to_its_end(tmp_path: Path) -> None:
    path = tmp_path / "large.toml"
    with path.open("wb") as file:
        file.truncate(1 << 36)  # 64 GB of nothing, which takes no room
    with pytest.raises(InputRefused, match="larger than 8 MB"):
        load_site(path)


@pytest.mark.parametrize("name", ["nowhere.toml", "", "nul\x00.toml"])
def test_a_file_that_cannot_be_read(tmp_path: Path, name: str) -> None:
    with pytest.raises(InputRefused, match="cannot be read"):
        load_site(tmp_path / name)


@pytest.mark.parametrize("encoding", ["latin-1", "utf-16"])
def test_a_file_in_another_encoding_names_the_line(encoding: str) -> None:
    degree = TEXT[: TEXT.index("°")].count("\n") + 1  # the first character beyond ASCII
    line = degree if encoding == "latin-1" else 1
    said = refusal(TEXT.encode(encoding))
    assert said == f"site.toml:{line}: is not UTF-8 text - save it as UTF-8"


def test_windows_line_ends_are_taken() -> None:
    assert parse_site(TEXT.replace("\n", "\r\n").encode("utf-8"), "site.toml") == parse_site(
        SAMPLE, "site.toml"
    )


def test_the_mark_that_some_editors_put_in_front_is_taken() -> None:
    assert parse_site(b"\xef\xbb\xbf" + SAMPLE, "site.toml") == parse_site(SAMPLE, "site.toml")


def test_ten_thousand_boxes_and_stations_load_and_their_mistakes_are_told() -> None:
    kinds = TEXT.partition("[[path]]")[0]
    path = '[[path]]\nid = "A"\noutput = "1"\ncable = "pair-14"\nsegment = [\n'
    boxes = ["output", *(f"B{number}" for number in range(1, 10_001))]
    rows = [f'{{ from = "{a}", to = "{b}", length = "2 ft" }},\n' for a, b in pairwise(boxes)]
    rows.reverse()  # the hardest order: from the far end
    stations = [
        f'[[station]]\nid = "S{n}"\nnumber = {n % 9999 + 1}\naddress = {n}\npath = "A"\n'
        f'box = "B{n}"\ndecoder = "single"\nsolenoid = [{{ id = "V{n}", kind = "valve-1in" }}]\n'
        for n in range(1, 3_000)
    ]
    text = kinds + path + "".join(rows) + "]\n" + "".join(stations)
    site = parse_site(text.encode("utf-8"), "large.toml")
    assert len(site.path[0].segment) == 10_000
    wrong = text.replace('decoder = "single"', 'decoder = "singel"')
    assert refusal(wrong.encode("utf-8")).count("there is no decoder kind 'singel'") == 2_999


def test_ten_thousand_segments_that_hang_from_nothing() -> None:
    rows = "".join(f'{{ from = "X{n}", to = "Y{n}", length = "2 ft" }},\n' for n in range(10_000))
    text = TEXT.replace("segment = [\n", "segment = [\n" + rows, 1)
    assert refusal(text.encode("utf-8")).count("is reached by no segment") == 10_000


# Mutations: of the text, and of the values


WORDS = ["[", "]", "[[", "{", "}", "=", ".", ",", '"', "'", '"""', "\n", "#", "0", "-1", "1e9",
         "true", "nan", "inf", "2026-01-01", "07:30:00", "output", "B1", "[path]", "[[station]]",
         "[site.a]", "\u202e", "\x00", "\u2028", "°", "é", " ft", "ohm", "id", "kind"]  # fmt: skip


@settings(max_examples=150, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(
    st.lists(
        st.tuples(st.integers(0, len(TEXT)), st.integers(0, 30), st.sampled_from(WORDS)),
        min_size=1, max_size=4,
    )
)  # fmt: skip
def test_mangled_text_is_refused_or_read(cuts: list[tuple[int, int, str]]) -> None:
    text = TEXT
    for place, length, word in cuts:
        text = text[:place] + word + text[place + length :]
    site = outcome(text.encode("utf-8"))
    assert site is None or site.station


@settings(max_examples=60, deadline=None)
@given(st.integers(0, len(SAMPLE)), st.binary(max_size=6))
def test_mangled_bytes_are_refused_or_read(place: int, odd: bytes) -> None:
    site = outcome(SAMPLE[:place] + odd + SAMPLE[place + len(odd) :])
    assert site is None or site.station


ODD = ["0", "-1", "7", "99999999", "1.5", "nan", "inf", "true", '""', '"x"', '"output"', '"B1"',
       '"1,200 ft"', '"5 ft"', '"0 V"', '"A"', "[]", "[1]", '["a", 2]', '[["x"]]', "{}",
       "{ id = 5 }", '{ id = "B1" }', "[{ }]", '[{ id = [] }]', '[{ from = 1, to = [] }]',
       "1979-05-27", "07:32:00", '"\\u202e"']  # fmt: skip
ASSIGNMENTS = [n for n, line in enumerate(TEXT.split("\n")) if " = " in line]


@settings(max_examples=200, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(
    st.lists(
        st.tuples(st.sampled_from(ASSIGNMENTS), st.sampled_from(ODD), st.integers(0, 5)),
        min_size=1, max_size=5,
    )
)  # fmt: skip
def test_any_value_in_any_place_is_refused_or_read(changes: list[tuple[int, str, int]]) -> None:
    lines = TEXT.split("\n")
    for number, value, which in changes:
        parts = lines[number].split(" = ")
        which = min(which, len(parts) - 2)  # one of the keys of the line
        tail = parts[which + 1].partition(", ")[2] if which < len(parts) - 2 else ""
        parts[which + 1] = f"{value}, {tail}" if tail else value
        if not tail and lines[number].lstrip().startswith("{"):
            parts[which + 1] += " },"
            del parts[which + 2 :]
        lines[number] = " = ".join(parts)
    text = "\n".join(lines)
    site = outcome(text.encode("utf-8"))
    assert site is None or site == build(Site, tomllib.loads(text))


@pytest.mark.parametrize("seed", range(8))
def test_whole_tables_left_out_doubled_or_moved(seed: int) -> None:
    chance = random.Random(seed)
    blocks = TEXT.split("\n\n")
    for _round in range(30):
        changed = blocks.copy()
        for _step in range(chance.randint(1, 3)):
            at = chance.randrange(len(changed))
            what = chance.choice(["leave out", "double", "move"])
            block = changed.pop(at)
            if what != "leave out":
                changed.insert(chance.randrange(len(changed) + 1), block)
            if what == "double":
                changed.insert(at, block)
        site = outcome("\n\n".join(changed).encode("utf-8"))
        assert site is None or site.station
