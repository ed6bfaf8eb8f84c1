"""Golden screens: what stands on the screen, as plain text that a reviewer can read.

The text is read from the public `App.export_screenshot()`; a cell is 12.2 units wide and a line
24.4 high in its drawing.
"""

from __future__ import annotations

import re
from html import unescape
from pathlib import Path
from typing import Any

import pytest
from textual.app import App

from tests.tui.cells import check_readable

FOLDER = Path(__file__).parent / "golden"
_CELL, _LINE, _FIRST = 12.2, 24.4, 20.0
_TEXT = re.compile(
    r'<text class="[^"]*-r\d+" x="([\d.]+)" y="([\d.]+)"[^>]*clip-path[^>]*>(.*?)</text>', re.DOTALL
)


def screen_text(app: App[Any]) -> str:
    """The screen as lines of text without trailing blanks."""
    width, height = app.size
    cells = [[" "] * width for _ in range(height)]
    for x, y, text in _TEXT.findall(app.export_screenshot()):
        row, column = round((float(y) - _FIRST) / _LINE), round(float(x) / _CELL)
        for place, character in enumerate(unescape(text).replace("\u00a0", " ")):
            if row < height and column + place < width:
                cells[row][column + place] = character
    return "\n".join("".join(line).rstrip() for line in cells) + "\n"


class Golden:
    """Compares a screen with the file of that name, or renews the file when asked."""

    def __init__(self, renew: bool) -> None:
        self._renew = renew

    def check(self, app: App[Any], name: str, other_each_time: str = "") -> None:
        """Fail with both screens when they differ, or when something is hard to read.

        What matches a pattern, a digest say, is `other_each_time` and stands as crosses.
        """
        check_readable(app)
        width, height = app.size
        file = FOLDER / f"{name}-{width}x{height}.txt"
        seen = screen_text(app)
        if other_each_time:
            seen = re.sub(other_each_time, lambda found: "x" * len(found[0]), seen)
        if self._renew:
            FOLDER.mkdir(exist_ok=True)
            file.write_text(seen, encoding="utf-8")
        if not file.exists():
            pytest.fail(f"no golden screen {file.name}; the screen is:\n{seen}")
        wanted = file.read_text(encoding="utf-8")
        assert seen == wanted, f"{file.name} differs; the screen is:\n{seen}"
