"""The start screen as a full-screen program: it ends with what is to be done next."""

from __future__ import annotations

from commission.tui.base import BaseApp
from commission.tui.screens.start import Chosen, StartScreen


class StartApp(BaseApp[Chosen]):
    """Shows what there is to go on with, until something is chosen."""

    def __init__(self, said: str = "") -> None:
        super().__init__()
        self._said = said

    def get_default_screen(self) -> StartScreen:
        """The start is the first screen: nothing is drawn before it."""
        return StartScreen(self._said)


def choose(said: str = "") -> Chosen | int:
    """The words of the command chosen, or an exit code when the person leaves.

    `said` is shown first: why what was chosen before could not be done. Raises what failed.
    """
    app = StartApp(said)
    chosen = app.run()
    if app.failure is not None:
        raise app.failure
    return chosen or app.return_code or 0
