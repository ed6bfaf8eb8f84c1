"""Words to the terminal: nothing in a file or an argument may steer it."""

from __future__ import annotations

import contextlib
import os
import sys
from collections.abc import Iterator, Sequence
from threading import Timer
from typing import TextIO

from commission.problems import CouldNotWrite
from commission.text import visible

_NO_LIMIT = 1_000_000
LONG_LOOK_S = 3.0


def say(text: str = "") -> None:
    """Print lines to standard output; whatever cannot be seen appears as its code point.

    Raises CouldNotWrite, BrokenPipeError when whoever read it has gone.
    """
    try:
        if sys.stdout is None:  # it was closed before the program started
            raise OSError("it is closed")
        sys.stdout.write(safe(text) + "\n")
    except BrokenPipeError:
        raise
    except OSError as error:
        raise _not_printed(error) from error


def finish() -> None:
    """Bring out what was printed; raises CouldNotWrite and BrokenPipeError as `say` does."""
    try:
        if sys.stdout is not None:
            sys.stdout.flush()
    except BrokenPipeError:
        raise
    except OSError as error:
        raise _not_printed(error) from error


def complain(text: str) -> None:
    """Print lines to standard error, as safely; when that takes nothing, nobody can be told."""
    try:
        if sys.stderr is not None:
            sys.stderr.write(safe(text.rstrip("\n")) + "\n")
            sys.stderr.flush()
    except OSError:
        leave(sys.stderr)


@contextlib.contextmanager
def patience(words: str, after_s: float = 1.0) -> Iterator[None]:
    """Say what takes so long, where it does, and how to stop it."""
    said = Timer(after_s, complain, [f"{words}; Ctrl+C stops."])
    said.daemon = True
    said.start()
    try:
        yield
    finally:
        said.cancel()


def long_look(name: str) -> contextlib.AbstractContextManager[None]:
    """Be patient with a file that may have been made to take long."""
    return patience(f"All of {name} is looked at, which takes a while", LONG_LOOK_S)


def leave(stream: TextIO) -> None:
    """Print no more to a stream that takes nothing: the last flush would fail once more."""
    with contextlib.suppress(OSError, ValueError):
        os.dup2(os.open(os.devnull, os.O_WRONLY), stream.fileno())


def _not_printed(error: OSError) -> CouldNotWrite:
    if sys.stdout is not None:
        leave(sys.stdout)
    reason = error.strerror or str(error)
    return CouldNotWrite(f"the output could not be written: {reason}; print it somewhere else")


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
