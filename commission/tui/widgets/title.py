"""The name of a screen that stands over the walk."""

from __future__ import annotations

from textual.content import Content
from textual.widgets import Static

from commission.tui.base import BaseApp

PRACTICE = "PRACTICE | "  # in front of the name of every screen at an invented site


class Title(Static):
    """The name of a screen; at a practice it says so, for it covers the line that does."""

    def __init__(self, words: str = "") -> None:
        super().__init__(id="dialogue-title")
        self._words = words

    def on_mount(self) -> None:
        """Only here is it known which job is open."""
        self.say(self._words)

    def say(self, words: str) -> None:
        """Name the screen anew."""
        practice = isinstance(self.app, BaseApp) and self.app.practice
        self.update(Content(f"{PRACTICE if practice else ''}{words}"))
