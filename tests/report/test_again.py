"""A report made again from itself: every altered byte of its body is found, and told where."""

from __future__ import annotations

import tomllib
from collections.abc import Iterator
from pathlib import Path

import pytest

from commission import __version__
from commission.electrical.sources import FORMULA_SET
from commission.problems import InputRefused
from commission.report import again as made_again
from commission.report.again import first_difference, job_of, signoff_of, unsealed
from commission.report.document import draft_text, report_bytes
from commission.report.examined import report_problems
from tests import walks
from tests.report import small
from tests.report.sealing import resealed

NAME = "report.toml"


@pytest.fixture(scope="module")
def report(tmp_path_factory: pytest.TempPathFactory) -> bytes:
    """A signed report with exceptions, a defect, notes and readings; its folder plays no part."""
    session = walks.begin(tmp_path_factory.mktemp("again"), "small-garden")
    loop = walks.first(session, lambda step: step.item.compare == "loop-resistance")
    walks.walk_until(session, loop)
    expectation = session.job.expectation(loop)
    assert expectation is not None
    walks.answer(session, loop, walks.typed(expectation.value * 1.5, loop))
    session.raise_defect(loop, "does not work", "box B1", "bad joint", "remake the joint")
    following = walks.first_open(session)
    assert following is not None
    session.skip(following, "no access «today»")
    session.note(following, 'a "quote" \\ and = [brackets]')
    session.sign(walks.signoff(), walks.KEY)
    session.close()
    content = (session.job.folder / NAME).read_bytes()
    for path in session.job.folder.glob("*.toml"):
        path.unlink()
    return content


def altered(report: bytes, before: str, after: str) -> tuple[bytes, int]:
    """The report with the first occurrence of a text replaced and signed anew, and its line."""
    text = report.decode("utf-8")
    assert before in text
    line = text[: text.index(before)].count("\n") + 1
    return resealed(text.replace(before, after, 1).encode("utf-8")), line


def test_a_report_is_made_again_from_itself_alone(report: bytes) -> None:
    assert report_problems(report, NAME) == []
    read = tomllib.loads(report.decode("utf-8"))
    assert report_bytes(job_of(read, NAME), signoff_of(read)) == unsealed(report)


@pytest.mark.parametrize(
    ("before", "after"),
    [
        ('verdict = "handed over with exceptions"', 'verdict = "accepted"'),
        ("box B1: bad joint", "box B1: good joint"),
        ("measured_ohm = ", "measured_ohm = 1"),
        ("accepted_high_ohm = ", "accepted_high_ohm = 9"),
        ("pass_probability = 0.95", "pass_probability = 0.50"),
        ("coverage_factor = 2.0", "coverage_factor = 2.00"),
        ("# What stands against acceptance", "# What stood against acceptance"),
        ('calibration_due = "2032', 'calibration_due = "2039'),
        ('observed_by = "Pat', 'observed_by = "Pit'),
        ('remark = "a name', 'remark = "the name'),
    ],
)
def test_an_altered_line_is_named_with_what_stands_and_what_should(
    report: bytes, before: str, after: str
) -> None:
    content, line = altered(report, before, after)
    (problem,) = report_problems(content, NAME)
    stands = content.decode("utf-8").split("\n")[line - 1]
    should = report.decode("utf-8").split("\n")[line - 1]
    assert problem.file == NAME
    assert problem.line == line
    first, second = problem.message.split(" stands where the record gives ")
    for quoted, whole in ((first, stands), (second, should)):
        part = quoted.partition("«")[2].removesuffix("»")
        assert part.removeprefix("...").removesuffix("...") in whole
    assert first.removeprefix("altered: ") != second


def test_deleted_exceptions_are_missed(report: bytes) -> None:
    text = report.decode("utf-8")
    start = text.index("\n[[exception]]")
    gone = text[:start] + text[text.index("\n# The job") :]
    (problem,) = report_problems(resealed(gone.encode("utf-8")), NAME)
    assert problem.line == text[:start].count("\n") + 2
    assert "[[exception]]" in problem.message


def test_one_exception_less_that_is_accepted_is_missed(report: bytes) -> None:
    text = report.decode("utf-8")
    start = text.index("\n", text.index("accepts = [")) + 1
    gone = text[:start] + text[text.index("\n", start) + 1 :]
    (problem,) = report_problems(resealed(gone.encode("utf-8")), NAME)
    assert problem.line == text[:start].count("\n") + 1


def flips(report: bytes) -> Iterator[int]:
    """A byte in every part of the report, its last line and its comments included."""
    text = report.decode("utf-8")
    parts = [place for place, line in _places(text) if line.startswith(("[", "# "))]
    step = max(1, len(parts) // 40)
    end = text.index("[[signoff]]")
    for place in parts[::step]:
        if place < end:
            yield len(text[:place].encode("utf-8")) + 2
    yield len(report) - 1


def _places(text: str) -> Iterator[tuple[int, str]]:
    place = 0
    for line in text.split("\n"):
        yield place, line
        place += len(line) + 1


def test_a_byte_altered_anywhere_in_the_body_is_found(report: bytes) -> None:
    places = list(flips(report))
    assert len(places) > 30
    for place in places:
        content = bytearray(report)
        content[place] ^= 1
        found = report_problems(bytes(content), NAME)
        assert found, content[place - 20 : place + 20]
        if place < len(report) - 200:  # signed anew, the body is still not what its record gives
            assert report_problems(resealed(bytes(content)), NAME)


def test_another_formula_set_is_told_apart(report: bytes, monkeypatch: pytest.MonkeyPatch) -> None:
    """The same report read by a later program, whose laws give other numbers."""
    monkeypatch.setattr(made_again, "FORMULA_SET", FORMULA_SET + 1)
    (problem,) = report_problems(report, NAME)
    assert "written with another formula set" in problem.message
    assert "altered" not in problem.message
    assert f"version {__version__}" in problem.remedy


def test_another_version_of_the_program_is_told_apart(
    report: bytes, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The same report read by a later program that writes the same, and by one that does not."""
    monkeypatch.setattr(made_again, "__version__", "9.9.9")
    assert report_problems(report, NAME) == []
    content, _line = altered(report, f'program = "{__version__}"', 'program = "7.7.7"')
    (problem,) = report_problems(content, NAME)
    assert "another version of the program (7.7.7; this is 9.9.9)" in problem.message
    assert "all else stands" in problem.message
    content, line = altered(
        report, 'verdict = "handed over with exceptions"', 'verdict = "accepted"'
    )
    (problem,) = report_problems(content, NAME)
    assert "another version of the program" in problem.message
    assert problem.line == line


def test_an_embedded_site_that_cannot_be_is_a_problem_and_nothing_else(report: bytes) -> None:
    read = tomllib.loads(report.decode("utf-8"))
    for text in ("", "[" * 500, 'kind = "commission site"\nformat = 1\n'):
        read["files"]["site"] = text
        with pytest.raises(InputRefused, match=r"files\.site"):
            job_of(read, NAME)


def test_a_draft_is_told_as_one(report: bytes, tmp_path: Path) -> None:
    session = walks.begin(tmp_path, "small-garden")
    session.close()
    (problem,) = report_problems(draft_text(session.job).encode("utf-8"), NAME)
    assert problem.message.startswith("a draft")


def test_the_first_difference_far_out_in_a_long_line_is_shown() -> None:
    line = "x" * 500
    problem = first_difference(f"a\n{line}1\nb".encode(), f"a\n{line}2\nb".encode(), NAME)
    assert problem is not None
    assert problem.line == 2
    assert problem.message.count("«...x") == 2
    assert "1»" in problem.message
    assert "2»" in problem.message


@pytest.mark.parametrize(
    ("before", "after", "shown"),
    [
        ("14 AWG", "14\u00a0AWG", "14<U+00A0>AWG"),  # a blank that no line breaks at
        ("Sam Sample", "S\u0430m Sample", "S<U+0430>m Sample"),  # a Cyrillic letter
        ("Sam Sample", "Sam Sample\u0301", "Sample<U+0301>"),  # an accent of its own
    ],
)
def test_what_looks_alike_is_told_by_its_code_point(before: str, after: str, shown: str) -> None:
    text = small.sound().decode("utf-8")
    at = text.index(f'"{before}"')
    altered = text[:at] + text[at:].replace(before, after, 1)
    words = str(report_problems(resealed(altered.encode("utf-8")), "report.toml")[0])
    assert shown in words
    assert words.isprintable()
