"""The keys at the bottom of each screen: all of them, each with a word, in the room there is."""

from __future__ import annotations

import re

import pytest
from textual.binding import Binding
from textual.screen import Screen

from commission.tui import keys
from commission.tui.keys import ALWAYS, WALK, lines
from commission.tui.screens.calculation import CalculationScreen
from commission.tui.screens.edit import EditScreen
from commission.tui.screens.form import MenuScreen, TextScreen
from commission.tui.screens.overview import OverviewScreen
from commission.tui.screens.picture import PictureScreen
from commission.tui.screens.profile import ProfileScreen
from commission.tui.screens.review import ReviewScreen
from commission.tui.screens.reviews import ReviewsScreen
from commission.tui.screens.start import StartScreen

# The line of each screen, and columns at its sides that it can't have.
SCREENS: dict[type[Screen[None]] | type[Screen[str]], tuple[str, int]] = {
    StartScreen: (keys.START_KEYS, 0),
    MenuScreen: (keys.MENU_KEYS, 5),
    TextScreen: (keys.READING_KEYS, 5),
    OverviewScreen: (keys.BOARD_KEYS, 2),
    PictureScreen: (keys.PICTURE_KEYS, 2),
    ProfileScreen: (keys.PROFILE_KEYS, 2),
    CalculationScreen: (keys.CALCULATION_KEYS, 2),
    ReviewScreen: (keys.REVIEW_KEYS, 2),
    ReviewsScreen: (keys.REVIEWS_KEYS, 2),
    EditScreen: (keys.EDIT_KEYS, 0),
}
NAMES = {"escape": "Esc", "left": "Left", "right": "Right", "enter": "Enter"}
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
def test_every_key_of_another_screen_stands_at_its_bottom(screen: type[Screen[str]]) -> None:
    line, sides = SCREENS[screen]
    assert len(line) <= 80 - sides
    assert ALWAYS in line
    for binding in screen.BINDINGS:
        assert isinstance(binding, Binding)
        for key in binding.key.split(","):
            if key.isdigit():
                first, last = re.findall(r"(\d)-(\d)", line)[0] if "-" in line else ("1", "9")
                assert int(first) <= int(key) <= int(last)
            elif key != "ctrl+f":  # only where a line of the menu says so
                assert re.search(rf"\b{NAMES[key]}\b", line), key
