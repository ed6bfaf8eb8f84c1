"""A line to type in that can also be filled from a few choices, by number or with the arrows."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from typing import Any

from textual import events
from textual.widgets import Input
from textual.widgets.input import Selection

from commission.text import visible


def matching(text: str, choices: Sequence[str]) -> str:
    """The choice that a text means: its number, words, or their only beginning; else the text."""
    typed = text.strip()
    if not choices or not typed:
        return typed
    if typed.isascii() and typed.isdigit() and 1 <= int(typed) <= len(choices):
        return choices[int(typed) - 1]
    lowered = typed.lower()
    exact = [choice for choice in choices if choice.lower() == lowered]
    begun = exact or [choice for choice in choices if choice.lower().startswith(lowered)]
    return begun[0] if len(begun) == 1 else typed


# Corrections are made in their turn too: typed ahead, a character must not come before them.
_EDITS = {
    "backspace": Input.action_delete_left,
    "delete": Input.action_delete_right,
    "left": Input.action_cursor_left,
    "right": Input.action_cursor_right,
    "home": Input.action_home,
    "end": Input.action_end,
}


class PickInput(Input):
    """An input whose arrow keys walk through `choices`; typing stays free.

    `keys` are acted on here and now, in the order in which they were typed. Left to the usual way,
    a key such as Enter travels up to the app and back while what is typed next already goes into
    the line: whoever types ahead of a slow disk would keep another number than the one he sent.
    """

    def __init__(
        self,
        value: str = "",
        *,
        choices: Sequence[str] = (),
        keys: Mapping[str, Callable[[], None]] | None = None,
        offered: bool = False,
        **more: Any,
    ) -> None:
        """`offered`: what stands in the line is a proposal, which typing replaces."""
        super().__init__(value, select_on_focus=False, **more)
        self._offered = offered
        self._proposed = visible(value)
        self.choices = tuple(choices)
        self._keys = dict(keys or {})

    @property
    def meant(self) -> str:
        """What the typed text means among the choices."""
        return matching(self.value, self.choices)

    @property
    def touched(self) -> bool:
        """Whether something else stands here than was proposed: typed, or picked."""
        return self.value != self._proposed

    def propose(self, text: str) -> None:
        """Put a proposal into the line, which typing replaces."""
        self._fill(text)
        self._proposed = self.value

    def _fill(self, text: str) -> None:
        self.value = text
        self.selection = Selection(len(text), 0)

    def on_key(self, event: events.Key) -> None:
        """Act on a key in its turn; what was typed ahead goes where it now belongs."""
        if self.app.screen is not self.screen:
            _stop(event)  # typed before the dialogue stood there: it was not meant for it
        elif self.app.focused is not self and self.app.focused is not None:
            _stop(event)
            self.app.focused.post_message(events.Key(event.key, event.character))
        elif event.key in self._keys:
            _stop(event)
            self._keys[event.key]()
        elif event.key in _EDITS:
            _stop(event)
            _EDITS[event.key](self)
        elif event.key in ("up", "down") and self.choices:
            _stop(event)
            self._pick(-1 if event.key == "up" else 1)

    def on_focus(self) -> None:
        """Select a proposal from its end to its beginning: a number is read from its beginning."""
        if self._offered:
            self._fill(self.value)

    def on_blur(self) -> None:
        """A line that is left shows its beginning."""
        if self._offered:
            self.cursor_position = 0

    def validate_value(self, value: str) -> str:
        """A character that could steer a terminal as its code, whoever puts the text there."""
        return visible(value)

    def replace(self, text: str, start: int, end: int) -> None:
        """Take in typed or pasted text; a character that could steer a terminal as its code."""
        super().replace(visible(text), start, end)

    def _pick(self, step: int) -> None:
        """Fill in the next or previous choice; typing replaces it."""
        current = self.meant
        if current in self.choices:
            place = (self.choices.index(current) + step) % len(self.choices)
        else:
            place = 0 if step > 0 else len(self.choices) - 1
        self._fill(self.choices[place])


def _stop(event: events.Key) -> None:
    event.stop()
    event.prevent_default()
