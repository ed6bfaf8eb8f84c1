"""The same state machine through the screens: keys, pastes, forms, menus and other sizes."""

from __future__ import annotations

import asyncio
import contextlib
import contextvars
import random
from collections.abc import Coroutine
from typing import Any, TypeVar

from hypothesis import strategies as st
from hypothesis.stateful import invariant, rule
from textual import events
from textual.geometry import Size
from textual.widgets import OptionList

from commission.tui.app import CommissionApp
from commission.tui.screens.form import FormScreen
from commission.tui.widgets.pick_input import PickInput
from tests import walks
from tests.campaign.fuzz import TEXTS, Machine, played
from tests.campaign.rows import Row
from tests.tui.golden import screen_text
from tests.tui.walking import Walk

STEPS = 60
KEYS = st.sampled_from(
    ["up", "down", "left", "right", "home", "end", "pageup", "pagedown", "tab", "shift+tab",
     "enter", "enter", "escape", "backspace", "delete", "ctrl+n", "ctrl+l", "ctrl+g", "ctrl+r",
     "ctrl+t", "ctrl+u", "ctrl+k", "ctrl+a", "ctrl+w", "f1", "1", "2", "9", "y", "space"]
)  # fmt: skip
SELDOM = 6  # one in so many openings again is done: it is the dearest of few rules
SIZES = st.sampled_from([(80, 24), (120, 40), (60, 16), (40, 10), (200, 60), (1, 1)])
T = TypeVar("T")


class ScreenMachine(Machine):
    """One job through the screens, in this process.

    No rule has a precondition: which screen stands may hang on time, and hypothesis wants to draw
    the same again where it comes the same way.
    """

    def __init__(self) -> None:
        super().__init__()
        self._loop = asyncio.new_event_loop()
        self._context = contextvars.copy_context()

    def opened(self) -> None:
        """Start the program."""
        self.app = CommissionApp(self.session)
        self._stack = contextlib.AsyncExitStack()
        size = self.rng.choice([(80, 24), (120, 40)])
        pilot = self._play(self._stack.enter_async_context(self.app.run_test(size=size)))
        self.walk = Walk(self.app, pilot)
        self._play(pilot.pause())
        self._play(self._stands())

    async def _stands(self) -> None:
        """On a machine that is busy, idle is no sign that a screen is there."""
        await self.walk.soon(lambda: self.app.screen.is_mounted, "a screen")

    async def _press(self, *keys: str) -> None:
        await self.walk.press(*keys)
        await self._stands()

    def _play(self, doing: Coroutine[Any, Any, T]) -> T:
        return self._loop.run_until_complete(self._loop.create_task(doing, context=self._context))

    def _closed(self) -> None:
        self._play(self._stack.aclose())
        if self.app.failure is not None:
            raise AssertionError("the screens failed") from self.app.failure

    @rule(keys=st.lists(KEYS, min_size=1, max_size=5))
    def press(self, keys: list[str]) -> None:
        """Press keys, wherever the cursor stands."""
        self.row.times += 1
        self._play(self._press(*keys))

    @rule(text=TEXTS)
    def paste(self, text: str) -> None:
        """Paste into whatever has the cursor, and Enter."""
        self.row.times += 1
        focused = self.app.focused
        if focused is not None:
            focused.post_message(events.Paste(text[:60]))
        self._play(self._press("enter"))

    @rule(good=st.booleans(), text=TEXTS)
    def answer(self, good: bool, text: str) -> None:
        """Go back to the walk, type an answer to the step at hand, and Enter."""
        self.row.times += 1
        self._play(self._home())
        screen = self.walk.walk
        entry = screen.entry
        if self.app.screen is screen and not entry.disabled:
            step = screen.status.step
            entry.value = walks.good_answer(self.session, step) if good else text[:60]
            entry.focus()
            self._play(self._press("enter"))

    @rule(place=st.integers(0, 16))
    def menu(self, place: int) -> None:
        """Open the menu of the step, and choose any line of it."""
        self.row.times += 1
        self._play(self._home())
        self._play(self._press("escape"))
        self._play(self._press("home", *["down"] * place, "enter"))

    @rule(texts=st.lists(TEXTS, min_size=6, max_size=6), keep=st.booleans())
    def fill(self, texts: list[str], keep: bool) -> None:
        """Fill in the form that is open, and keep it or leave it; without one go back."""
        self.row.times += 1
        form = self.app.screen
        if not isinstance(form, FormScreen):
            self._play(self._press("escape"))
            return
        for line, text in zip(form.query(PickInput), texts, strict=False):
            if text:
                line.value = random.Random(text).choice([*line.choices, text[:60]])
        form.query_one("#dialogue-end", OptionList).focus()
        self._play(self._press("home", *(() if keep else ("down",)), "enter"))

    @rule(size=SIZES)
    def resize(self, size: tuple[int, int]) -> None:
        """Make the window another size."""
        self.row.times += 1
        self.app.post_message(events.Resize(Size(*size), Size(*size)))
        self._play(self._press())

    @rule(again=st.integers(1, SELDOM))
    def open_again(self, again: int) -> None:
        """Close the program and open it again, now and then; else only move on."""
        self.row.times += 1
        if again == SELDOM:
            self._closed()
            self.reopened()
        else:
            self._play(self._press("ctrl+n"))

    async def _home(self) -> None:
        await self.walk.home()
        await self._stands()

    @invariant()
    def nothing_steers(self) -> None:
        """Nothing on the screen could steer a terminal."""
        odd = {one for one in screen_text(self.app) if not one.isprintable()} - {"\n"}
        assert not odd, f"on the screen: {odd}"

    def teardown(self) -> None:
        """Nothing has failed."""
        try:
            self._closed()
        finally:
            self._loop.close()
            super().teardown()


def run(count: int, seed: int) -> list[Row]:
    """So many steps through the screens."""
    row = Row("input", "steps of the same machine through the screens", seed)
    played(ScreenMachine, row, count, STEPS)
    return [row]
