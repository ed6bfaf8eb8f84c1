"""The ground differs from the drawing: kind, form and second look, by keys alone."""

from __future__ import annotations

from pathlib import Path

import pytest

from commission.session import Session
from commission.tui.screens.form import FormScreen
from tests import walks
from tests.tui.golden import Golden
from tests.tui.walking import LARGE, SMALL, Walk, play

LOOP = "path/A/end/B6/loop-resistance"
sizes = pytest.mark.parametrize("size", [SMALL, LARGE], ids=["80x24", "120x40"])


def measured(folder: Path) -> Session:
    """A job in which the loop of one end is measured."""
    session = walks.begin(folder, "small-garden")
    loop = session.job.plan.by_id[LOOP]
    walks.walk_until(session, loop)
    walks.answer(session, loop, walks.good_answer(session, loop))
    return session


async def at_the_loop(walk: Walk) -> None:
    await walk.go(walk.session.job.plan.by_id[LOOP])
    await walk.menu("The ground differs")
    await walk.shows("Another length of cable")


async def another_length(walk: Walk) -> None:
    """From the menu to the kept change: keys alone."""
    await at_the_loop(walk)
    await walk.press("1", "enter")
    await walk.shows("The cable that leads to box")
    await walk.press("enter", "140 ft", "enter", "1", "enter", "trench measured", "enter", "enter")
    await walk.until(lambda: walk.app.screen is walk.walk, "the walk")
    await walk.shows("Second look")


@sizes
def test_the_kinds_of_change(tmp_path: Path, golden: Golden, size: tuple[int, int]) -> None:
    async def scene(walk: Walk) -> None:
        await at_the_loop(walk)
        golden.check(walk.app, "change-kinds")

    play(measured(tmp_path), scene, size)


@sizes
def test_a_box_in_the_middle(tmp_path: Path, golden: Golden, size: tuple[int, int]) -> None:
    async def scene(walk: Walk) -> None:
        await at_the_loop(walk)
        await walk.press("3", "enter")
        await walk.shows("In the cable that leads to box")
        golden.check(walk.app, "change-add-box")

    play(measured(tmp_path), scene, size)


@sizes
def test_a_second_look(tmp_path: Path, golden: Golden, size: tuple[int, int]) -> None:
    async def scene(walk: Walk) -> None:
        await another_length(walk)
        golden.check(walk.app, "change-second-look")

    session = measured(tmp_path)
    play(session, scene, size)
    entry = session.job.state.entries[-1]
    assert (entry.before, entry.after) == ("75 ft", "140 ft by tape")
    assert session.job.statuses[LOOP].second_look


def test_what_asks_for_a_second_look_is_open_in_the_overview(tmp_path: Path) -> None:
    async def scene(walk: Walk) -> None:
        due = [one for one in walk.session.job.statuses.values() if one.state == "open"]
        await another_length(walk)
        looks = [one for one in walk.session.job.statuses.values() if one.second_look]
        assert looks
        await walk.menu("What is done, failed, open")
        await walk.shows(f"open {len(due) + len(looks)}")

    play(measured(tmp_path), scene)


def test_what_is_wrong_is_said_in_the_form(tmp_path: Path) -> None:
    session = measured(tmp_path)
    count = len(session.job.state.entries)

    async def scene(walk: Walk) -> None:
        await at_the_loop(walk)
        await walk.press("1", "enter")
        await walk.finish(box="B9", length="140 ft", reason="seen")
        await walk.shows("'B9' is none of those offered")
        await walk.finish(box="B6", length="140")
        await walk.shows("a unit is missing")
        await walk.back()

    play(session, scene)
    assert len(session.job.state.entries) == count


@pytest.mark.parametrize(
    ("words", "lines", "after"),
    [
        ("another size", {"box": "B6", "cable": "16 AWG"}, "16 AWG"),
        (
            "A box in the middle",
            {"before": "B6", "id": "B7", "first": "30 ft", "second": "45 ft"},
            "box B7 after 30 ft, 45 ft on",
        ),
        ("A station that is not drawn", {"box": "B6"}, "S7, address 107, box B6"),
        (
            "Another address, decoder",
            {"station": "6", "address": "206", "waters": "Plums"},
            "address 206, waters Plums",
        ),
        (
            "Another label or place",
            {"box": "B3", "location": "By the pond"},
            "location By the pond",
        ),
        ("Two stations", {"station": "6", "other": "5"}, "105 and 106"),
        ("Another label of a path", {"label": "All of it"}, "All of it"),
        ("A station in another box", {"station": "6", "box": "B5"}, "path A, box B5"),
        ("Another label or place", {"label": "Old orchard"}, "label Old orchard"),
        ("A station that is not there", {"station": "6"}, "not there"),
    ],
)
def test_every_kind_is_kept(tmp_path: Path, words: str, lines: dict[str, str], after: str) -> None:
    session = measured(tmp_path)

    async def scene(walk: Walk) -> None:
        await at_the_loop(walk)
        await walk.choose(words)
        await walk.until(lambda: isinstance(walk.app.screen, FormScreen), "the form")
        await walk.finish(**lines, reason="seen on site")
        await walk.until(lambda: walk.app.screen is walk.walk, "the walk")

    play(session, scene)
    assert session.job.state.entries[-1].after.startswith(after[:12])
    assert session.job.state.entries[-1].after.endswith(after[-8:])
    assert session.job.redrawn_by
