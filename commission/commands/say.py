"""Words to the terminal: nothing in a file or an argument may steer it."""

from __future__ import annotations

import sys
from collections.abc import Sequence

from commission.text import visible

_NO_LIMIT = 1_000_000


def say(text: str = "") -> None:
    """Print lines to standard output; whatever cannot be seen appears as its code point."""
    sys.stdout.write(safe(text) + "\n")


def complain(text: str) -> None:
    """Print lines to standard error, as safely."""
    sys.stderr.write(safe(text.rstrip("\n")) + "\n")


def safe(text: str) -> str:
    """Several lines, each free of terminal controls."""
    return "\n".join(visible(line, _NO_LIMIT) for line in text.split("\n"))


def table(rows: Sequence[Sequence[str]], right: Sequence[int] = ()) -> str:
    """Rows as aligned columns, two blanks between; columns in `right` are set to the right."""
    rows = [[visible(cell, _NO_LIMIT) for cell in row] for row in rows]
    if not rows:
        return ""
    widths = [max(len(row[column]) for row in rows) for column in range(len(rows[0]))]
    lines = []
    for row in rows:
        cells = [
            cell.rjust(width) if column in right else cell.ljust(width)
            for column, (cell, width) in enumerate(zip(row, widths, strict=True))
        ]
        lines.append("  ".join(cells).rstrip())
    return "\n".join(lines)
