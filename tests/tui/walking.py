"""The walk in this process: the real screens, keys as a driver sends them, and waiting for words.

Keys go through `App.post_message`, as from a terminal; nothing sleeps for a fixed time.
"""

from __future__ import annotations

import asyncio
from collections.abc import Awaitable, Callable
from typing import Any

from textual import events
from textual.pilot import Pilot

from commission.checklist.plan import Step
from commission.session import Session
from commission.tui.app import CommissionApp
from commission.tui.base import BaseApp
from commission.tui.screens.form import FormScreen
from commission.tui.screens.walk import WalkScreen
from commission.tui.theme import NIGHT, SUN
from commission.tui.widgets.pick_input import PickInput
from tests.tui.cells import check_readable
from tests.tui.golden import screen_text

SMALL, LARGE = (80, 24), (120, 40)
LIMIT_S = 4.0
CHARACTERS = {"enter": "\r", "escape": "\x1b"}


class Walk:
    """One running walk: what stands on its screen, and hands to drive it."""

    def __init__(self, app: BaseApp[Any], pilot: Pilot[Any]) -> None:
        self.app = app
        self.pilot = pilot

    @property
    def session(self) -> Session:
        """The session that the screens ask."""
        assert isinstance(self.app, CommissionApp)
        return self.app.session

    @property
    def walk(self) -> WalkScreen:
        """The screen of the walk, whatever dialogue is over it."""
        return next(s for s in self.app.screen_stack if isinstance(s, WalkScreen))

    @property
    def typed(self) -> str:
        """What stands in the entry."""
        return self.walk.entry.value

    @property
    def text(self) -> str:
        """The whole screen as text."""
        return screen_text(self.app)

    def kept(self) -> list[tuple[str, str]]:
        """Type and text of every entry of the record."""
        return [(entry.type, entry.text) for entry in self.session.job.state.entries]

    async def until(self, condition: Callable[[], bool], words: str = "") -> None:
        """Wait for a condition, and until everything has been dealt with."""
        await self.soon(condition, words)
        await self.pilot.pause()

    async def soon(self, condition: Callable[[], bool], words: str = "") -> None:
        """Wait for a condition alone; fail with the screen when it does not come true."""
        end = asyncio.get_running_loop().time() + LIMIT_S
        while not condition():
            if asyncio.get_running_loop().time() > end:
                raise AssertionError(f"{words!r} did not come; the screen:\n{self.text}")
            await asyncio.sleep(0.003)

    async def shows(self, words: str) -> None:
        """Wait until words stand on the screen."""
        await self.until(lambda: words in self.text, words)

    def send(self, *keys: str) -> None:
        """Send keys without waiting: names of keys, anything else character by character."""
        for key in keys:
            whole = key.startswith("ctrl+") or key in NAMED
            for one in (key,) if whole else key:
                character = CHARACTERS.get(one, one if len(one) == 1 else None)
                self.app.post_message(events.Key(one, character))

    async def press(self, *keys: str) -> None:
        """Send keys, and wait until everything has been dealt with."""
        self.send(*keys)
        await self.pilot.pause()
        await self.pilot.pause()

    async def fill(self, **lines: str) -> None:
        """Put texts into the lines of the form on the screen."""
        for key, text in lines.items():
            self.app.screen.query_one(f"#line-{key}", PickInput).value = text
        await self.pilot.pause()

    async def finish(self, **lines: str) -> None:
        """Fill in the form on the screen, and choose its first way to end."""
        await self.fill(**lines)
        self.app.screen.query_one("#dialogue-end").focus()
        await self.press("home", "enter")

    async def back(self) -> None:
        """Leave the form on the screen, keeping nothing."""
        self.send("escape", "enter")
        await self.until(lambda: self.app.screen is self.walk, "the walk")

    async def home(self) -> None:
        """Leave every dialogue, keeping nothing; what asks for more room stays."""
        for _ in range(8):
            if self.app.screen is self.walk:
                return
            await self.press("escape")
            if isinstance(self.app.screen, FormScreen):
                await self.press("enter")

    async def choose(self, words: str) -> None:
        """Choose a line of the menu on the screen by the words it holds."""
        menu = self.app.screen.query_one("#dialogue-menu")
        lines = [str(option.prompt) for option in menu.options]  # type: ignore[attr-defined]
        place = next(number for number, line in enumerate(lines) if words in line)
        await self.press("home", *["down"] * place, "enter")

    async def menu(self, words: str) -> None:
        """Open the menu of the step, and choose a line."""
        await self.press("escape")
        await self.choose(words)

    async def go(self, step: Step) -> None:
        """Read a step, wherever it is."""
        self.walk.show_step(step.id)
        await self.shows(step.title)


NAMED = frozenset(
    [
        "enter",
        "escape",
        "up",
        "down",
        "home",
        "end",
        "pageup",
        "pagedown",
        "tab",
        "shift+tab",
        "backspace",
        "left",
        "right",
        "delete",
    ]
)
Scene = Callable[[Walk], Awaitable[None]]


async def readable_in_both(walk: Walk) -> None:
    """Look at every cell of the screen in the sun's colours and in the night's."""
    for _ in range(2):
        check_readable(walk.app)
        walk.app.action_other_theme()
        await walk.pilot.pause()


def play(session: Session, scene: Scene, size: tuple[int, int] = SMALL) -> None:
    """Run the walk on a session, at a size, and play a scene in it; the job is closed after it."""
    try:
        play_in(CommissionApp(session), scene, size)
    finally:
        session.close()


def play_in(app: BaseApp[Any], scene: Scene, size: tuple[int, int] = SMALL) -> None:
    """Play a scene in a program; what stands on the screen then is readable in both themes.

    A scene of two sizes is played in the sun's colours and in the night's: so whatever it looks at
    on its way is seen in both.
    """
    theme = NIGHT.name if size == LARGE else SUN.name
    BaseApp.chosen_theme = app.theme = theme  # whatever another scene chose

    async def running() -> None:
        async with app.run_test(size=size) as pilot:
            walk = Walk(app, pilot)
            await walk.until(lambda: bool(walk.text.strip()), "the first screen")
            await scene(walk)
            if app.is_running:
                await readable_in_both(walk)

    asyncio.run(running())
