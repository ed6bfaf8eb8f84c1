"""A terminal that is closed under the program: nothing that is still drawn may keep it from ending.

The toolkit writes from a thread of its own. One that fails ends, its queue fills, and whoever waits
for it waits for ever. It also begins to draw anew at every SIGCONT, and the kernel sends one with
the hang-up of a terminal.
"""

from __future__ import annotations

import contextlib
import signal
import sys
from typing import IO, Any

from textual.driver import Driver


class Lasting:
    """A stream whose terminal may go away: what is written after that is lost, without a word."""

    def __init__(self, stream: IO[str]) -> None:
        self._stream = stream

    def write(self, text: str) -> int:
        """Write what can be written."""
        with contextlib.suppress(OSError, ValueError):
            return self._stream.write(text)
        return 0

    def flush(self) -> None:
        """Flush what can be flushed."""
        with contextlib.suppress(OSError, ValueError):
            self._stream.flush()

    def __getattr__(self, name: str) -> Any:
        return getattr(self._stream, name)


def outlive(driver: Driver) -> None:
    """Let a driver of the toolkit end when its terminal is gone."""
    stream = getattr(driver, "_file", None)
    if stream is None:  # it draws on no terminal
        return
    driver._file = Lasting(stream)  # type: ignore[attr-defined]
    if sys.platform != "win32" and hasattr(driver, "_must_signal_resume"):
        resume = signal.getsignal(signal.SIGCONT)

        def go_on(number: int, frame: Any) -> None:
            """Draw anew after Ctrl+Z only."""
            if driver._must_signal_resume and callable(resume):
                resume(number, frame)

        signal.signal(signal.SIGCONT, go_on)
