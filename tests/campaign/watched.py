"""Runs the program, denies it the network, and notes every file that it writes.

    python -m tests.campaign.watched LOG COMMAND ...

An audit hook of Python sees each call before it is made, whatever module makes it (PEP 578). What
is noted goes to LOG, one JSON list to a line: the event, then its paths.
"""

from __future__ import annotations

import json
import os
import sys
from typing import Any

NETWORK = frozenset(
    [
        "socket.connect", "socket.bind", "socket.sendto", "socket.sendmsg", "socket.getaddrinfo",
        "socket.gethostbyname", "socket.gethostbyaddr", "socket.getnameinfo", "urllib.Request",
        "http.client.connect", "smtplib.connect", "ftplib.connect", "webbrowser.open",
    ]
)  # fmt: skip
PROCESSES = frozenset(["os.system", "os.exec", "os.posix_spawn", "os.spawn", "subprocess.Popen"])
PATHS = {
    "os.mkdir": 1, "os.rename": 2, "os.remove": 1, "os.rmdir": 1, "os.truncate": 1, "os.chmod": 1,
    "os.link": 2, "os.symlink": 2, "os.chown": 1, "os.utime": 1, "shutil.rmtree": 1,
}  # fmt: skip
WRITING = os.O_WRONLY | os.O_RDWR | os.O_CREAT | os.O_TRUNC | os.O_APPEND


def watch(log: str) -> None:
    """Note what is written from now on, and refuse the network."""
    descriptor = os.open(log, os.O_WRONLY | os.O_CREAT | os.O_APPEND, 0o600)

    def note(event: str, *paths: Any) -> None:
        shown = [
            os.fsdecode(path) if isinstance(path, str | bytes) else repr(path) for path in paths
        ]
        os.write(descriptor, (json.dumps([event, *shown]) + "\n").encode())

    def hook(event: str, arguments: tuple[Any, ...]) -> None:
        if event in NETWORK:
            note(event)
            raise PermissionError(f"{event}: the network is denied")
        if event in PROCESSES:
            note(event)
        elif event in PATHS:
            note(event, *(os.path.abspath(one) for one in arguments[: PATHS[event]]
                          if isinstance(one, str | bytes | os.PathLike)))  # fmt: skip
        elif event == "open":
            path, mode, flags = arguments
            writes = (mode is not None and any(one in mode for one in "wax+")) or flags & WRITING
            if writes and isinstance(path, str | bytes | os.PathLike):
                note("open", os.path.abspath(path))

    sys.addaudithook(hook)


def main() -> int:
    """Run one command of the program, watched."""
    watch(sys.argv[1])
    from commission import cli

    return cli.main(sys.argv[2:])


if __name__ == "__main__":
    sys.exit(main())
