"""The real program in a pseudo-terminal, with a screen that can be read: for tests and benchmarks.

pyte is a general terminal emulator; it does not know the keyboard protocol request that Textual
sends, so that one is taken out of the stream.
"""

from __future__ import annotations

import fcntl
import os
import pty
import re
import select
import signal
import struct
import termios
import time
from collections.abc import Mapping, Sequence
from pathlib import Path

import pyte

_UNKNOWN_TO_PYTE = re.compile(rb"\x1b\[[><=][0-9;]*u|\x1b\[\?[0-9;]*\$p|\x1b\[>[0-9;]*[mq]")
KEYS = {
    "enter": "\r",
    "esc": "\x1b",
    "up": "\x1b[A",
    "down": "\x1b[B",
    "pgup": "\x1b[5~",
    "pgdn": "\x1b[6~",
    "tab": "\t",
    "backspace": "\x7f",
    **{f"ctrl+{letter}": chr(ord(letter) - 96) for letter in "gklnoqtz"},
}


class Terminal:
    """A child program with a terminal of its own."""

    def __init__(
        self,
        command: Sequence[str],
        *,
        size: tuple[int, int] = (80, 24),
        env: Mapping[str, str] | None = None,
        cwd: Path | None = None,
    ) -> None:
        columns, rows = size
        self.screen = pyte.Screen(columns, rows)
        self._stream = pyte.ByteStream(self.screen)
        self.raw = bytearray()
        self.ended = False
        self.started = time.perf_counter()
        window = struct.pack("HHHH", rows, columns, 0, 0)
        self.is_as_before = False  # once it has ended: whether it left the modes that it found
        self.pid, self._fd = pty.fork()
        if self.pid == 0:  # the child
            try:
                fcntl.ioctl(0, termios.TIOCSWINSZ, window)  # before the program can look
                if cwd is not None:
                    os.chdir(cwd)
                # Nothing of the developer's own terminal may colour the outcome, or size it.
                own = ("NO_COLOR", "COLUMNS", "LINES")
                base = {key: value for key, value in os.environ.items() if key not in own}
                os.execvpe(
                    command[0],
                    list(command),
                    {**base, "TERM": "xterm-256color", "COLORTERM": "truecolor", **(env or {})},
                )
            finally:
                os._exit(127)

        self._modes = termios.tcgetattr(self._fd)

    @property
    def lines(self) -> list[str]:
        """The screen as text, without trailing blanks."""
        return [line.rstrip() for line in self.screen.display]

    @property
    def text(self) -> str:
        """The whole screen as one text."""
        return "\n".join(self.lines)

    def feed(self, seconds: float) -> bool:
        """Read what the program wrote within a time; False when it has ended."""
        ready, _, _ = select.select([self._fd], [], [], seconds)
        if not ready:
            return True
        try:
            data = os.read(self._fd, 65536)
        except OSError:
            return False
        if not data:
            return False
        self.raw += data
        self._stream.feed(_UNKNOWN_TO_PYTE.sub(b"", data))
        return True

    def wait_for(self, words: str, limit_s: float = 15.0) -> float:
        """Read until words stand on the screen; returns the time since the start in seconds.

        Raises AssertionError with the screen when they do not come.
        """
        end = time.perf_counter() + limit_s
        while words not in self.text:
            if not self.feed(0.02) or time.perf_counter() > end:
                raise AssertionError(f"{words!r} did not come; the screen:\n{self.text}")
        return time.perf_counter() - self.started

    def wait_gone(self, words: str, limit_s: float = 15.0) -> None:
        """Read until words no longer stand on the screen."""
        end = time.perf_counter() + limit_s
        while words in self.text:
            if not self.feed(0.02) or time.perf_counter() > end:
                raise AssertionError(f"{words!r} stayed; the screen:\n{self.text}")

    def settle(self, quiet_s: float = 0.3) -> None:
        """Read until the program has had nothing to draw for a while."""
        until = time.perf_counter() + quiet_s
        while time.perf_counter() < until:
            drawn = len(self.raw)
            self.feed(0.02)
            if len(self.raw) != drawn:
                until = time.perf_counter() + quiet_s

    def press(self, *keys: str) -> None:
        """Send keys: names of `KEYS`, anything else as typed."""
        for key in keys:
            os.write(self._fd, KEYS.get(key, key).encode())

    def kill(self, number: int = signal.SIGKILL) -> int:
        """Send a signal and wait for the end; returns the exit status."""
        os.kill(self.pid, number)
        return self.wait_end()

    def wait_end(self, limit_s: float = 10.0) -> int:
        """Wait for the program to end; returns its exit code, or minus the signal."""
        end = time.perf_counter() + limit_s
        while time.perf_counter() < end:
            self.feed(0.01)
            pid, status = os.waitpid(self.pid, os.WNOHANG)
            if pid:
                while self.feed(0.0) and select.select([self._fd], [], [], 0)[0]:
                    pass
                self.is_as_before = termios.tcgetattr(self._fd) == self._modes
                os.close(self._fd)
                self.ended = True
                return os.waitstatus_to_exitcode(status)
        raise AssertionError(f"the program did not end; the screen:\n{self.text}")
