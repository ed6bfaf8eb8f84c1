"""A practice: the same number, the same faults; found by what the meter shows; told at the end."""

from __future__ import annotations

import hashlib
import sys
from pathlib import Path

import pytest

from commission import cli
from commission.checklist.load import parse_checklist
from commission.host import Disk
from commission.opening import open_job, read_job
from commission.practice import TRUTH
from commission.practice.begin import begin
from commission.practice.checklist import practice_checklist
from commission.practice.ending import compared
from commission.practice.ground import Ground
from commission.practice.truth import LEVELS, Truth, read
from commission.problems import InputRefused
from commission.resources import checklists
from tests import walks
from tests.jobs import user_env
from tests.practice.playing import begun, do, search, walk_through
from tests.terminal import Terminal


def test_the_checklist_of_a_practice_holds() -> None:
    text = practice_checklist(checklists()["new-installation"].read_text("utf-8"))
    listed = parse_checklist(text.encode("utf-8"), "practice")
    assert [stage.id for stage in listed.stage] == [
        "before-work", "path-dead", "switching-on", "path-live", "stations",
    ]  # fmt: skip


def test_the_same_number_is_the_same_practice(tmp_path: Path) -> None:
    digests = set()
    for again in ("then", "now"):
        session = begun(tmp_path / again, 41, "plain", 2)
        session.close()
        files = [session.job.folder / TRUTH, session.job.folder.parent / "practice.toml"]
        digests.add(hashlib.sha256(b"".join(file.read_bytes() for file in files)).hexdigest())
    assert len(digests) == 1


@pytest.mark.parametrize("difficulty", list(LEVELS))
@pytest.mark.parametrize("number", range(4))
def test_a_practice_is_walked_through_to_its_end(
    tmp_path: Path, difficulty: str, number: int
) -> None:
    session = begun(tmp_path, number, difficulty)  # type: ignore[arg-type]
    walk_through(session)
    refused = walks.first_open(session)
    if refused is not None:  # a short, and no supply on it
        assert refused.item.supply == "on"
        assert any("did not pass" in why for why in session.job.reasons_against(refused))
    session.close()


@pytest.mark.parametrize("number", range(12))
def test_what_is_hidden_is_found_by_the_tests_that_are_suggested(
    tmp_path: Path, number: int
) -> None:
    session = begun(tmp_path, number)
    walk_through(session)
    answer = search(session)
    ground = session.ground
    assert ground is not None
    assert answer.posterior is not None
    hidden = frozenset(fault.place for fault in ground.truth.faults)
    assert answer.posterior.sure
    assert answer.posterior.best[0] == hidden
    session.close()


@pytest.mark.parametrize("number", range(5, 13))
def test_a_sound_ground_reads_as_expected(tmp_path: Path, number: int) -> None:
    """With nothing hidden every reading lies within the program's own range of what it expects."""
    session = begun(tmp_path, number)
    session.__dict__["ground"] = Ground(session.job.sheet, Truth(number, ()))
    walk_through(session)
    verdicts = {s.verdict for s in session.job.statuses.values()}
    assert verdicts <= {"pass", "recorded", "marginal"}
    session.close()


def test_the_meter_repeats_itself_but_for_its_noise(tmp_path: Path) -> None:
    session = begun(tmp_path, 3)
    step = walks.first(session, lambda s: s.item.compare == "loop-resistance")
    walks.walk_until(session, step)
    ground = session.ground
    assert ground is not None
    first = ground.tells(session.job, step)
    assert ground.tells(session.job, step) == first
    do(session, step)
    again = ground.tells(session.job, step)
    if first != "OL":
        assert float(again.split()[0]) == pytest.approx(float(first.split()[0]), rel=0.01, abs=0.05)
    session.close()


def test_the_truth_stands_beside_what_was_concluded(tmp_path: Path) -> None:
    session = begun(tmp_path, 5)
    walk_through(session)
    search(session)
    step = next(iter(session.job.plan.steps))
    session.raise_defect(step, "does not work", "there", "I think it is dead", "replace it")
    ground = session.ground
    assert ground is not None
    told = dict(compared(session.job, ground.truth))
    assert "I think it is dead" in told["What you concluded: the defects raised"]
    assert "minutes" in told["What the search cost"]
    assert told["What was hidden"]
    session.close()


def test_everything_says_practice_and_opens_again(tmp_path: Path) -> None:
    session = begun(tmp_path, 1)
    walk_through(session)
    session.close()
    assert read_job(session.job.folder, Disk()).header.practice
    again = open_job(session.job.folder, disk=Disk(), now=walks.clock())
    assert again.ground is not None
    again.sign(walks.signoff(), walks.KEY)
    report = (again.job.folder / "report.toml").read_text("utf-8")
    assert "PRACTICE" in report
    again.close()
    assert cli.main(["review", str(again.job.folder / "report.toml")]) == 1


def test_a_spoilt_truth_is_refused_in_words(tmp_path: Path) -> None:
    session = begun(tmp_path, 1)
    session.close()
    (session.job.folder / TRUTH).write_text('kind = "x"\nformat = 1\n', "utf-8")
    with pytest.raises(InputRefused, match="begin another practice"):
        read(Disk(), session.job.folder)


def test_more_faults_than_fit_are_refused(tmp_path: Path) -> None:
    with pytest.raises(InputRefused, match="1 to 3 faults"):
        begin(4, "easy", 1, disk=Disk(), now=walks.clock(), folder=tmp_path / "p")


def test_the_command_needs_a_terminal(capsys: pytest.CaptureFixture[str]) -> None:
    assert cli.main(["practice", "--random", "3"]) == 2
    assert "terminal" in capsys.readouterr().err


def test_the_command_opens_the_walk_and_says_how_to_go_on(tmp_path: Path) -> None:
    command = [sys.executable, "-m", "commission", "practice", "--random", "3"]
    terminal = Terminal(command, env=user_env(tmp_path))
    try:
        terminal.wait_for("Who enters the readings here")
        terminal.wait_for(" demo")
        terminal.press(walks.WRITER, "enter", "enter", "enter", "enter")
        terminal.wait_for("step 1 of")
        terminal.wait_for("The helper reads back")
        terminal.press("ctrl+q")
        terminal.wait_for("To go on with it: commission open")
    finally:
        if not terminal.ended:
            terminal.kill()
    (folder,) = (tmp_path / "user").glob("practice/*/practice-new-*")
    assert read_job(folder, Disk()).header.practice
