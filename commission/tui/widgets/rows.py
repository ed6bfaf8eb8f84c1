"""Many lines to move over, drawn one by one, so that length costs nothing."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import ClassVar

from rich.segment import Segment
from textual import events
from textual.binding import Binding, BindingType
from textual.geometry import Size
from textual.message import Message
from textual.scroll_view import ScrollView
from textual.strip import Strip

_PAGE = 10


@dataclass(frozen=True, slots=True)
class Line:
    """One line: what it stands for, and its pieces of text with the style of each."""

    key: str
    parts: tuple[tuple[str, str], ...]  # text, and "plain", "head", "bold" or a verdict


class Rows(ScrollView, can_focus=True):
    """Lines with a cursor; Enter tells the screen which line it stands on."""

    COMPONENT_CLASSES: ClassVar[set[str]] = {
        "rows--plain",
        "rows--head",
        "rows--bold",
        "rows--pass",
        "rows--fail",
        "rows--marginal",
        "rows--cursor",
        "rows--here",
    }
    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("up", "move(-1)", show=False),
        Binding("down", "move(1)", show=False),
        Binding("pageup", f"move(-{_PAGE})", show=False),
        Binding("pagedown", f"move({_PAGE})", show=False),
        Binding("home", "edge(0)", show=False),
        Binding("end", "edge(-1)", show=False),
        Binding("enter", "choose", show=False),
    ]

    class Chosen(Message):
        """Enter was pressed on a line."""

        def __init__(self, rows: Rows, key: str) -> None:
            super().__init__()
            self.rows, self.key = rows, key

    def __init__(self, **more: str) -> None:
        super().__init__(id=more.get("id"))
        self._lines: tuple[Line, ...] = ()
        self._cursor = 0

    @property
    def key(self) -> str:
        """What the line under the cursor stands for; "" where there is none."""
        return self._lines[self._cursor].key if self._lines else ""

    def show(self, lines: Iterable[Line]) -> None:
        """Draw other lines; the cursor stays on its line, or near where that was."""
        key, self._lines = self.key, tuple(lines)
        found = next((n for n, line in enumerate(self._lines) if line.key == key), self._cursor)
        self._cursor = max(0, min(found, len(self._lines) - 1))
        self.virtual_size = Size(0, len(self._lines))
        self.refresh()
        self._keep_in_view()

    def go_to(self, key: str) -> bool:
        """Put the cursor on a line; False where there is none of that name."""
        place = next((n for n, line in enumerate(self._lines) if line.key == key), None)
        if place is not None:
            self._go(place)
        return place is not None

    def on_resize(self) -> None:
        """Keep the cursor in view; before the first layout there was no height to do it with."""
        self._keep_in_view()

    def render_line(self, y: int) -> Strip:
        """Draw one visible line."""
        width, place = self.size.width, y + self.scroll_offset.y
        if place >= len(self._lines):
            return Strip.blank(width, self.get_component_rich_style("rows--plain"))
        on_it = place == self._cursor
        cursor = "cursor" if self.has_focus else "here"
        segments = [
            Segment(text, self.get_component_rich_style(f"rows--{cursor if on_it else style}"))
            for text, style in ((">" if on_it else " ", "plain"), *self._lines[place].parts)
        ]
        return Strip(segments).adjust_cell_length(width, segments[-1].style)

    def action_move(self, by: int) -> None:
        """Move the cursor."""
        self._go(self._cursor + by)

    def action_edge(self, place: int) -> None:
        """Jump to the first or the last line."""
        self._go(place if place >= 0 else len(self._lines) + place)

    def action_choose(self) -> None:
        """Tell which line it is."""
        if self._lines:
            self.post_message(self.Chosen(self, self.key))

    def on_click(self, event: events.Click) -> None:
        """A click moves the cursor there."""
        self._go(event.y + self.scroll_offset.y)

    def _go(self, place: int) -> None:
        place = max(0, min(place, len(self._lines) - 1))
        if place != self._cursor:
            self._cursor = place
            self.refresh()
            self._keep_in_view()

    def _keep_in_view(self) -> None:
        """Scroll so that the cursor stands near the middle, and no room is left unused."""
        if self.size.height:
            y = self._cursor - self.size.height // 2
            self.scroll_to(y=y, animate=False, force=True)
