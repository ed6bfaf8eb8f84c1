"""A site file edited on screen, as a full-screen program."""

from __future__ import annotations

from commission.editing.edition import Edition
from commission.tui.base import BaseApp
from commission.tui.screens.edit import EditScreen


class EditApp(BaseApp[None]):
    """Draws the site, and asks what to do with changes that are not in the file when it ends.

    A signal ends it at once: every change lies in the working copy already.
    """

    def __init__(self, edition: Edition) -> None:
        super().__init__()
        self._edition = edition

    def get_default_screen(self) -> EditScreen:
        """The site is the first screen: nothing is drawn before it."""
        return EditScreen(self._edition)

    def leave_now(self) -> None:
        """Quit, once it is said what becomes of changes that are not in the file."""
        screen = next(one for one in self.screen_stack if isinstance(one, EditScreen))
        if self.screen is screen or (self._edition.unwritten and not screen.file.leaving):
            screen.file.leave()
        elif not self._edition.unwritten:
            super().leave_now()


def show(edition: Edition) -> int:
    """Edit until the person leaves; returns 0, or 128 plus the number of the signal that ended it.

    Raises what failed in a screen, once the terminal is as it was.
    """
    app = EditApp(edition)
    app.run()
    if app.failure is not None:
        raise app.failure
    return app.return_code or 0
