"""How the screens draw into a browser, and end when the server has gone."""

from __future__ import annotations

import contextlib
import os
import signal
from functools import partial

from textual.drivers.web_driver import WebDriver

ASKED = 20  # times to end; a program that is just starting may miss the first
PATIENCE_S = 0.5  # after each
TERMINATED = 143  # 128 + SIGTERM, as shells count


class TabletDriver(WebDriver):
    """Draws to the server that started the program; ends tidily when nobody listens any more."""

    def run_input_thread(self) -> None:
        """Take keys until there are no more; at the end of input the server has gone.

        The signal keeps what is half typed, as when a terminal is closed. A program that does not
        heed it ends all the same: it would hold its job for ever, and nobody would see it.
        """
        self._write = partial(_written, self.fileno)
        super().run_input_thread()
        for _ in range(ASKED):
            if self.exit_event.is_set():
                return
            os.kill(os.getpid(), signal.SIGTERM)
            self.exit_event.wait(PATIENCE_S)
        if not self.exit_event.is_set():
            os._exit(TERMINATED)


def _written(file: int, data: bytes) -> int:
    """Write for as long as somebody reads."""
    with contextlib.suppress(BrokenPipeError):
        return os.write(file, data)
    return len(data)
