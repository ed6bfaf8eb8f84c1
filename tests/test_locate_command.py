"""`commission locate`: what it prints, its document for programs, and its exit codes."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest

from commission import cli
from commission.locate.priors import STATEMENT
from commission.session import Session
from tests import walks
from tests.search.faulty import Change, again, dead, loops, said, walked
from tests.test_documents import codes, paths_of, rows, section

Output = pytest.CaptureFixture[str]


def ran(capsys: Output, *arguments: object) -> tuple[int, str]:
    """Exit code and standard output of the command, blanks and line ends made one."""
    code = cli.main(["locate", *map(str, arguments)])
    return code, " ".join(capsys.readouterr().out.split())


def told(capsys: Output, session: Session) -> tuple[int, str]:
    session.close()
    return ran(capsys, session.job.folder)


def document(capsys: Output, session: Session) -> Any:
    session.close()
    cli.main(["locate", str(session.job.folder), "--json"])
    return json.loads(capsys.readouterr().out)


def test_a_job_just_begun_has_nothing_to_tell(capsys: Output, tmp_path: Path) -> None:
    code, out = told(capsys, walks.begin(tmp_path, "small-garden"))
    assert code == 0
    assert "Nothing was read yet" in out
    assert "PRACTICE" in out


def test_a_sound_job_shows_no_fault(capsys: Output, tmp_path: Path) -> None:
    code, out = told(capsys, walked(tmp_path, {}))
    assert code == 0
    assert "The readings show no fault" in out
    assert STATEMENT in out


def test_a_sound_job_half_way_shows_no_fault(capsys: Output, tmp_path: Path) -> None:
    code, _ = told(capsys, walked(tmp_path, {}, until="standby-current"))
    assert code == 0


def test_a_dead_station_is_named_with_what_cannot_be_told_apart(
    capsys: Output, tmp_path: Path
) -> None:
    code, out = told(capsys, walked(tmp_path, dead("S3")))
    assert code == 1
    assert "station 3 at B3 (more than 99 in 100)" in out
    assert "the decoder is dead, or the decoder has a wrong address" in out
    assert "Raise a defect" in out


def test_a_joint_is_between_boxes_and_the_next_test_says_what_it_would_mean(
    capsys: Output, tmp_path: Path
) -> None:
    """3 ohm more at B4 alone: beyond B2, on the way to B4. Which of two, only B3 can tell."""
    code, out = told(capsys, walked(tmp_path, loops("B4", ohm=3.0), until="standby-current"))
    assert code == 1
    assert "between B2 and B3 (50 in 100): a joint of about 3 ohm" in out
    assert "between B3 and B4 (50 in 100)" in out
    assert "Bridge the conductors of path A in box B3" in out
    assert "opening box B3" in out
    for caution in ("Isolate the supply", "forgotten bridge", "Never put an insulation tester"):
        assert caution in out


def test_two_faults_are_named_together(capsys: Output, tmp_path: Path) -> None:
    code, out = told(capsys, walked(tmp_path, dead("S1") | dead("S4")))
    assert code == 1
    assert "station 1 at B1; station 4 at B4" in out


def test_after_a_repair_the_next_fault_appears(capsys: Output, tmp_path: Path) -> None:
    session = walked(tmp_path, dead("S1") | dead("S4"))
    valve = session.job.plan.by_id["station/S1/valve"]
    session.raise_defect(valve, "does not work", "B1", "dead decoder", "replace it")
    for name in dead("S1"):
        again(session, name)
    for name, change in dead("S4").items():
        again(session, name, change(session, session.job.plan.by_id[name]))
    code, out = told(capsys, session)
    assert code == 1
    assert "What is wrong station 4 at B4 (more than 99 in 100)" in out
    assert "station 1" not in out


FAULTS: dict[str, tuple[dict[str, Change], str]] = {
    "sound": ({}, ""),
    "dead": (dead("S3"), ""),
    "joint": (loops("B4", ohm=3.0), "standby-current"),
    "swapped": (
        {
            "station/S2/indicator": said("dark"),
            "station/S2/valve": said("nothing"),
            "station/S2/others-dry": said("no"),
            "station/S2/which-other": said("5"),
        },
        "station-current",
    ),
}


def test_the_document_for_programs_has_the_keys_of_the_readme(
    capsys: Output, tmp_path: Path
) -> None:
    told = [key for row in rows(section("## Finding a fault"), "key") for key in codes(row[0])]
    assert len(told) == len(set(told))
    there: set[str] = set()
    for name, (changes, until) in FAULTS.items():
        (tmp_path / name).mkdir()
        there |= set(paths_of(document(capsys, walked(tmp_path / name, changes, until))))
    seldom = {key for key in told if key.rsplit(".", 1)[-1] in _SELDOM}
    assert there <= set(told) | {"outputs[].next_test"}
    assert set(told) - seldom - there <= {"ohm", "volt", "amp"}


_SELDOM = {"conductor", "beyond", "station", "other", "missing_fraction", "short_along_segment"}


def test_the_document_gives_probabilities_and_si(capsys: Output, tmp_path: Path) -> None:
    found = document(capsys, walked(tmp_path, loops("B4", ohm=3.0), until="standby-current"))
    (output,) = found["outputs"]
    assert output["wrong"] is True
    assert output["sure"] is False
    first, second = output["answers"][:2]
    assert {tuple(first["places"][0]), tuple(second["places"][0])} == {
        ("segment", "A", "B3"),
        ("segment", "A", "B4"),
    }
    assert first["likeliest"][0]["ohm"] == pytest.approx(3.0, abs=0.2)
    low, high = output["next_test"]["outcomes"]
    assert low["high"] < high["low"]
    assert high["low"] - low["low"] == pytest.approx(3.0, abs=0.2)


def test_a_site_is_no_job(capsys: Output, tmp_path: Path) -> None:
    assert cli.main(["locate", str(tmp_path)]) == 2
    assert "Traceback" not in capsys.readouterr().err
