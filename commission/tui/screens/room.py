"""What stands on a terminal that is too small for anything else."""

from __future__ import annotations

from collections.abc import Callable

from textual import events
from textual.app import ComposeResult
from textual.content import Content
from textual.geometry import Size
from textual.screen import ModalScreen
from textual.widgets import Static

from commission.tui.widgets.title import Title


class RoomScreen(ModalScreen[None]):
    """Asks for more room, and goes once there is; what was typed stays beneath it."""

    def __init__(self, least: Size, ask_again: Callable[[], None]) -> None:
        super().__init__()
        self._least, self._ask_again = least, ask_again
        self._left = False  # it may be told of room more than once before it is gone

    def compose(self) -> ComposeResult:
        least = self._least
        words = (
            f"Please make the window at least {least.width} columns by {least.height} lines. "
            "What you typed is kept."
        )
        yield Title("More room, please")
        yield Static(Content(words), id="too-small")

    def on_resize(self, event: events.Resize) -> None:
        """Go as soon as there is room."""
        self._leave_where_room(event.size)

    def on_screen_suspend(self) -> None:
        """A dialogue came over it, which has no more room."""
        if not self._left:
            self.call_later(self._ask_again)

    def on_screen_resume(self) -> None:
        """The same when a dialogue that came over it has gone."""
        self._leave_where_room(self.app.size)

    def _leave_where_room(self, size: Size) -> None:
        room = size.width >= self._least.width and size.height >= self._least.height
        if room and self.app.screen is self and not self._left:
            self._left = True
            self.dismiss()
