"""Many lines to move over, drawn one by one, so that length costs nothing."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import ClassVar

from rich.cells import cell_len, set_cell_size
from rich.segment import Segment
from textual import events
from textual.binding import Binding, BindingType
from textual.geometry import Size
from textual.message import Message
from textual.scroll_view import ScrollView
from textual.strip import Strip

_PAGE = 12


def cut(text: str, width: int) -> str:
    """A text in so many columns; where it is longer its last column says that it goes on."""
    return text if cell_len(text) <= width else set_cell_size(text, max(0, width - 1)) + "…"


@dataclass(frozen=True, slots=True)
class Line:
    """One line: what it stands for, "" for a heading, and its pieces of text with their styles."""

    key: str
    parts: tuple[tuple[str, str], ...]  # text, and "plain", "head", "bold" or a verdict


class Rows(ScrollView, can_focus=True):
    """Lines with a cursor that passes over headings; Enter tells the screen where it stands."""

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
        self._row_of: dict[str, int] = {}  # of what can be stood on, by key
        self._keys: tuple[str, ...] = ()
        self._at = 0  # the place of the cursor among the keys

    @property
    def key(self) -> str:
        """What the line under the cursor stands for; "" where there is none."""
        return self._keys[self._at] if self._keys else ""

    def show(self, lines: Iterable[Line], key: str = "") -> None:
        """Draw other lines; the cursor goes to a line, else stays on its own, or near it."""
        wanted, self._lines = key or self.key, tuple(lines)
        self._row_of = {line.key: row for row, line in enumerate(self._lines) if line.key}
        self._keys = tuple(self._row_of)
        at = self._keys.index(wanted) if wanted in self._row_of else self._at
        self._at = max(0, min(at, len(self._keys) - 1))
        self.lay_out()
        self.refresh()
        self._keep_in_view()

    def lay_out(self) -> None:
        """Take the room that the lines need."""
        self.virtual_size = Size(0, len(self._lines))

    def go_to(self, key: str) -> None:
        """Put the cursor on a line without telling anybody."""
        if key in self._row_of and key != self.key:
            self._at = self._keys.index(key)
            self.refresh()
            self._keep_in_view()

    def on_resize(self) -> None:
        """Keep the cursor in view; before the first layout there was no height to do it with."""
        self._keep_in_view()

    def render_line(self, y: int) -> Strip:
        """Draw one visible line."""
        return self.drawn(y + self.scroll_offset.y, self.size.width)

    def drawn(self, row: int, width: int) -> Strip:
        """One line in so many columns; blank below the last."""
        if row >= len(self._lines):
            return Strip.blank(width, self.get_component_rich_style("rows--plain"))
        line = self._lines[row]
        parts: Sequence[tuple[str, str]] = line.parts
        if line.key:
            (first, style), *rest = parts
            parts = ((f" {first}", style), *rest)
        if line.key and line.key == self.key:
            words = "".join(text for text, _style in line.parts)
            parts = ((f">{words}", "cursor" if self.has_focus else "here"),)
        segments = [
            Segment(text, self.get_component_rich_style(f"rows--{style}")) for text, style in parts
        ]
        return Strip(segments).adjust_cell_length(width, segments[-1].style)

    def action_move(self, by: int) -> None:
        """Move the cursor."""
        self._move_to(self._at + by)

    def action_edge(self, place: int) -> None:
        """Jump to the first or the last line."""
        self._move_to(place if place >= 0 else len(self._keys) + place)

    def action_choose(self) -> None:
        """Tell which line it is."""
        if self._keys:
            self.chosen(self.key)

    def on_click(self, event: events.Click) -> None:
        """A click on a line moves the cursor there."""
        row = self.row_at(event.x, event.y + self.scroll_offset.y)
        if row < len(self._lines) and self._lines[row].key:
            self._move_to(self._keys.index(self._lines[row].key))

    def row_at(self, _x: int, y: int) -> int:
        """Which line is drawn at a place."""
        return y

    def chosen(self, key: str) -> None:
        """Enter was pressed on a line."""
        self.post_message(self.Chosen(self, key))

    def moved(self, key: str) -> None:
        """The person has moved the cursor to a line."""

    def _move_to(self, at: int) -> None:
        if self._keys:
            self.go_to(self._keys[max(0, min(at, len(self._keys) - 1))])
            self.moved(self.key)

    def _keep_in_view(self) -> None:
        """Scroll so that the cursor stands near the middle, and no room is left unused."""
        if self._keys and self.size.height:
            y = self._row_of[self.key] - self.size.height // 2
            self.scroll_to(y=y, animate=False, force=True)
