"""The full-screen program: themes, signals that end it, and the first screen."""

from __future__ import annotations

import asyncio
import contextlib
import gc
import signal
import sys
from pathlib import Path
from typing import TYPE_CHECKING, ClassVar

from textual.app import App
from textual.binding import Binding, BindingType
from textual.driver import Driver

from commission.session import Session
from commission.tui.closed_terminal import outlive
from commission.tui.screens.walk import WalkScreen
from commission.tui.theme import NIGHT, SUN

if TYPE_CHECKING:
    from rich.console import RenderableType


class CommissionApp(App[int]):
    """Opens one job and walks through it."""

    CSS_PATH = Path(__file__).with_name("commission.tcss")
    TITLE = "commission"
    ENABLE_COMMAND_PALETTE = False
    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("ctrl+q", "leave", "Quit", priority=True),
        Binding("ctrl+t", "other_theme", "Sun or night", show=False),
        Binding("ctrl+z", "suspend_process", "To the shell", show=False),
    ]

    def __init__(self, session: Session) -> None:
        super().__init__()
        self.session = session
        self.failure: Exception | None = None
        self.register_theme(SUN)
        self.register_theme(NIGHT)
        self.theme = SUN.name

    def _build_driver(
        self, headless: bool, inline: bool, mouse: bool, size: tuple[int, int] | None
    ) -> Driver:
        driver = super()._build_driver(headless, inline, mouse, size)
        outlive(driver)
        return driver

    def get_default_screen(self) -> WalkScreen:
        """The walk is the first screen: nothing is drawn before it."""
        return WalkScreen(self.session)

    def on_mount(self) -> None:
        """End tidily when the machine or the terminal goes away."""
        self.app_resume_signal.subscribe(self, lambda _app: self.refresh(layout=True))
        loop = asyncio.get_running_loop()
        for name in ("SIGTERM", "SIGHUP"):
            number = getattr(signal, name, None)
            if number is not None and sys.platform != "win32":
                loop.add_signal_handler(number, self._end, 128 + number)

    def on_ready(self) -> None:
        """The first picture stands: what the start has made stays out of every later collection."""
        gc.freeze()
        gc.enable()

    def _end(self, code: int) -> None:
        self._keep_draft()
        self.exit(code, return_code=code)

    def action_leave(self) -> None:
        """Quit; every confirmed answer is on disk already."""
        self._keep_draft()
        self.exit(0)

    def _keep_draft(self) -> None:
        for screen in self.screen_stack:
            if isinstance(screen, WalkScreen):
                screen.keep_draft()

    def _handle_exception(self, error: Exception) -> None:
        """Remember the first failure for `run`, and save what is half typed."""
        if self.failure is None:
            self.failure = error
            with contextlib.suppress(Exception):  # whatever failed must not hide the first failure
                self._keep_draft()
        super()._handle_exception(error)

    def panic(self, *renderables: RenderableType) -> None:
        """End, and print nothing: `run` raises the failure for the command to report."""
        self._close_messages_no_wait()

    def _fatal_error(self) -> None:
        """End without a traceback: it would show local variables, a customer's data."""
        self.panic()

    def action_other_theme(self) -> None:
        """Change between the sun and the night colours."""
        self.theme = NIGHT.name if self.theme == SUN.name else SUN.name


def run(session: Session) -> int:
    """Walk through a job until the person leaves; returns an exit code.

    128 plus the signal's number when SIGTERM or SIGHUP ended it. Raises what failed in a screen,
    once the terminal is as it was.
    """
    app = CommissionApp(session)
    result = app.run()
    if app.failure is not None:
        raise app.failure
    return app.return_code or result or 0
