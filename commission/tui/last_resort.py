"""The end of a program that was told to end and can't: its terminal put back, its job let go.

A program that stays when its window is closed would hold its job for ever. What was confirmed is on
disk by then, so an end in the middle of anything loses what a flat battery would.
"""

from __future__ import annotations

import contextlib
import os
import signal
import sys
import threading
import time
import traceback
from functools import cache
from queue import SimpleQueue
from typing import Any

from commission.host import TERMINATION_SIGNALS

PATIENCE_S = 5.0  # an orderly end takes a tenth of this on a slow machine
_LOG_S = 1.0
_PARTS = 50  # a program that is stopped meanwhile has its time when it goes on
# What the toolkit asks of a terminal, taken back: bracketed paste, lines that don't wrap, reports
# of sizes and of the mouse, keyboard protocol, alternate screen, hidden cursor, reports of focus
# (xterm control sequences).
_AS_BEFORE = (
    b"\x1b[?2004l\x1b[?7h\x1b[?2048l\x1b[?1000l\x1b[?1003l\x1b[?1015l\x1b[?1006l"
    b"\x1b[<u\x1b[?1049l\x1b[?25h\x1b[?1004l"
)


def insist() -> None:
    """From now on a signal to end does end the program, at the latest after `PATIENCE_S`.

    The handlers of the event loop stay at work: it hears of a signal whatever else is called. A
    signal that comes while the interpreter is in a call that never returns is not heard at all.
    """
    told = _watched()
    for number in TERMINATION_SIGNALS:
        signal.signal(number, lambda number, _frame: told.put(number))


@cache
def _watched() -> SimpleQueue[int]:
    """Where the number of a signal goes, even from within its handler; one thread waits for it."""
    import termios

    told: SimpleQueue[int] = SimpleQueue()
    modes: list[Any] | None = None
    with contextlib.suppress(termios.error, OSError, ValueError):
        modes = termios.tcgetattr(0)

    def watch() -> None:
        number = told.get()
        for _ in range(_PARTS):
            time.sleep(PATIENCE_S / _PARTS)
        log = threading.Thread(target=_log, args=(number,), daemon=True)
        log.start()
        log.join(_LOG_S)  # it may need what the stuck thread holds
        if modes is not None:
            _put_back(modes)
        os._exit(128 + number)

    threading.Thread(target=watch, name="last-resort", daemon=True).start()
    return told


def _put_back(modes: list[Any]) -> None:
    """Leave the terminal as it was found; one that takes nothing any more is not waited for."""
    import termios

    with contextlib.suppress(termios.error, OSError):
        if os.tcgetpgrp(0) != os.getpgrp():
            return  # it is the shell's again: whoever touches it from behind is stopped
        termios.tcsetattr(0, termios.TCSANOW, modes)
        os.set_blocking(2, False)  # for the shell too: they have it in common
        try:
            os.write(2, _AS_BEFORE)
        finally:
            os.set_blocking(2, True)


def _log(number: int) -> None:
    """Where the program is stuck, for whoever mends that."""
    from commission.user.crash_log import log_places

    stuck = sys._current_frames()[threading.main_thread().ident or 0]
    words = f"it had not ended {PATIENCE_S:.1f} s after {signal.Signals(number).name}"
    log_places(reversed(list(traceback.walk_stack(stuck))), words)
