"""What every full-screen program of ours does: themes, signals that end it, room to draw in."""

from __future__ import annotations

import asyncio
import contextlib
import gc
import sys
from pathlib import Path
from typing import TYPE_CHECKING, ClassVar, TypeVar

from textual import events
from textual.app import App
from textual.binding import Binding, BindingType
from textual.driver import Driver
from textual.geometry import Size

from commission.host import TERMINATION_SIGNALS
from commission.tui.closed_terminal import outlive
from commission.tui.last_resort import insist
from commission.tui.screens.over import OverScreen
from commission.tui.theme import NIGHT, SUN

if TYPE_CHECKING:
    from rich.console import RenderableType

T = TypeVar("T")
_SOON_S = 0.02
LEAST = Size(60, 16)  # below this a step can't be read as a whole


class BaseApp(App[T]):
    """Ends tidily whatever happens, and asks for room where there is too little.

    `failure` is the first exception of a screen; nothing of it is printed here.
    """

    CSS_PATH = Path(__file__).with_name("commission.tcss")
    TITLE = "commission"
    ENABLE_COMMAND_PALETTE = False
    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("ctrl+q", "leave", "Quit", priority=True),
        Binding("ctrl+t", "other_theme", "Sun or night", show=False),
        Binding("ctrl+z", "suspend_process", "To the shell", show=False),
    ]
    chosen_theme: ClassVar[str] = SUN.name  # of this run of the program, from screen to screen

    def __init__(self) -> None:
        super().__init__()
        self.failure: Exception | None = None
        self._asking = False  # whether it is being asked about a form that is half filled in
        self.practice = False  # whether the job is one at an invented site
        self.register_theme(SUN)
        self.register_theme(NIGHT)
        self.theme = self.chosen_theme

    def _build_driver(
        self, headless: bool, inline: bool, mouse: bool, size: tuple[int, int] | None
    ) -> Driver:
        driver = super()._build_driver(headless, inline, mouse, size)
        outlive(driver)
        self._heed_signals(headless)  # from before the terminal is taken over
        return driver

    def _heed_signals(self, headless: bool) -> None:
        """End tidily when the machine or the terminal goes away."""
        loop = asyncio.get_running_loop()
        if sys.platform != "win32":
            for number in TERMINATION_SIGNALS:
                loop.add_signal_handler(number, self._end, 128 + number)
            if not headless:
                insist()

    def on_mount(self) -> None:
        """Heed signals even where a driver, a browser's, sets its own; draw anew after a stop."""
        self._heed_signals(self.is_headless)
        self.app_resume_signal.subscribe(self, lambda _app: self.refresh(layout=True))

    def on_ready(self) -> None:
        """The first picture stands: what the start has made stays out of every later collection."""
        self._ask_for_room(self.size)
        gc.freeze()
        gc.enable()

    def on_resize(self, event: events.Resize) -> None:
        """Ask for more room where a screen can't be read as a whole."""
        self._ask_for_room(event.size)

    def _ask_for_room(self, size: Size) -> None:
        if size.width >= LEAST.width and size.height >= LEAST.height:
            return
        from commission.tui.screens.room import RoomScreen

        if not isinstance(self.screen, RoomScreen):
            self.push_screen(RoomScreen(LEAST, lambda: self._ask_for_room(self.size)))

    def keep_draft(self) -> None:
        """Keep what is half typed; the program is about to end."""

    def _end(self, code: int) -> None:
        """End; a screen that is still being set up can't be taken down, so that comes first."""
        if not (self.screen_stack and self.screen.is_mounted):
            asyncio.get_running_loop().call_later(_SOON_S, self._end, code)
            return
        try:
            self.keep_draft()
        except Exception as error:  # a text half typed is no reason to stay
            from commission.user.crash_log import log_failure

            log_failure(error)
        self.exit(return_code=code)

    @property
    def half_typed(self) -> bool:
        """Whether something was typed into a form that goes when the program ends now."""
        return any(isinstance(one, OverScreen) and one.half_typed for one in self.screen_stack)

    def action_leave(self) -> None:
        """Quit, once it is asked about a form that is half filled in."""
        if isinstance(self.screen, OverScreen) and self.focused is not None:
            self.focused.call_later(self._leave)  # after what was typed before
        else:
            self._leave()

    def _leave(self) -> None:
        if not self.half_typed:
            self.leave_now()
        elif not self._asking:
            self._ask_about_form()

    def leave_now(self) -> None:
        """Quit; every confirmed answer is on disk already."""
        self._end(0)

    def _ask_about_form(self) -> None:
        from commission.tui.screens.form import MenuScreen

        def chosen(key: str | None) -> None:
            self._asking = False
            if key == "leave":
                self.leave_now()

        self._asking = True
        choices = [("back", "Back to it"), ("leave", "Leave; what was typed there is lost")]
        self.push_screen(MenuScreen("A form is filled in, and not kept yet", choices), chosen)

    def _handle_exception(self, error: Exception) -> None:
        """Remember the first failure for whoever runs it, and save what is half typed."""
        if self.failure is None:
            self.failure = error
            with contextlib.suppress(Exception):  # whatever failed must not hide the first failure
                self.keep_draft()
        super()._handle_exception(error)

    def panic(self, *renderables: RenderableType) -> None:
        """End, and print nothing: the failure is raised for the command to report."""
        self._close_messages_no_wait()

    def _fatal_error(self) -> None:
        """End without a traceback: it would show local variables, a customer's data."""
        self.panic()

    def action_other_theme(self) -> None:
        """Change between the sun and the night colours."""
        self.theme = NIGHT.name if self.theme == SUN.name else SUN.name
        BaseApp.chosen_theme = self.theme
