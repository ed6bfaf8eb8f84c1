"""The review of one report, or of a folder of them, as a full-screen program."""

from __future__ import annotations

from collections.abc import Callable, Sequence

from textual.screen import Screen

from commission.report.review import InFull, Review
from commission.tui.base import BaseApp
from commission.tui.screens.review import ReviewScreen
from commission.tui.screens.reviews import Listed, ReviewsScreen


class ReviewApp(BaseApp[None]):
    """Shows one review until the person leaves; it changes nothing."""

    def __init__(self, found: InFull) -> None:
        super().__init__()
        self._found = found

    def get_default_screen(self) -> Screen[None]:
        """The review is the first screen: nothing is drawn before it."""
        return ReviewScreen(self._found)


class ReviewsApp(BaseApp[None]):
    """Lists the reports of a folder until the person leaves; it changes none of them."""

    def __init__(
        self,
        folder: str,
        listed: Sequence[Listed],
        remarks: Callable[[Sequence[Review]], Sequence[str]],
    ) -> None:
        super().__init__()
        self._screen = ReviewsScreen(folder, listed, remarks)

    def get_default_screen(self) -> Screen[None]:
        """The list is the first screen: nothing is drawn before it."""
        return self._screen


def show(app: ReviewApp | ReviewsApp) -> int:
    """Show reviews; returns 0, or 128 plus the number of the signal that ended it.

    Raises what failed in a screen, once the terminal is as it was.
    """
    app.run()
    if app.failure is not None:
        raise app.failure
    return app.return_code or 0
