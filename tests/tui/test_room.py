"""A terminal that is too small is told so kindly, over every screen."""

from __future__ import annotations

import asyncio
from pathlib import Path

import pytest
from textual import messages
from textual.message import Message
from textual.widgets import OptionList

from commission.host import Disk
from commission.opening import open_job
from commission.resources import samples
from commission.tui.app import CommissionApp
from commission.tui.base import LEAST
from commission.tui.start_app import StartApp
from tests.practice.playing import begun
from tests.tui.golden import Golden
from tests.tui.walking import Walk, play, play_in
from tests.walks import begin, clock

SAMPLE, TINY = "small-garden", (40, 12)


def test_the_start_asks_for_room(golden: Golden) -> None:
    async def scene(walk: Walk) -> None:
        await walk.shows("at least 60")
        golden.check(walk.app, "room")

    play_in(StartApp(), scene, TINY)


def test_a_practice_asks_for_room_as_a_practice(tmp_path: Path) -> None:
    async def scene(walk: Walk) -> None:
        await walk.shows("PRACTICE | More room, please")

    play(begun(tmp_path, 1), scene, TINY)


def test_a_dialogue_asks_for_room_and_keeps_what_was_typed(tmp_path: Path) -> None:
    async def scene(walk: Walk) -> None:
        await walk.menu("Add a note")
        await walk.fill(text="leads nulled")
        await walk.pilot.resize_terminal(*TINY)
        await walk.shows("at least 60")
        await walk.press("9", "escape", "enter")
        await walk.pilot.resize_terminal(80, 24)
        await walk.shows("leads nulled")
        await walk.finish()
        await walk.until(lambda: ("note", "leads nulled") in walk.kept(), "the note")

    play(begin(tmp_path, SAMPLE), scene)


def test_people_are_asked_once_there_is_room(tmp_path: Path) -> None:
    """The form came up under, or over, the words that ask for room: both are gone in the end."""
    site = tmp_path / f"{SAMPLE}.toml"
    site.write_bytes(samples()[SAMPLE].read_bytes())
    session = open_job(site, disk=Disk(), now=clock())

    async def scene(walk: Walk) -> None:
        await walk.shows("at least 60")
        await walk.pilot.resize_terminal(80, 24)
        await walk.shows("Who enters the readings here")
        await walk.finish(entered_by="Sam Sample")
        await walk.shows("step 1 of")
        assert len(walk.app.screen_stack) == 1

    play(session, scene, (40, 12))


def test_in_the_least_room_every_list_of_an_overview_is_named(tmp_path: Path) -> None:
    """And each stage with its bar stands on one line."""

    async def scene(walk: Walk) -> None:
        await walk.menu("What is done, failed, open")
        await walk.shows("[1 stages]")
        shown = walk.text.splitlines()
        head = " ".join(" ".join(shown[:8]).split())
        for view in ("2 open", "3 failed", "4 marginal", "5 defects", "6 against"):
            assert view in head
        assert any(line.rstrip().endswith("0 of 13") for line in shown)
        await walk.press("escape")

    play(begin(tmp_path, SAMPLE), scene, LEAST)


@pytest.mark.parametrize("size", [(1, 1), (3, 3), (5, 2), (9, 3)])
def test_a_window_of_a_few_cells_is_not_drawn_for_ever(
    tmp_path: Path, size: tuple[int, int]
) -> None:
    """A scroll bar came and went there without end, which empties a battery."""
    laid_out: list[messages.Layout] = []

    def hook(message: Message) -> None:
        if isinstance(message, messages.Layout):
            laid_out.append(message)

    async def scene() -> None:
        app = CommissionApp(session)
        async with app.run_test(message_hook=hook) as pilot:
            walk = Walk(app, pilot)
            await walk.press("escape")
            menu = app.screen.query_one("#dialogue-menu", OptionList)
            lines = [str(option.prompt) for option in menu.options]
            await walk.press("escape")
            for words in lines:
                await walk.menu(words)
                await pilot.resize_terminal(*size)
                await asyncio.sleep(0.1)
                laid_out.clear()
                await asyncio.sleep(0.1)
                assert len(laid_out) < 3, f"{words}: drawn {len(laid_out)} times in 0.1 s"
                await pilot.resize_terminal(80, 24)
                await walk.home()

    session = begin(tmp_path, SAMPLE)
    try:
        asyncio.run(scene())
    finally:
        session.close()
