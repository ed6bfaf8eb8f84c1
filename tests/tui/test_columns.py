"""The picture of sixty boxes: all at once where there is room for it, else to scroll and fold."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.tui.golden import Golden
from tests.tui.walking import LARGE, SMALL, Walk, play
from tests.walks import begin

BOXES = [f"B{n}" for n in range(1, 61)]


def boxes_shown(walk: Walk) -> list[str]:
    """The boxes on the screen, column by column."""
    words = [line.split() for line in walk.text.splitlines()]
    return sorted({word for line in words for word in line if word in BOXES}, key=BOXES.index)


def cursor_at(walk: Walk, box: str) -> bool:
    """Whether the cursor stands at a box: its mark comes before the box, and no other between."""
    line = next(one for one in walk.text.splitlines() if f"· {box} " in one)
    return ">" in line.partition(f"· {box} ")[0].rpartition("· ")[2]


def test_sixty_boxes_are_seen_at_once(tmp_path: Path, golden: Golden) -> None:
    async def scene(walk: Walk) -> None:
        await walk.menu("The paths as a picture")
        await walk.until(lambda: boxes_shown(walk) == BOXES, "sixty boxes")
        golden.check(walk.app, "picture-of-sixty-boxes")
        await walk.press("end")
        assert cursor_at(walk, "B52")
        await walk.press("home", *["down"] * 29)  # to the foot of the first column ...
        assert cursor_at(walk, "B11")
        await walk.press("down")  # ... and the head of the second
        assert cursor_at(walk, "B12")
        await walk.press("enter")
        await walk.until(lambda: walk.walk.status.step.target.box == "B12", "box B12")

    play(begin(tmp_path, "sixty-boxes"), scene, LARGE)


def test_where_they_do_not_fit_they_scroll_and_fold(tmp_path: Path, golden: Golden) -> None:
    async def scene(walk: Walk) -> None:
        await walk.menu("The paths as a picture")
        await walk.shows("B30")
        assert len(boxes_shown(walk)) < 20
        await walk.press(*["down"] * 9, "left")
        await walk.shows("... 17 boxes")
        golden.check(walk.app, "picture-of-sixty-boxes")
        await walk.press("end")
        await walk.until(lambda: cursor_at(walk, "B52"), "the last box")
        await walk.pilot.resize_terminal(*LARGE)
        await walk.until(lambda: len(boxes_shown(walk)) == 60 - 17, "all that is not folded")
        await walk.press("escape")

    play(begin(tmp_path, "sixty-boxes"), scene, SMALL)


@pytest.mark.parametrize(("x", "box"), [(5, "B3"), (70, "B12"), (110, "B52")])
def test_a_click_goes_to_the_box_that_is_drawn_there(tmp_path: Path, x: int, box: str) -> None:
    async def scene(walk: Walk) -> None:
        await walk.menu("The paths as a picture")
        await walk.until(lambda: boxes_shown(walk) == BOXES, "sixty boxes")
        line = next(n for n, one in enumerate(walk.text.splitlines()) if f"· {box} " in one)
        await walk.pilot.click(offset=(x, line))
        await walk.until(lambda: cursor_at(walk, box), box)
        await walk.press("escape")

    play(begin(tmp_path, "sixty-boxes"), scene, LARGE)
