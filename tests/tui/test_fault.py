"""Find the fault in the walk: by keys, and as golden screens."""

from __future__ import annotations

from pathlib import Path

import pytest

from commission.checklist.plan import Step
from commission.session import Session
from commission.tui.widgets.pick_input import PickInput
from tests.search.faulty import dead, loops, walked
from tests.tui.golden import Golden
from tests.tui.walking import LARGE, SMALL, Walk, play
from tests.walks import first

FAULT = "Find the fault: where, and which test next"
sizes = pytest.mark.parametrize("size", [SMALL, LARGE], ids=["80x24", "120x40"])


async def search(walk: Walk) -> None:
    """Open the search from the menu of the step at hand."""
    await walk.press("escape")
    await walk.shows(FAULT)
    line = next(row for row in walk.text.splitlines() if FAULT in row)
    await walk.press(line.split(FAULT)[0].split()[-1], "enter")
    await walk.shows("Read all: places")


def with_a_joint(folder: Path) -> Session:
    """3 ohm too much on the way to B4, the supply still off."""
    return walked(folder, loops("B4", ohm=3.0), until="people-clear")


@sizes
def test_where_it_may_be_and_the_next_test(
    tmp_path: Path, golden: Golden, size: tuple[int, int]
) -> None:
    async def scene(walk: Walk) -> None:
        await search(walk)
        await walk.shows("Next test: Bridge the conductors of path A in box B3")
        golden.check(walk.app, "find-the-fault")

    play(with_a_joint(tmp_path), scene, size)


@sizes
def test_all_of_it_to_read(tmp_path: Path, golden: Golden, size: tuple[int, int]) -> None:
    async def scene(walk: Walk) -> None:
        await search(walk)
        await walk.press("2", "enter")
        await walk.shows("What may be wrong")
        golden.check(walk.app, "find-the-fault-all")
        await walk.press("escape")
        await walk.shows("Enter this test's result")

    play(with_a_joint(tmp_path), scene, size)


@sizes
def test_the_next_test_is_a_step_like_any_other(
    tmp_path: Path, golden: Golden, size: tuple[int, int]
) -> None:
    """By keys: take it up, bridge on, reading, bridge off; then the place is sure."""

    async def scene(walk: Walk) -> None:
        await search(walk)
        await walk.press("1", "enter")
        await walk.shows("Bridge on")
        golden.check(walk.app, "a-test-of-the-search")
        await walk.press("1", "enter")
        await walk.shows("Loop, bridged here")
        await walk.press("4.74", "enter")
        await walk.shows("Bridge removed")
        await walk.shows("Ctrl+F: what that tells")
        await search(walk)
        await walk.shows("between B2 and B3 (more than 99 in 100): a joint of about 3 ohm")
        assert ("answer", "4.74") in walk.kept()

    play(with_a_joint(tmp_path), scene, size)


def test_from_a_failed_step(tmp_path: Path) -> None:
    """A valve that stays shut: one key leads to the search, from its menu and from the step."""

    def valve(step: Step) -> bool:
        return step.id == "station/S3/valve"

    session = walked(tmp_path, {}, until="")
    step = first(session, valve)
    for step_id, change in dead("S3").items():
        if step_id != step.id:
            other = session.job.plan.by_id[step_id]
            session.answer(other, change(session, other), confirmed=True)

    async def scene(walk: Walk) -> None:
        walk.walk.show_step(step.id)
        await walk.press("3", "enter")
        await walk.shows(FAULT)
        await walk.press("ctrl+f")
        await walk.shows("station 3 at B3 (more than 99 in 100)")
        await walk.press("escape", "ctrl+f")
        await walk.shows("station 3 at B3 (more than 99 in 100)")
        await walk.choose("Raise a defect")
        await walk.shows("What is wrong")
        lines = {one.id: one.value for one in walk.app.screen.query(PickInput)}
        assert lines["line-where"] == "station 3 at B3"
        assert lines["line-text"].startswith("station 3 at B3 (more than 99 in 100): ")

    play(session, scene, SMALL)
