"""A practice in the walk: the meter shows, the reading is typed, the truth is told at the end."""

from __future__ import annotations

import re
from pathlib import Path

import pytest
from textual.widgets import OptionList

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
        await walk.shows(f"What is done at: {where}")
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


def told_on(walk: Walk) -> str:
    """What the simulated meter or the helper tells on the screen; "" where nothing is told."""
    words = re.findall(r"The meter shows (.*\S)|The helper reads back: (yes|no|.*\S)", walk.text)
    return (words[-1][0] or words[-1][1]).split("   ")[0].strip() if words else ""


@sizes
def test_a_whole_practice_by_keys(tmp_path: Path, golden: Golden, size: tuple[int, int]) -> None:
    """Type what is told until something fails, find it, put it right, test again, see the truth."""
    session = begun(tmp_path, A_SOLENOID)
    ground = session.ground
    assert ground is not None
    (hidden,), words = ground.truth.faults, Words(session.job.site)
    where = words.place(hidden.place)

    async def type_what_is_told(walk: Walk) -> None:
        entries = len(walk.kept())
        step = walk.walk.status.step
        await walk.press(told_on(walk) or good_answer(session, step), "enter")
        if len(walk.kept()) == entries:  # far off: asked back
            await walk.press("enter")
        await walk.until(lambda: len(walk.kept()) > entries, f"an entry for {step.id}")

    async def scene(walk: Walk) -> None:
        while walk.app.screen is walk.walk:
            await type_what_is_told(walk)
        await walk.shows("PRACTICE | FAIL")
        golden.check(walk.app, "practice-a-fail")
        failed = walk.walk.status.step
        await walk.press("ctrl+f")
        await walk.shows(f"{where} (94 in 100)")
        golden.check(walk.app, "practice-find-the-fault")
        await walk.press("1", "enter")
        await walk.shows("Path current, station")
        await type_what_is_told(walk)
        await walk.shows("Ctrl+F: what that tells")
        await walk.press("ctrl+f")
        await walk.shows(f"{where} (more than 99 in 100): {words.fault(hidden)}")
        golden.check(walk.app, "practice-found")
        await walk.shows("Put something right, then test again")
        await walk.press("escape")
        while walk.walk.status.step.id != failed.id:
            await walk.press("pageup")
        await walk.press("ctrl+f")
        await walk.choose("Put something right")
        await walk.choose(where)
        await walk.choose("the solenoid replaced")
        await walk.until(lambda: bool(session.job.open_defects))
        assert walk.walk.status.step.id == failed.id
        await type_what_is_told(walk)
        assert session.job.statuses[failed.id].verdict == "pass"
        await walk.menu("Show the truth")
        await walk.shows(f"{where}: ")
        await walk.shows("(put right)")
        golden.check(walk.app, "practice-put-right-the-truth")

    play(session, scene, size)


def test_every_screen_says_practice(tmp_path: Path) -> None:
    """The screens over the walk cover its first line, and say it themselves."""
    session = begun(tmp_path, A_SOLENOID)

    async def scene(walk: Walk) -> None:
        await walk.press("escape")
        menu = walk.app.screen.query_one(OptionList)
        lines = [str(option.prompt)[3:] for option in menu.options]
        await walk.press("escape")
        for line in lines:
            await walk.menu(line)
            await walk.shows("PRACTICE | ")
            await walk.home()
            walk.walk.entry.value = ""

    play(session, scene, SMALL)


def test_the_meter_says_nothing_before_its_turn(tmp_path: Path) -> None:
    """A voltage while the supply is recorded off: why it has to wait, and no reading."""
    session = begun(tmp_path, A_SOLENOID)
    live = first(session, lambda step: step.item.compare == "output-voltage")

    async def scene(walk: Walk) -> None:
        await walk.go(live)
        await walk.shows("Not yet: ")
        assert "The meter shows" not in walk.text

    play(session, scene, SMALL)
