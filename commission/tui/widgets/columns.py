"""Lines to move over that stand side by side where all of them can be seen like that."""

from __future__ import annotations

from math import ceil

from rich.cells import cell_len
from textual.geometry import Size
from textual.strip import Strip

from commission.tui.widgets.rows import Rows

_MARGIN = 3  # the cursor's column, and what keeps two columns apart


class Columns(Rows):
    """In one column with a scroll bar, or in as few as it takes to show every line at once."""

    def __init__(self, **more: str) -> None:
        super().__init__(**more)
        self._count, self._height = 1, 0  # of the columns, and of each

    def lay_out(self) -> None:
        """Find how many columns it takes; one where even the most would not do."""
        lines, most = len(self._lines), self.size.width // self._needed() or 1
        counts = range(1, most + 1)
        fitting = (n for n in counts if ceil(lines / n) <= self.size.height)
        self._count = next(fitting, 1)
        self._height = ceil(lines / self._count)
        self.virtual_size = Size(0, self._height)

    def _needed(self) -> int:
        """Columns of characters that the longest line takes."""
        widths = (sum(cell_len(text) for text, _ in line.parts) for line in self._lines)
        return max(widths, default=0) + _MARGIN

    def on_resize(self) -> None:
        """Other columns in other room."""
        self.lay_out()
        super().on_resize()

    def render_line(self, y: int) -> Strip:
        """One line of each column."""
        if self._count == 1:
            return super().render_line(y)
        width = self.size.width // self._count
        blank = self.size.width - width * self._count
        strips = [self.drawn(self.row_at(n * width, y), width) for n in range(self._count)]
        return Strip.join([*strips, Strip.blank(blank)])

    def row_at(self, x: int, y: int) -> int:
        """Which line is drawn at a place; below the last of a column none is."""
        if self._count == 1:
            return y
        column = min(x * self._count // self.size.width, self._count - 1)
        return column * self._height + y if y < self._height else len(self._lines)
