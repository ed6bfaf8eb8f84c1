"""The keys at the bottom of each screen: all of them, each with a word, in the room there is."""

from __future__ import annotations

import re
from pathlib import Path
from typing import Any

import pytest
from textual.binding import Binding
from textual.screen import Screen
from textual.widgets import OptionList

from commission.tui import keys
from commission.tui.keys import ALWAYS, WALK, fitted, lines
from commission.tui.screens.calculation import CalculationScreen
from commission.tui.screens.edit import EditScreen
from commission.tui.screens.form import FormScreen, MenuScreen, TextScreen
from commission.tui.screens.overview import OverviewScreen
from commission.tui.screens.picture import PictureScreen
from commission.tui.screens.profile import ProfileScreen
from commission.tui.screens.review import ReviewScreen
from commission.tui.screens.reviews import ReviewsScreen
from commission.tui.screens.start import StartScreen
from tests.tui.walking import Walk, play
from tests.walks import begin

# What the bottom line of each screen says.
SCREENS: dict[type[Screen[Any]], tuple[str, ...]] = {
    StartScreen: (keys.START_KEYS,),
    FormScreen: (keys.FORM_KEYS, keys.CHOICE_KEYS),
    MenuScreen: (keys.MENU_KEYS, keys.LONG_MENU_KEYS),
    TextScreen: (keys.READING_KEYS,),
    OverviewScreen: (keys.BOARD_KEYS,),
    PictureScreen: (keys.PICTURE_KEYS,),
    ProfileScreen: (keys.PROFILE_KEYS,),
    CalculationScreen: (keys.CALCULATION_KEYS,),
    ReviewScreen: (keys.REVIEW_KEYS,),
    ReviewsScreen: (keys.REVIEWS_KEYS,),
    EditScreen: (keys.EDIT_KEYS,),
}
NAMES = {"escape": "Esc", "left": "Left", "right": "Right", "enter": "Enter"}
SOMETIMES = ("ctrl+f", "pageup", "pagedown")  # where a line of the menu, or a long one, says so
NAMES |= {"tab": "Tab", "shift+tab": "Tab"}


@pytest.mark.parametrize("in_list", [False, True])
@pytest.mark.parametrize("width", [60, 79, 80, 99, 120, 160])
def test_the_keys_of_the_walk_fit_and_each_is_written_out(width: int, in_list: bool) -> None:
    words = lines(width, in_list=in_list)
    shown = words.split("\n")
    assert len(shown) <= 2
    assert all(len(one) <= width for one in shown)
    for key in ("Enter", "Esc", "Ctrl", "N", "L", "Q"):
        assert re.search(rf"\b{key}\b", words)
    assert "^" not in words


@pytest.mark.parametrize("width", [60, 80, 120])
def test_under_the_large_step_one_line_says_how_to_go_back(width: int) -> None:
    words = lines(width, large=True)
    assert len(words) <= width
    assert "\n" not in words
    assert re.search(r"Ctrl: (N next open  )?O back", words)


@pytest.mark.parametrize(("width", "count"), [(80, 2), (120, 1), (160, 1)])
def test_every_key_of_the_walk_stands_at_the_bottom_with_a_word(width: int, count: int) -> None:
    words = lines(width)
    assert len(words.split("\n")) == count
    for key in WALK:
        name = key.shown if key.shown in words else key.shown.removeprefix("Ctrl+")
        said = f"{name} {key.words}" if key.words else name  # PgUp stands before PgDn
        assert re.search(rf"\b{re.escape(said)}", words), said


@pytest.mark.parametrize("screen", SCREENS)
@pytest.mark.parametrize("width", [60, 80, 120])
def test_every_key_of_another_screen_stands_at_its_bottom(
    screen: type[Screen[Any]], width: int
) -> None:
    for line in SCREENS[screen]:
        shown = fitted(line, width)
        assert all(len(one) <= width for one in shown.split("\n"))
        assert line in shown
        assert ALWAYS in shown
        for binding in screen.BINDINGS:
            assert isinstance(binding, Binding)
            for key in binding.key.split(","):
                if key.isdigit():
                    first, last = re.findall(r"(\d)-(\d)", line)[0] if "-" in line else "09"
                    assert int(first) <= int(key) <= int(last)
                elif key not in SOMETIMES:
                    assert re.search(rf"\b{NAMES[key]}\b", line), key


def test_the_keys_of_a_long_form_stay_at_the_bottom(tmp_path: Path) -> None:
    """However far it is scrolled; in a line with choices they are others."""

    def at_the_bottom(walk: Walk, words: str) -> bool:
        return walk.text.splitlines()[-1] == f" {words}  {ALWAYS}"

    async def scene(walk: Walk) -> None:
        await walk.menu("New instrument")
        await walk.until(lambda: at_the_bottom(walk, keys.FORM_KEYS), "the keys of a line")
        await walk.press(*["enter"] * 4)
        await walk.until(lambda: at_the_bottom(walk, keys.CHOICE_KEYS), "the keys of choices")
        await walk.press("pagedown", "pagedown")
        await walk.until(lambda: at_the_bottom(walk, keys.CHOICE_KEYS), "the keys below it all")
        await walk.back()

    play(begin(tmp_path, "small-garden"), scene)


def test_a_line_of_a_long_menu_is_reached_by_both_its_digits(tmp_path: Path) -> None:
    async def scene(walk: Walk) -> None:
        await walk.press("escape")
        await walk.shows("15  What is done, failed, open")
        menu = walk.app.screen.query_one(OptionList)
        # One digit, then the second; a third leads nowhere, so it counts as the first again.
        for digits, line in (("1", 1), ("5", 15), ("2", 2), ("9", 9), ("0", 9)):
            await walk.press(digits)
            assert menu.highlighted == line - 1
        await walk.press("1", "down", "3")  # the arrow ends a number
        assert menu.highlighted == 2
        await walk.press("1", "5", "enter")
        await walk.shows("Where the job stands")
        await walk.press("escape")

    play(begin(tmp_path, "small-garden"), scene)
