"""What the keys do on a screen, at its bottom."""

from __future__ import annotations

from textual import events
from textual.content import Content
from textual.widgets import Static

from commission.tui.keys import fitted


class KeyLine(Static):
    """The keys of a screen in one line, or in two where that is too long for one."""

    def __init__(self, words: str) -> None:
        super().__init__(Content(words), id="keys")
        self._words = words

    def on_mount(self) -> None:
        """Drawn in its width from the first picture on."""
        self.say(self._words)

    def on_resize(self, _event: events.Resize) -> None:
        """Another width, and perhaps another number of lines."""
        self.say(self._words)

    def say(self, words: str) -> None:
        """Say what the keys do now."""
        self._words = words
        self.update(Content(fitted(words, self.app.size.width)))
