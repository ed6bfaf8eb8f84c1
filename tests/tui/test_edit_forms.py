"""Every form of a change of a site file, as it first stands."""

from __future__ import annotations

from pathlib import Path

import pytest

from commission.tui.screens.edit import OFFERED, WORDS
from commission.tui.widgets.pick_input import PickInput
from tests.tui.golden import Golden
from tests.tui.test_edit import at, edit, garden, sizes
from tests.tui.walking import Walk

PLACES = {"box": "b4", "station": "4", "path": ""}  # the path stands first
FORMS = {key: PLACES[kind] for kind, keys in OFFERED.items() for key in keys}

__all__ = ["garden"]  # a fixture


@sizes
@pytest.mark.parametrize("key", sorted(WORDS.keys() - {"no-box"}))  # that one is seen elsewhere
def test_it_is_filled_in_from_the_drawing(
    garden: Path, golden: Golden, size: tuple[int, int], key: str
) -> None:
    async def scene(walk: Walk) -> None:
        await walk.shows("no value changed")
        if FORMS[key]:
            await at(walk, FORMS[key], WORDS[key])
        else:
            await walk.press("home", "enter")
            await walk.choose(WORDS[key])
            await walk.shows(WORDS[key])
        golden.check(walk.app, f"edit-form-{key}")

    edit(garden, scene, size)


def test_every_form_is_offered_somewhere() -> None:
    assert FORMS.keys() == WORDS.keys()


def test_what_is_drawn_can_be_emptied(garden: Path) -> None:
    """A label that goes is not filled in again when the line is left."""

    async def scene(walk: Walk) -> None:
        await walk.shows("no value changed")
        await at(walk, "b4", WORDS["words"])
        await walk.shows("Hedge box")
        await walk.press("enter", "backspace", "enter")
        assert walk.app.screen.query_one("#line-label", PickInput).value == ""
        await walk.press("enter", "enter")
        await walk.shows("box B4: label Hedge box -> label not told")

    edit(garden, scene)
