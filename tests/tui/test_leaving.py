"""Leaving by Ctrl+Q: a form that is half filled in is asked about, one as it was offered is not."""

from __future__ import annotations

from pathlib import Path

import pytest

from commission.authoring.draft import Kinds
from commission.editing.edition import Edition
from commission.host import Disk
from commission.resources import samples
from commission.tui.edit_app import EditApp
from commission.tui.new_answers import Evenly
from commission.tui.new_app import NewApp
from commission.tui.screens.form import FormScreen
from commission.tui.widgets.pick_input import PickInput
from tests.tui.golden import Golden
from tests.tui.test_walk_behaviour import at, loop
from tests.tui.walking import LARGE, SMALL, Walk, play, play_in
from tests.walks import clock

ASKED = "A form is filled in, and not kept yet"
sizes = pytest.mark.parametrize("size", [SMALL, LARGE], ids=["80x24", "120x40"])


async def ended(walk: Walk) -> None:
    """Wait until the program ends."""
    await walk.soon(lambda: not walk.app.is_running, "the end")


@sizes
def test_a_half_filled_form_is_asked_about(
    tmp_path: Path, golden: Golden, size: tuple[int, int]
) -> None:
    async def scene(walk: Walk) -> None:
        await walk.menu("Raise a defect")
        await walk.shows("Up before")
        await walk.press("a cut in the sheath", "ctrl+q")
        await walk.shows(ASKED)
        golden.check(walk.app, "leaving-a-form")
        await walk.press("ctrl+q", "escape")  # a key too many loses nothing
        await walk.until(lambda: isinstance(walk.app.screen, FormScreen), "the form")
        assert walk.app.screen.query(PickInput).first().value == "a cut in the sheath"
        await walk.press("ctrl+q")
        await walk.shows(ASKED)
        walk.send("2", "enter")
        await ended(walk)

    play(at(tmp_path, loop), scene, size)


def test_a_form_as_it_was_offered_is_not(tmp_path: Path) -> None:
    async def scene(walk: Walk) -> None:
        await walk.menu("Raise a defect")
        await walk.shows("Up before")
        await walk.press("enter", "shift+tab")  # to a line with choices and back
        walk.send("ctrl+q")
        await ended(walk)

    play(at(tmp_path, loop), scene)


@pytest.fixture
def garden(tmp_path: Path) -> Path:
    path = tmp_path / "garden.toml"
    path.write_bytes(samples()["small-garden"].read_bytes())
    return path


async def length_form(walk: Walk, typed: str) -> None:
    await walk.press("home", "down", "enter")
    await walk.shows("Change at B1")
    await walk.press("1", "enter")
    await walk.shows("Length, with its unit")
    await walk.press("enter", *(["backspace"] * 6), typed)


def test_while_a_site_is_edited_the_form_comes_first_then_the_file(garden: Path) -> None:
    edition = Edition(garden, Disk(), clock())

    async def scene(walk: Walk) -> None:
        await walk.shows("no value changed")
        await length_form(walk, "91 ft")
        await walk.press("ctrl+q")
        await walk.shows(ASKED)
        await walk.press("1", "enter")
        await walk.until(lambda: isinstance(walk.app.screen, FormScreen), "the form")
        await walk.finish(length="92 ft")
        await walk.shows("1 change not written yet")
        await length_form(walk, "93 ft")
        await walk.press("ctrl+q")
        await walk.shows(ASKED)
        await walk.press("2", "enter")
        await walk.shows("1 change not in garden.toml yet")
        await walk.choose("Back to the drawing")
        await walk.until(lambda: isinstance(walk.app.screen, FormScreen), "the form")
        assert walk.app.screen.query_one("#line-length", PickInput).value == "93 ft"
        await walk.press("ctrl+q")
        await walk.press("2", "enter")
        await walk.shows("1 change not in garden.toml yet")
        await walk.choose("Leave; keep them")

    play_in(EditApp(edition), scene)
    edition.close()


def test_answers_of_an_earlier_form_of_a_new_site_are_asked_about(tmp_path: Path) -> None:
    path = tmp_path / "new.toml"

    async def scene(walk: Walk) -> None:
        await walk.shows("Name of the site")
        await walk.finish(name="Corner garden", boxes="6", spacing="150 ft")
        await walk.shows("Rated volts of the two-wire output")
        await walk.press("ctrl+q")
        await walk.shows(ASKED)
        await walk.press("2", "enter")
        await ended(walk)

    play_in(NewApp(path, Evenly(Kinds()), Disk()), scene)
    assert not path.exists()
