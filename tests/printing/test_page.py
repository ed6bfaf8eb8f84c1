"""The frame of what is printed: text stays text, nothing is asked from outside."""

from __future__ import annotations

import re

import pytest
from hypothesis import given
from hypothesis import strategies as st

from commission.printing.page import STYLE, columns, element, page, text
from tests.printing.html_read import read_html

HOSTILE = [
    "<script>alert(1)</script>",
    "</td></table><img src=x onerror=alert(1)>",
    "&lt;b&gt; & 'single' \"double\"",
    "--><!-- ]]>",
    "</title></style><style>",
]


@pytest.mark.parametrize("words", HOSTILE)
def test_markup_in_words_stays_words(words: str) -> None:
    root = read_html(page(words, [element("p", text(words), kind='a" onclick="x')]))
    assert [p.text for p in root.all("p")] == [words]
    assert [title.text for title in root.all("title")] == [words]
    assert {one.name for one in root.all()} == {
        "html",
        "head",
        "meta",
        "title",
        "style",
        "body",
        "p",
    }
    (paragraph,) = root.all("p")
    assert paragraph.attributes == {"class": 'a" onclick="x'}


@given(st.text(max_size=60))
def test_any_text_comes_back_but_for_what_cannot_be_seen(words: str) -> None:
    (found,) = read_html(element("p", text(words))).all("p")
    assert all(one.isprintable() or one == "\u3000" or one.isspace() for one in found.text)
    if words.isprintable():
        assert found.text == words


def test_a_page_asks_for_nothing_and_fits_any_paper() -> None:
    whole = page("Title", [columns(["step"]), element("td", across=2)])
    assert not re.search(
        r"://|url\(|@import|@font-face|<script|<link|<img|<iframe|javascript:", whole
    )
    assert "default-src 'none'" in whole
    assert re.search(r"@page \{ margin: ", STYLE)
    assert not re.search(r"(?<!-)\bsize\s*:", STYLE)
    assert "break-before: page" in STYLE
    assert whole.startswith("<!DOCTYPE html>\n")
    assert whole.isascii()
