"""The full-screen program: themes, signals that end it, and the first screen."""

from __future__ import annotations

import asyncio
import gc
import signal
import sys
from pathlib import Path
from typing import ClassVar

from textual.app import App
from textual.binding import Binding, BindingType

from commission.session import Session
from commission.tui.screens.walk import WalkScreen
from commission.tui.theme import NIGHT, SUN


class CommissionApp(App[int]):
    """Opens one job and walks through it."""

    CSS_PATH = Path(__file__).with_name("commission.tcss")
    TITLE = "commission"
    ENABLE_COMMAND_PALETTE = False
    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("ctrl+q", "leave", "Quit", priority=True),
        Binding("ctrl+t", "other_theme", "Sun or night", show=False),
    ]

    def __init__(self, session: Session) -> None:
        super().__init__()
        self.session = session
        self.register_theme(SUN)
        self.register_theme(NIGHT)
        self.theme = SUN.name

    def on_mount(self) -> None:
        """Show the walk, and end tidily when the machine or the terminal goes away."""
        self.push_screen(WalkScreen(self.session))
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

    def action_other_theme(self) -> None:
        """Change between the sun and the night colours."""
        self.theme = NIGHT.name if self.theme == SUN.name else SUN.name


def run(session: Session) -> int:
    """Walk through a job until the person leaves; returns an exit code."""
    app = CommissionApp(session)
    result = app.run()
    return app.return_code or result or 0
