"""How the screens draw into a browser, and end when the server has gone."""

from __future__ import annotations

import contextlib
import os
import signal
from functools import partial

from textual.drivers.web_driver import WebDriver


class TabletDriver(WebDriver):
    """Draws to the server that started the program; ends tidily when nobody listens any more."""

    def run_input_thread(self) -> None:
        """Take keys until there are no more; at the end of input the server has gone.

        The signal keeps what is half typed, as when a terminal is closed.
        """
        self._write = partial(_written, self.fileno)
        super().run_input_thread()
        if not self.exit_event.is_set():
            os.kill(os.getpid(), signal.SIGTERM)


def _written(file: int, data: bytes) -> int:
    """Write for as long as somebody reads."""
    with contextlib.suppress(BrokenPipeError):
        return os.write(file, data)
    return len(data)
