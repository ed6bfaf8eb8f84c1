"""`commission compare`: what it prints, its document for programs, and what it refuses."""

from __future__ import annotations

import json
import shutil
from pathlib import Path
from typing import Any

import pytest

from commission import cli
from commission.job import Job
from commission.report import change, comparable
from commission.report.measured import RULES
from commission.resources import samples
from tests.report.years import LOOP, REVERSED, SAMPLE, Answer, off, walked
from tests.test_documents import codes, paths_of, rows, section

Output = pytest.CaptureFixture[str]


@pytest.fixture(scope="module")
def sound(tmp_path_factory: pytest.TempPathFactory) -> Job:
    """A signed job in which all is well."""
    return walked(tmp_path_factory.mktemp("sound") / "job", signed=True)


@pytest.fixture(scope="module")
def worse(tmp_path_factory: pytest.TempPathFactory) -> Job:
    """A signed recheck: a joint gone bad, a valve that stays shut."""
    answers: dict[str, Answer] = {
        LOOP: off(2.0), REVERSED: off(2.0), "station/S3/valve": "nothing",
    }  # fmt: skip
    folder = tmp_path_factory.mktemp("worse") / "job"
    return walked(folder, answers, kind="recheck", signed=True)


def ran(capsys: Output, *arguments: object) -> tuple[int, str, str]:
    """Exit code, standard output and standard error of the command."""
    code = cli.main(["compare", *(str(argument) for argument in arguments)])
    out, err = capsys.readouterr()
    assert "Traceback" not in out + err
    assert "\u001b" not in out + err
    return code, out, err


def document(capsys: Output, *arguments: object) -> dict[str, Any]:
    """The document for programs."""
    _code, out, _err = ran(capsys, *arguments, "--json")
    found = json.loads(out)
    assert isinstance(found, dict)
    return found


def test_faults_and_changes_stand_first_with_what_was_there(
    capsys: Output, sound: Job, worse: Job
) -> None:
    code, out, err = ran(capsys, sound.folder, worse.folder)
    assert (code, err) == (1, "")
    assert out.index("Changed: 3") < out.index("Cannot be compared: 3") < out.index("Unchanged: ")
    changed = out[out.index("Changed: 3") : out.index("Cannot be compared")]
    for words in (
        "end B4 (Hedge box): Loop resistance", "or more would have shown", "its gain cancels",
        "at handover: it passed then, at the value expected", "worked then, not now",
        "at handover: seen as it should be then", "not explained now: loop-resistance at B4",
    ):  # fmt: skip
        assert words in changed
    assert "nor whose fault it is" in " ".join(out.split())
    assert max(len(line) for line in out.splitlines() if "report.toml" not in line) <= 96


def test_nothing_changed_is_no_finding(capsys: Output, sound: Job) -> None:
    code, out, _err = ran(capsys, sound.folder, sound.folder)
    assert code == 0
    assert "Changed: nothing" in out
    assert "both are the same job" in out


def test_a_report_alone_will_do(capsys: Output, sound: Job, worse: Job, tmp_path: Path) -> None:
    alone = tmp_path / "alone.toml"
    alone.write_bytes((sound.folder / "report.toml").read_bytes())
    in_folders = document(capsys, sound.folder, worse.folder)
    assert document(capsys, alone, worse.folder)["comparisons"] == in_folders["comparisons"]
    assert document(capsys, alone, worse.folder)["earlier"]["read_from"] == str(alone)


def test_an_open_job_is_compared_as_a_draft_and_said(
    capsys: Output, sound: Job, tmp_path: Path
) -> None:
    draft = walked(tmp_path / "draft")
    code, out, _err = ran(capsys, sound.folder, draft.folder)
    assert code == 0
    assert "DRAFT" in out
    assert "the later one is a draft: nobody signed it" in out


def test_over_range_is_told_in_the_table(capsys: Output, tmp_path: Path) -> None:
    step = "path/A/insulation-first"
    jobs = [walked(tmp_path / day, {step: ">200 Mohm"}) for day in ("then", "now")]
    _code, out, _err = ran(capsys, *(job.folder for job in jobs))
    (line,) = (
        one for one in out.splitlines() if one.split("  ")[2:3] == ["First conductor to earth"]
    )
    assert line.split()[-6:] == ["Mohm", "none", "seen", "only", "a", "fall"]


def test_the_document_for_programs_has_the_keys_of_the_readme(
    capsys: Output, sound: Job, worse: Job
) -> None:
    told = [
        key for row in rows(section("## Comparing two reports"), "key") for key in codes(row[0])
    ]
    assert len(told) == len(set(told))
    there: set[str] = set()
    for pair in ((sound, worse), (sound, sound)):
        there |= set(paths_of(document(capsys, *(job.folder for job in pair))))
    assert there == set(told)
    assert {f"rules.{how}" for how in RULES} == {key for key in told if key.startswith("rules.")}


def test_the_rules_stand_in_the_readme(sound: Job) -> None:
    told = section("## Comparing two reports")
    assert f"a factor of {change.SEASON_FACTOR:g} is left to moisture" in told
    assert f"a factor of {change.WEATHER_FACTOR:g} is left to weather" in told
    assert f"may move by {comparable.MAINS_DRIFT * 100:g} %" in told
    assert f"a coil be {comparable.COIL_K:g} K warmer" in told


def test_an_altered_line_is_told_and_an_altered_record_refused(
    capsys: Output, sound: Job, worse: Job, tmp_path: Path
) -> None:
    report = (worse.folder / "report.toml").read_text("utf-8")
    line, record = tmp_path / "line.toml", tmp_path / "record.toml"
    line.write_text(report.replace("# What stands against", "# What stood against", 1), "utf-8")
    code, out, _err = ran(capsys, sound.folder, line)
    assert code == 1
    assert "note: " in out
    assert "Changed: 3" in out
    assert 'text = "nothing"' in report
    record.write_text(report.replace('text = "nothing"', 'text = "nothinG"', 1), "utf-8")
    code, out, err = ran(capsys, sound.folder, record)
    assert (code, out) == (2, "")
    assert "was altered: its digest does not match" in err


def test_a_report_of_another_record_is_told(
    capsys: Output, sound: Job, worse: Job, tmp_path: Path
) -> None:
    mixed = tmp_path / "mixed"
    shutil.copytree(worse.folder, mixed)
    (mixed / "report.toml").write_bytes((sound.folder / "report.toml").read_bytes())
    code, out, _err = ran(capsys, sound.folder, mixed)
    assert code == 1
    assert "another record than the one beside it" in " ".join(out.split())


@pytest.mark.parametrize(
    ("other", "words"),
    [
        (SAMPLE, "is a site: name a report, or a job's folder"),
        ("no-such-folder", "is not there"),
        ("evil\u001b[2Jname", "is not there"),
        ("x\0y", "is not there"),
        ("pyproject.toml", "neither a site, a job nor a report"),
    ],
)
def test_what_is_no_report_is_refused_in_words(
    capsys: Output, sound: Job, other: str, words: str
) -> None:
    for pair in ((sound.folder, other), (other, sound.folder)):
        code, out, err = ran(capsys, *pair)
        assert (code, out) == (2, "")
        assert words in err


def test_another_site_with_nothing_common_is_refused(
    capsys: Output, sound: Job, tmp_path: Path
) -> None:
    text = samples()[SAMPLE].read_text("utf-8")
    text = text.replace('id = "A"', 'id = "Z"').replace('path = "A"', 'path = "Z"')
    for number in range(1, 7):
        text = text.replace(f'id = "S{number}"', f'id = "T{number}"')
    strange = walked(tmp_path / "strange", site=text)
    code, out, err = ran(capsys, sound.folder, strange.folder)
    assert (code, out) == (2, "")
    assert "nothing to compare" in err
