"""The review of one report as a full-screen program."""

from __future__ import annotations

from commission.report.review import InFull
from commission.tui.base import BaseApp
from commission.tui.screens.review import ReviewScreen


class ReviewApp(BaseApp[None]):
    """Shows one review until the person leaves; it changes nothing."""

    def __init__(self, found: InFull) -> None:
        super().__init__()
        self._found = found

    def get_default_screen(self) -> ReviewScreen:
        """The review is the first screen: nothing is drawn before it."""
        return ReviewScreen(self._found)


def show(found: InFull) -> int:
    """Show a review; returns 0, or 128 plus the number of the signal that ended it.

    Raises what failed in a screen, once the terminal is as it was.
    """
    app = ReviewApp(found)
    app.run()
    if app.failure is not None:
        raise app.failure
    return app.return_code or 0
