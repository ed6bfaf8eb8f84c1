"""The list of all steps: what is in sight, in windows of many sizes."""

from __future__ import annotations

from pathlib import Path

from commission.tui.widgets.step_list import StepList
from tests.tui.test_walk_behaviour import SAMPLE, at, loop
from tests.tui.walking import LARGE, Walk, play
from tests.walks import begin


def list_rows(walk: Walk) -> list[str]:
    """What stands in the list of steps, line by line."""
    height = walk.walk.query_one(StepList).size.height
    return [line[:38].rstrip() for line in walk.text.splitlines()[1 : height + 1]]


def test_the_list_begins_with_the_first_heading_and_ends_with_the_last_step(tmp_path: Path) -> None:
    session = begin(tmp_path, SAMPLE)
    steps = [status.step for status in session.job.statuses.values()]

    async def scene(walk: Walk) -> None:
        assert list_rows(walk)[0] == steps[0].stage.title
        await walk.press("ctrl+l", *["down"] * 8)
        assert list_rows(walk)[0] == steps[0].stage.title  # there is room for all so far
        await walk.press("end")
        assert list_rows(walk)[-1] == f">  {steps[-1].title}"
        await walk.press("home")
        assert list_rows(walk)[0] == steps[0].stage.title

    play(session, scene, LARGE)


def test_the_list_keeps_its_cursor_near_the_middle_in_a_window_of_any_height(
    tmp_path: Path,
) -> None:
    def is_in_the_middle(walk: Walk) -> bool:
        rows = list_rows(walk)
        cursor = [place for place, row in enumerate(rows) if row.startswith(">")]
        return len(cursor) == 1 and abs(cursor[0] - len(rows) // 2) <= 1

    async def scene(walk: Walk) -> None:
        assert is_in_the_middle(walk)
        await walk.pilot.resize_terminal(120, 20)
        await walk.until(lambda: is_in_the_middle(walk), "the cursor in the middle")

    play(at(tmp_path, loop), scene, LARGE)


def test_the_list_in_place_of_the_step_says_how_to_leave_it(tmp_path: Path) -> None:
    async def scene(walk: Walk) -> None:
        await walk.press("ctrl+l")
        await walk.shows("Enter to the step")
        await walk.press("ctrl+l")
        await walk.shows("Enter keep")

    for width in (80, 60):
        folder = tmp_path / str(width)
        folder.mkdir()
        play(at(folder, loop), scene, (width, 24))
