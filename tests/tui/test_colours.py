"""What is on the screen can be read: in the sun, at night, in 16 colours, and in none.

Every scene of the other tests is looked at in both themes as well, see `tests/tui/walking.py`.
"""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.tui.cells import check_readable, contrast, runs
from tests.tui.walking import LARGE, Walk, play
from tests.walks import answer, begin, first, walk_until

BLACK, WHITE = (0, 0, 0), (255, 255, 255)


# WCAG 2.2, definition of contrast ratio: 21 at most. By hand of the same formula: grey 118 has
# L = ((118/255 + 0.055)/1.055)^2.4 = 0.1812, so 1.05/0.2312 = 4.54 on white.
@pytest.mark.parametrize(
    ("one", "other", "ratio"),
    [(BLACK, WHITE, 21.0), (WHITE, WHITE, 1.0), ((118, 118, 118), WHITE, 4.54)],
)
def test_contrast_is_that_of_the_standard(
    one: tuple[int, int, int], other: tuple[int, int, int], ratio: float
) -> None:
    assert contrast(one, other) == pytest.approx(ratio, abs=0.005)
    assert contrast(other, one) == contrast(one, other)


def test_ink_near_its_ground_is_found(tmp_path: Path) -> None:
    async def scene(walk: Walk) -> None:
        walk.walk.say("hardly to be read", "#777777")
        await walk.shows("hardly to be read")
        with pytest.raises(AssertionError, match="hardly to be read"):
            check_readable(walk.app)
        walk.walk.say("")

    play(begin(tmp_path, "small-garden"), scene, LARGE)


@pytest.mark.parametrize("theme", ["sun", "night"])
def test_without_colour_every_verdict_is_a_word_and_a_mark(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, theme: str
) -> None:
    monkeypatch.setenv("NO_COLOR", "1")
    session = begin(tmp_path, "small-garden")
    earth = first(session, lambda step: step.item.id == "earth-resistance")
    loop = first(session, lambda step: step.item.compare == "loop-resistance")
    walk_until(session, earth)
    answer(session, earth, "9.98")
    walk_until(session, loop)
    answer(session, loop, "11.6")
    passed = next(one.step for one in session.job.statuses.values() if one.verdict == "pass")

    async def scene(walk: Walk) -> None:
        walk.app.theme = theme
        for step, mark, verdict in (
            (earth, "?", "marginal"), (loop, "x", "fail"), (passed, "+", "pass"),
        ):  # fmt: skip
            await walk.go(step)
            await walk.shows(f"{mark} {verdict}")  # on the card
            await walk.shows(f">{mark} {step.title}"[:36])  # in the list
        for run in runs(walk.app):
            for colour in (run.ink, run.ground):
                assert colour.triplet is not None
                assert len(set(colour.triplet)) == 1, f"{run.text!r} has the colour {colour.name}"

    play(session, scene, LARGE)
