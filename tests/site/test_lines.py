"""The line of every key and element, in all the forms that TOML allows."""

from __future__ import annotations

import tomllib
from typing import Any

import pytest

from commission.resources import checklists, samples
from commission.toml_lines import Location, Places

NESTED = """\
top = 1
[a]
x = 1

[a.b]
y = 2
[[list]]
id = "one"
[[list.inner]]
z = 3
[[list.inner]]
z = 4
[list.table]
q = 5
[[list]]
id = "two"
[[list.inner]]
z = 6
"""

INLINE = """\
plain = { x = 1, y = { z = 2 } }
rows = [ { id = "a" }, { id = "b", n = 1 },
  { id = "c" },

  { id = "d", deep = [1,
    2] },
]
after = 3
"""

DOTTED = """\
a.b.c = 1
a . b . d = 2
[t]
x.y = { z.w = 3 }
"""

QUOTED = """\
"a b" = 1
'c.d' = 2
"e\\u0066" = 3
["t.u"]
"v=w" = 4
["x]y"."#z"]
k = 5
"""

TEXT = '''\
first = """
[header]
key = 1
""\\"" ends in two quotes""\""" # not text
second = \'\'\'
[[list]]
it''s = 2\'\'\'
third = "[no] = # \\" {"
fourth = ["a # b", 'c',
  # [comment]
  "]",
  """
x = [
""" ]
last = 1
'''

LISTS = """\
pairs = [
  ["a", "b"],
  ["c", "d"]
]
kinds = ["single"]
dates = [1979-05-27 07:32:00, 1.5, 0x1f]
"""

CASES: list[tuple[str, list[tuple[Location, int | None]]]] = [
    (
        NESTED,
        [
            (("top",), 1), (("a",), 2), (("a", "x"), 3), (("a", "b"), 5), (("a", "b", "y"), 6),
            (("list", 0), 7), (("list", 0, "id"), 8), (("list", 0, "inner", 0, "z"), 10),
            (("list", 0, "inner", 1), 11), (("list", 0, "inner", 1, "z"), 12),
            (("list", 0, "table", "q"), 14), (("list", 1, "id"), 16),
            (("list", 1, "inner", 0, "z"), 18),
        ],
    ),
    (
        INLINE,
        [
            (("plain", "x"), 1), (("plain", "y", "z"), 1), (("rows",), 2), (("rows", 1, "n"), 2),
            (("rows", 2), 3), (("rows", 2, "id"), 3), (("rows", 3, "deep"), 5),
            (("rows", 3, "deep", 1), 6), (("after",), 8),
        ],
    ),
    (
        DOTTED,
        [
            (("a",), 1), (("a", "b", "c"), 1), (("a", "b", "d"), 2), (("t", "x", "y"), 4),
            (("t", "x", "y", "z", "w"), 4),
        ],
    ),
    (
        QUOTED,
        [
            (("a b",), 1), (("c.d",), 2), (("ef",), 3), (("t.u",), 4), (("t.u", "v=w"), 5),
            (("x]y", "#z", "k"), 7),
        ],
    ),
    (
        TEXT,
        [
            (("first",), 1), (("second",), 5), (("third",), 8), (("fourth", 0), 9),
            (("fourth", 2), 11), (("fourth", 3), 12), (("last",), 15), (("header",), None),
            (("key",), None), (("list",), None), (("x",), None),
        ],
    ),
    (
        LISTS,
        [
            (("pairs", 0, 1), 2), (("pairs", 1), 3), (("pairs", 1, 0), 3), (("kinds", 0), 5),
            (("dates", 2), 6),
        ],
    ),
]  # fmt: skip


@pytest.mark.parametrize(("text", "expected"), CASES, ids=["nested", "inline", "dotted", "quoted",
                                                           "text", "lists"])  # fmt: skip
def test_every_form(text: str, expected: list[tuple[Location, int | None]]) -> None:
    tomllib.loads(text)  # the examples are valid TOML
    places = Places(text)
    assert [(place, places.line(place)) for place, _line in expected] == expected


def test_what_is_not_there_has_the_line_of_what_it_would_stand_in() -> None:
    places = Places(NESTED)
    assert places.line(("list", 1, "inner", 0, "missing")) == 17
    assert places.line(("a", "missing", "deeper")) == 2
    assert places.line(("missing",)) is None
    assert places.line(()) is None


@pytest.mark.parametrize("ending", ["\n", "\r\n"])
def test_line_ends_of_both_kinds(ending: str) -> None:
    text = ending.join(["a = 1", "# comment", "", "[b]", "c = 2"])
    assert Places(text).line(("b", "c")) == 5


def test_only_line_ends_of_toml_count() -> None:
    """U+0085 and U+2028 end a line for Python's splitlines, not for TOML or for an editor."""
    text = 'a = "x\u0085y\u2028z" # \u2029\nb = 2\n'
    assert Places(text).line(("b",)) == 2


def test_the_last_line_needs_no_end() -> None:
    assert Places("a = 1\n[b]").line(("b",)) == 2
    assert Places("").line(("b",)) is None


def leaves(value: Any, place: Location = ()) -> list[tuple[Location, Any]]:
    if isinstance(value, dict):
        return [leaf for key, one in value.items() for leaf in leaves(one, (*place, key))]
    if isinstance(value, list):
        return [leaf for number, one in enumerate(value) for leaf in leaves(one, (*place, number))]
    return [(place, value)]


@pytest.mark.parametrize(
    "path", [*samples().values(), *checklists().values()], ids=lambda path: path.stem
)
def test_every_value_that_comes_along_stands_on_the_line_told(path: Any) -> None:
    text = path.read_text("utf-8")
    lines = text.split("\n")
    places = Places(text)
    found = leaves(tomllib.loads(text))
    assert found
    for place, value in found:
        line = places.line(place)
        assert line is not None
        key = place[-1] if isinstance(place[-1], str) else ""
        assert key in lines[line - 1], place
        if isinstance(value, str) and '"""' not in lines[line - 1] and "\\" not in lines[line - 1]:
            assert value in lines[line - 1], place
