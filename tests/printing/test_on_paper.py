"""The printed pages as a browser prints them: how many, all words there, nothing cut, drawings."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from commission.printing.blank_sheet import blank_sheet
from tests.printing.browser import A4, LETTER, ink, printed, sheet_size, sheets, what_is_cut
from tests.printing.html_read import read_html
from tests.printing.test_blank_sheet import sample_blank
from tests.printing.test_handover_sheet import sheet_of, signed

PAPER_PX = 718  # what Letter leaves between its margins, at 96 px to the inch: 8.5 in less 20 mm


def words_of(page: str) -> set[str]:
    """Every word of a page's body."""
    body = read_html(page).all("body")[0]
    texts = [one for inside in body.all() for one in inside.inside if isinstance(one, str)]
    return {word for text in texts for word in re.findall(r"\w{4,}", text)}


@pytest.mark.parametrize(("size", "faulty", "most"), [(LETTER, True, 10), (A4, False, 9)])
def test_a_report_prints_whole(
    tmp_path: Path, size: tuple[int, int], faulty: bool, most: int
) -> None:
    page = sheet_of(signed(faulty=faulty))
    pdf = printed(page, tmp_path, size)
    found = sheets(pdf)
    assert sheet_size(pdf) == size
    assert 4 < len(found) <= most
    for number, sheet in enumerate(found, start=1):
        assert "PRACTICE" in sheet
        assert f"{number} of {len(found)}" in sheet
    together = re.sub(r"\s", "", "".join(found))
    missing = {word for word in words_of(page) if word not in together}
    assert {word for word in missing if not _is_broken(word, found)} == set()
    assert all(0.005 < share < 0.6 for share in ink(pdf, tmp_path))


def test_a_blank_sheet_of_forty_stations_is_no_pile_of_paper(tmp_path: Path) -> None:
    page = blank_sheet(sample_blank("two-paths"))
    found = sheets(printed(page, tmp_path, LETTER))
    assert len(found) < 20
    assert all("Larkspur Commons" in sheet and "PRACTICE" in sheet for sheet in found)
    together = re.sub(r"\s", "", "".join(found))
    missing = {word for word in words_of(page) if word not in together}
    assert {word for word in missing if not _is_broken(word, found)} == set()
    assert all(0.005 < share < 0.6 for share in ink(tmp_path / "page.pdf", tmp_path))
    assert what_is_cut(page, tmp_path, PAPER_PX) == []


def _is_broken(word: str, found: list[str]) -> bool:
    """Whether a word stands on two lines of a narrow cell: both parts are there."""
    text = " ".join(found)
    return any(word[:n] in text and word[n:] in text for n in range(3, len(word) - 1))


def test_nothing_of_a_report_is_cut_or_sticks_out(tmp_path: Path) -> None:
    assert what_is_cut(sheet_of(signed(faulty=True)), tmp_path, PAPER_PX) == []
