"""The walk as a full-screen program."""

from __future__ import annotations

from commission.session import Session
from commission.tui.base import BaseApp
from commission.tui.screens.walk import WalkScreen


class CommissionApp(BaseApp[None]):
    """Opens one job and walks through it."""

    def __init__(self, session: Session) -> None:
        super().__init__()
        self.session = session
        self.practice = session.job.header.practice

    def get_default_screen(self) -> WalkScreen:
        """The walk is the first screen: nothing is drawn before it."""
        return WalkScreen(self.session)

    def keep_draft(self) -> None:
        """Keep the half-typed entry for the next opening."""
        for screen in self.screen_stack:
            if isinstance(screen, WalkScreen):
                screen.keep_draft()


def run(session: Session) -> int:
    """Walk through a job until the person leaves; returns an exit code.

    128 plus the signal's number when SIGTERM or SIGHUP ended it. Raises what failed in a screen,
    once the terminal is as it was.
    """
    app = CommissionApp(session)
    app.run()
    if app.failure is not None:
        raise app.failure
    return app.return_code or 0
