"""One report reviewed on a full screen, by keys; what stands on it is what the review gives."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import pytest
from textual.widgets import OptionList

from commission.report.review import InFull, review, review_in_full
from commission.tui.review_app import ReviewApp
from commission.user.signers import KnownSigners
from tests.jobs import user_env
from tests.report import small
from tests.report.sealing import countersigned, resealed
from tests.report.test_inspection import BOTH
from tests.report.test_inspection import countersigned as inspected_garden
from tests.terminal import Terminal
from tests.tui.golden import Golden
from tests.tui.walking import LARGE, SMALL, Walk, play_in

NAME = "report.toml"
sizes = pytest.mark.parametrize("size", [SMALL, LARGE], ids=["80x24", "120x40"])
VIEWS = {"1": "findings", "2": "exceptions", "3": "steps", "4": "sign-offs", "5": "works"}


def in_full(content: bytes, known: KnownSigners = BOTH) -> InFull:
    return review_in_full(content, NAME, known)


@sizes
@pytest.mark.parametrize("key", VIEWS)
def test_what_stands_against_a_report(golden: Golden, size: tuple[int, int], key: str) -> None:
    """A practice report with a loop that failed, a defect, and much not done."""

    async def scene(walk: Walk) -> None:
        await walk.press(key)
        await walk.shows(f"[{key} {VIEWS[key]}")
        golden.check(walk.app, f"review-{VIEWS[key]}")

    play_in(ReviewApp(in_full(small.troubled(), KnownSigners())), scene, size)


@sizes
def test_the_file_itself(golden: Golden, size: tuple[int, int]) -> None:
    async def scene(walk: Walk) -> None:
        await walk.press("6")
        await walk.shows("[6 file")
        golden.check(walk.app, "review-file", r"\b[0-9a-f]{6,64}\b")

    play_in(ReviewApp(in_full(countersigned(small.sound()))), scene, size)


@sizes
def test_all_of_a_step(golden: Golden, size: tuple[int, int]) -> None:
    """An inspected one: what the installer read, and what the inspector."""
    found = in_full(inspected_garden())
    place = next(n for n, one in enumerate(found.steps) if one.e_n is not None)

    async def scene(walk: Walk) -> None:
        await walk.press("3", *["down"] * place, "enter")
        await walk.shows("Inspector")
        golden.check(walk.app, "review-all-of-a-step")
        await walk.press("escape")
        await walk.shows("[3 steps")

    play_in(ReviewApp(found), scene, size)


def test_it_draws_what_the_review_gives() -> None:
    """Each finding, exception, step and sign-off is a line; nothing else is."""
    content = small.troubled()
    found = in_full(content, KnownSigners())
    assert found.review == review(content, NAME, KnownSigners())
    assert {"fail", "not tested"} <= {one.verdict for one in found.steps}

    async def scene(walk: Walk) -> None:
        for key, rows in (
            ("1", len(found.review.findings)), ("2", len(found.exceptions)),
            ("3", len(found.steps)), ("4", len(found.review.signoffs)),
            ("5", len(found.outputs)),
        ):  # fmt: skip
            await walk.press(key)
            assert walk.app.screen.query_one(OptionList).option_count == rows
        await walk.press("6", "end")
        await walk.shows("formula set")

    play_in(ReviewApp(found), scene, LARGE)


def test_a_sound_one_by_known_keys_has_nothing_against_it() -> None:
    async def scene(walk: Walk) -> None:
        await walk.shows("sound; signed by known keys, countersigned")
        await walk.shows("None.")
        await walk.press("4")
        await walk.shows("KZDV-VJ2U-MNDU-YAUF: known")

    play_in(ReviewApp(in_full(countersigned(small.sound()))), scene)


def test_of_an_altered_one_the_alteration_is_the_first_thing() -> None:
    async def scene(walk: Walk) -> None:
        await walk.shows("Standing:          not to be trusted: altered")
        assert walk.text.index("altered  altered:") < walk.text.index("changed key")

    forged = small.sound().replace(b'verdict = "pass"', b'verdict = "fail"', 1)
    assert forged != small.sound()
    play_in(ReviewApp(in_full(resealed(forged))), scene)


@pytest.mark.parametrize("content", [b"", b"no report", small.sound()[:-200]])
def test_what_is_no_report_says_so(content: bytes) -> None:
    async def scene(walk: Walk) -> None:
        await walk.shows("not readable")
        await walk.press("3")
        await walk.shows("does not hold or cannot be read")

    play_in(ReviewApp(in_full(content)), scene)


def test_hostile_words_stay_words() -> None:
    """Markup and control characters in a report are shown as they are, and steer nothing."""
    hostile = "[@click=app.bell]x[/] a[/]b"
    content = resealed(small.troubled().replace(b"bad joint", hostile.encode()))

    async def scene(walk: Walk) -> None:
        for key in ("1", "2", "4"):  # its record does not hold: no step is shown
            await walk.press(key, "enter")
            await walk.shows("Enter Esc back")
            await walk.press("escape")
        await walk.press("1")
        shown = [str(one.prompt) for one in walk.app.screen.query_one(OptionList).options]
        assert any(hostile in words for words in shown)

    play_in(ReviewApp(in_full(content)), scene, LARGE)


# By the command, in a terminal and without


def test_the_command_opens_it_in_a_terminal_and_escape_leaves(tmp_path: Path) -> None:
    path = tmp_path / NAME
    path.write_bytes(small.troubled())
    command = [sys.executable, "-m", "commission", "review", str(path)]
    terminal = Terminal(command, env=user_env(tmp_path))
    try:
        terminal.wait_for("Verdict as signed")
        terminal.press("3")
        terminal.wait_for("[3 steps")
        terminal.press("esc")
        assert terminal.wait_end() == 1
    finally:
        if not terminal.ended:
            terminal.kill()


def test_from_the_start_and_back_to_it(tmp_path: Path) -> None:
    (tmp_path / NAME).write_bytes(small.troubled())
    command = [sys.executable, "-m", "commission"]
    terminal = Terminal(command, env=user_env(tmp_path), cwd=tmp_path)
    try:
        terminal.wait_for("5  Review a report")
        terminal.press("5", "enter")
        terminal.wait_for("Report, or a folder of reports")
        terminal.press(NAME, "enter", "enter")
        terminal.wait_for("Verdict as signed")
        terminal.press("esc")
        terminal.wait_for("5  Review a report")
        terminal.press("ctrl+q")
        assert terminal.wait_end() == 0
    finally:
        if not terminal.ended:
            terminal.kill()


@pytest.mark.parametrize("form", [[], ["--json"], ["--csv"]])
def test_piped_it_stays_text(tmp_path: Path, form: list[str]) -> None:
    path = tmp_path / NAME
    path.write_bytes(small.troubled())
    run = subprocess.run(
        [sys.executable, "-m", "commission", "review", str(path), *form],
        capture_output=True, text=True, check=False, env={**os.environ, **user_env(tmp_path)},
    )  # fmt: skip
    assert run.returncode == 1
    assert "\x1b" not in run.stdout
    assert "PRACTICE" in run.stdout or form == ["--csv"]


def test_enter_and_another_list_typed_at_once_show_nothing_of_the_other_list() -> None:
    async def scene(walk: Walk) -> None:
        for first, then in (("6", "2"), ("3", "1"), ("6", "5")):
            await walk.press(first)
            walk.send("end", "enter", then)
            await walk.pilot.pause()
            await walk.pilot.pause()
            assert walk.app.failure is None
            if walk.app.screen is not walk.app.screen_stack[0]:
                await walk.press("escape")

    play_in(ReviewApp(in_full(small.sound(), KnownSigners())), scene)
