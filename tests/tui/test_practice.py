"""A practice in the walk: the meter shows, the reading is typed, the truth is told at the end."""

from __future__ import annotations

from pathlib import Path

import pytest

from commission.locate.words import Words
from tests.practice.playing import begun, search, walk_through
from tests.tui.golden import Golden
from tests.tui.walking import LARGE, SMALL, Walk, play
from tests.walks import answer, first, first_open, good_answer

A_SOLENOID, A_JOINT = 5, 3  # what these numbers hide
sizes = pytest.mark.parametrize("size", [SMALL, LARGE], ids=["80x24", "120x40"])


@sizes
def test_the_meter_shows_and_it_is_typed(
    tmp_path: Path, golden: Golden, size: tuple[int, int]
) -> None:
    session = begun(tmp_path, A_SOLENOID)
    loop = first(session, lambda step: step.item.compare == "loop-resistance")
    while (step := first_open(session)) is not None and step is not loop:
        answer(session, step, good_answer(session, step))

    async def scene(walk: Walk) -> None:
        await walk.shows("The meter shows")
        golden.check(walk.app, "practice-the-meter-shows")
        ground = session.ground
        assert ground is not None
        shown = ground.tells(session.job, loop)
        await walk.press(shown, "enter")
        await walk.until(lambda: ("answer", shown) in walk.kept())

    play(session, scene, size)


@sizes
def test_putting_it_right_by_keys_and_the_retest_that_passes(
    tmp_path: Path, golden: Golden, size: tuple[int, int]
) -> None:
    session = begun(tmp_path, A_SOLENOID)
    walk_through(session)
    search(session)
    step = next(s.step for s in session.job.statuses.values() if s.verdict == "fail")
    ground = session.ground
    assert ground is not None
    where = Words(session.job.site).place(ground.truth.faults[0].place)

    async def scene(walk: Walk) -> None:
        await walk.go(step)
        await walk.menu("Put something right")
        await walk.shows("Kept as a defect of this step")
        golden.check(walk.app, "practice-put-right")
        await walk.choose("somewhere else")
        await walk.shows("between B1 and B2")
        await walk.choose(where)
        await walk.shows(f"Put right {where}: what?")
        await walk.choose("the solenoid replaced")
        await walk.until(lambda: bool(session.job.open_defects))
        told = ground.tells(session.job, step)
        await walk.press(told, "enter")
        await walk.until(lambda: session.job.statuses[step.id].verdict == "pass")
        assert not session.job.open_defects

    play(session, scene, size)


@sizes
def test_the_truth_beside_what_was_concluded(
    tmp_path: Path, golden: Golden, size: tuple[int, int]
) -> None:
    session = begun(tmp_path, A_JOINT)
    walk_through(session)
    search(session)

    async def scene(walk: Walk) -> None:
        await walk.menu("Show the truth")
        await walk.shows("What was hidden")
        await walk.shows("minutes")
        golden.check(walk.app, "practice-the-truth")

    play(session, scene, size)
