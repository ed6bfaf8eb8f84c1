"""The reports of a folder on a full screen: what its review says of each; Enter looks into one."""

from __future__ import annotations

import sys
from dataclasses import replace
from functools import partial
from pathlib import Path

import pytest

from commission.commands.review_shown import remarks
from commission.problems import InputRefused
from commission.report.review import InFull, review, review_in_full
from commission.tui.review_app import ReviewsApp
from commission.tui.screens.reviews import Listed
from tests.jobs import user_env
from tests.report import small
from tests.report.sealing import countersigned, resealed
from tests.report.test_inspection import BOTH
from tests.terminal import Terminal
from tests.tui.golden import Golden
from tests.tui.walking import LARGE, SMALL, Walk, play_in

FORGED = resealed(small.sound().replace(b'verdict = "pass"', b'verdict = "fail"', 1))
REPORTS = {
    "corner/report.toml": countersigned(small.sound()),
    "garden/report.toml": small.troubled(),
    "sent/forged.toml": FORGED,
    "sent/nothing.toml": b"no report",
}


def listed(reports: dict[str, bytes]) -> list[Listed]:
    return [
        Listed(
            name, partial(review, content, name, BOTH), partial(review_in_full, content, name, BOTH)
        )
        for name, content in reports.items()
    ]


def app(reports: dict[str, bytes]) -> ReviewsApp:
    return ReviewsApp("handed in", listed(reports), remarks)


@pytest.mark.parametrize("size", [SMALL, LARGE], ids=["80x24", "120x40"])
def test_a_folder_of_reports(golden: Golden, size: tuple[int, int]) -> None:
    async def scene(walk: Walk) -> None:
        await walk.shows("4 of 4 reviewed; 3 with findings")
        golden.check(walk.app, "reviews-of-a-folder")

    play_in(app(REPORTS), scene, size)


def test_that_one_is_practice_stands_before_its_standing() -> None:
    async def scene(walk: Walk) -> None:
        await walk.shows("1 of 1 reviewed")
        assert walk.text.index("PRACTICE: no report of a real site") < walk.text.index("sound")

    play_in(app({"garden.toml": small.troubled()}), scene)


def test_enter_looks_into_one_and_escape_comes_back_and_leaves() -> None:
    async def scene(walk: Walk) -> None:
        await walk.shows("4 of 4 reviewed")
        await walk.press("down", "enter")
        await walk.shows("Review of garden/report.toml")
        await walk.press("3", "enter")
        await walk.shows("Enter Esc back")
        await walk.press("escape")
        await walk.shows("[3 steps")
        await walk.press("escape")
        await walk.shows("4 of 4 reviewed")
        await walk.press("down", "enter")
        await walk.shows("not to be trusted: altered")
        await walk.press("escape", "escape")

    shown = app(REPORTS)
    play_in(shown, scene)
    assert shown.return_code == 0


def test_what_follows_another_is_said_once_all_are_known() -> None:
    """A report that names the digest of another one as the one that it follows."""
    early, late_alone = listed({"early.toml": small.sound(), "late.toml": small.troubled()})
    digest = early.reviewed().sha256
    late = replace(late_alone, reviewed=lambda: replace(late_alone.reviewed(), follows=digest))

    async def scene(walk: Walk) -> None:
        await walk.shows("superseded by late.toml")
        await walk.shows("supersedes early.toml")

    play_in(ReviewsApp("handed in", [early, late], remarks), scene, LARGE)


def test_what_cannot_be_read_says_why_in_its_line() -> None:
    def refused() -> InFull:
        raise InputRefused("gone.toml can't be read: it is gone [b]x[/]")

    rows = [Listed("gone.toml", lambda: refused().review, refused), *listed(REPORTS)]

    async def scene(walk: Walk) -> None:
        await walk.shows("gone.toml can't be read: it is gone [b]x[/]")
        await walk.press("enter", "end")
        await walk.shows("5 of 5 reviewed")

    play_in(ReviewsApp("handed in", rows, remarks), scene)


def test_hostile_names_and_words_stay_words() -> None:
    hostile = "[@click=app.bell]x[/] a[/]b"
    content = resealed(small.troubled().replace(b"Example corner", hostile.encode()))

    async def scene(walk: Walk) -> None:
        await walk.shows("1 of 1 reviewed")
        assert walk.text.count(hostile) == 2

    play_in(app({f"{hostile}.toml": content}), scene, LARGE)


def test_from_the_start_screen_and_back_to_it(tmp_path: Path) -> None:
    for name, content in REPORTS.items():
        path = tmp_path / "handed in" / name
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_bytes(content)
    (tmp_path / "empty").mkdir()
    command = [sys.executable, "-m", "commission"]
    terminal = Terminal(command, env=user_env(tmp_path), cwd=tmp_path)
    try:
        terminal.wait_for("5  Review a report")
        terminal.press("5", "enter")
        terminal.wait_for("Report, or a folder of reports")
        terminal.press("handed in", "enter", "enter")
        terminal.wait_for("reviewed;")
        terminal.press("enter")
        terminal.wait_for("Review of corner/report.toml")
        terminal.press("esc")
        terminal.wait_for("Reports of")
        terminal.press("esc")
        terminal.wait_for("5  Review a report")
        terminal.press("5", "enter")
        terminal.wait_for("Report, or a folder of reports")
        terminal.press("empty", "enter", "enter")
        terminal.wait_for("holds")  # wrapped somewhere where the folder has a long name
        terminal.press("ctrl+q")
        assert terminal.wait_end() == 0
    finally:
        if not terminal.ended:
            terminal.kill()
