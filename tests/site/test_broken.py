"""Broken site files: every problem of each is told at once, with its line and key, and no other.

Beside `NAME.toml` stands `NAME.problems`, written by hand from the file: one problem on each line,
as line, key and a part of the words. A line of "-" is a problem that has no line.
"""

from __future__ import annotations

from pathlib import Path

import pytest

from commission.problems import InputRefused, Problem
from commission.site.load import load_site

FOLDER = Path(__file__).parent / "broken"
FILES = sorted(FOLDER.glob("*.toml"))
Expected = tuple[int | None, str, str]


def expected_of(path: Path) -> list[Expected]:
    rows = [line.split(" | ", 2) for line in path.read_text("utf-8").splitlines()]
    return [(None if row[0] == "-" else int(row[0]), row[1], row[2]) for row in rows]


def answers(problem: Problem, expected: Expected) -> bool:
    line, key, words = expected
    said = f"{problem.message} - {problem.remedy}" if problem.remedy else problem.message
    return (problem.line, problem.key) == (line, key) and words in said


def test_there_are_broken_files_and_each_has_its_problems() -> None:
    assert len(FILES) >= 50
    assert {path.stem for path in FILES} == {path.stem for path in FOLDER.glob("*.problems")}
    assert all(expected_of(path.with_suffix(".problems")) for path in FILES)


@pytest.mark.parametrize("path", FILES, ids=lambda path: path.stem)
def test_every_problem_is_told_and_no_other(path: Path) -> None:
    with pytest.raises(InputRefused) as refused:
        load_site(path)
    found = list(refused.value.problems)
    assert all(problem.file == str(path) for problem in found)
    for expected in expected_of(path.with_suffix(".problems")):
        matching = [problem for problem in found if answers(problem, expected)]
        assert len(matching) == 1, f"{expected} among\n{refused.value}"
        found.remove(matching[0])
    assert found == []


@pytest.mark.parametrize("path", FILES, ids=lambda path: path.stem)
def test_problems_stand_in_the_order_of_the_file(path: Path) -> None:
    with pytest.raises(InputRefused) as refused:
        load_site(path)
    lines = [problem.line or 0 for problem in refused.value.problems]
    assert lines == sorted(lines)


@pytest.mark.parametrize("path", FILES, ids=lambda path: path.stem)
def test_nothing_said_could_steer_a_terminal(path: Path) -> None:
    with pytest.raises(InputRefused) as refused:
        load_site(path)
    assert all(line.isprintable() for line in str(refused.value).split("\n"))
