"""Reports of every format, kept as they were written, are read and reviewed for ever."""

from __future__ import annotations

import tomllib
from pathlib import Path

import pytest

from commission import __version__, cli
from commission.electrical.sources import FORMULA_SET
from commission.report.document import FORMAT
from commission.report.reading import read_report
from commission.report.review import review, review_in_full
from tests.report.golden_reports import FOLDER, golden
from tests.report.test_inspection import BOTH

FORMATS = range(1, FORMAT + 1)
UNCHANGED = ("sound", "newer formulas", "another version")


def test_there_is_one_of_every_format_and_nothing_else() -> None:
    assert sorted(FOLDER.iterdir()) == sorted(golden(number) for number in FORMATS)


@pytest.mark.parametrize("number", FORMATS)
def test_it_is_read_and_its_signatures_hold(number: int) -> None:
    report = read_report(golden(number))
    assert report["format"] == number
    found = review(golden(number).read_bytes(), "report.toml", BOTH)
    assert found.state in UNCHANGED
    for kind in ("signature", "record", "files", "altered"):
        assert found.of(kind) == ()
    assert [(one.signs_as, one.trust) for one in found.signoffs] == [
        ("installer", "known"),
        ("inspector", "known"),
    ]
    assert found.verdict == report["verdict"] == "handed over with exceptions"


@pytest.mark.parametrize("number", FORMATS)
def test_one_written_with_the_formulas_of_today_is_made_again_whole(number: int) -> None:
    """Before a release of the format, renew it: `python -m tests.report.golden_reports`.

    After it, a line that differs is a change of the format: another number, and another file; or
    of a number: another formula set.
    """
    content = golden(number).read_bytes()
    report = tomllib.loads(content.decode("utf-8"))
    if report["constants"]["formula_set"] != FORMULA_SET or report["job"]["program"] != __version__:
        pytest.skip("written by another version, or with other formulas")
    found = review_in_full(content, "report.toml", BOTH)
    assert found.review.state == "sound", found.review.problems
    assert len(found.exceptions) == report["exceptions"]
    fails = [one for one in found.steps if one.verdict == "fail"]
    assert [(one.title, one.inspector_verdict) for one in fails] == [("Loop resistance", "fail")]


@pytest.mark.parametrize("number", FORMATS)
def test_it_says_what_any_reader_of_toml_finds_in_it(
    number: int, capsys: pytest.CaptureFixture[str]
) -> None:
    """Without this program: the failed loop, twice what was expected; its signed exceptions."""
    report = tomllib.loads(golden(number).read_text("utf-8"))
    rows = [reading for path in report["path"] for end in path["end"] for reading in end["reading"]]
    (failed,) = [row for row in rows if row["verdict"] == "fail"]
    assert failed["measured_ohm"] == pytest.approx(2 * failed["expected_ohm"], rel=1e-3)
    assert report["signoff"][0]["exceptions"] == report["exceptions"] == len(report["exception"])
    assert cli.main(["review", str(golden(number))]) == 1
    assert "PRACTICE" in capsys.readouterr().out


def test_the_command_that_renews_it_is_documented() -> None:
    text = (Path(__file__).parents[2] / "DEVELOPERS.md").read_text("utf-8")
    assert "python -m tests.report.golden_reports" in text
