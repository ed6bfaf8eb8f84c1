"""One program per job: a lock that the system lets go of when its program ends, however it ends.

The lock is held on the open file `lock`; what is written in it only says who holds it.
"""

from __future__ import annotations

import contextlib
import errno
import getpass
import os
import socket
import time
import tomllib
from collections.abc import Callable
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import BinaryIO

import tomli_w

from commission import host
from commission.problems import CouldNotWrite, HeldByAnother
from commission.text import visible

LOCK = "lock"
KIND = "commission lock"
FORMAT = 1
_NOT_OPENED = "the job was not opened"
_HOLDER_WRITES_WITHIN_S = 0.02
_MAX_HOLDER_BYTES = 4_000


@dataclass(frozen=True, slots=True)
class JobLock:
    """A job held by this program until `release`."""

    file: BinaryIO
    told_in: Path

    def release(self) -> None:
        """Let others open the job. The file stays: removing it could split one lock in two."""
        with contextlib.suppress(OSError):  # what it says counts only while the lock is held
            os.truncate(self.told_in, 0)
        self.file.close()


def hold(folder: Path, now: Callable[[], datetime]) -> JobLock:
    """Hold a job for this program.

    Raises HeldByAnother with who and since when, CouldNotWrite when the folder takes no lock.
    """
    from filelock import lock_descriptor  # 10 ms, and only an opened job needs it

    path = folder / LOCK
    told_in = path if host.LOCKED_FILE_IS_READABLE else folder / "lock-holder.toml"
    try:
        file = host.open_shared(path)
    except OSError as error:
        raise host.could_not_write(path, error, _NOT_OPENED) from error
    try:
        held = lock_descriptor(file.fileno(), blocking=False)
        if held:
            _tell(told_in, now())
    except OSError as error:
        file.close()
        if error.errno in (errno.ENOSYS, errno.ENOTSUP, errno.ENOLCK):
            raise CouldNotWrite(
                f"{path} can't be locked ({error}): keep the job on a disk of this machine"
            ) from error
        raise host.could_not_write(path, error, _NOT_OPENED) from error
    if not held:
        file.close()
        raise HeldByAnother(_who_holds(folder, told_in))
    return JobLock(file, told_in)


def _tell(path: Path, now: datetime) -> None:
    """Write who holds the job. It need not survive a power cut: neither does the lock."""
    holder = {
        "kind": KIND,
        "format": FORMAT,
        "who": visible(_user(), 100),
        "host": visible(socket.gethostname(), 100),
        "pid": os.getpid(),
        "since": now.replace(microsecond=0),
    }
    with host.open_shared(path) as file:
        file.truncate(0)
        file.write(tomli_w.dumps(holder).encode("utf-8"))


def _user() -> str:
    try:
        return getpass.getuser()
    except (OSError, KeyError, ImportError):
        return "someone"


def _who_holds(folder: Path, told_in: Path) -> str:
    """Words for the person who is refused; the holder may just be writing its own down."""
    name = visible(folder.name, 200)
    for _ in range(5):
        time.sleep(_HOLDER_WRITES_WITHIN_S)
        try:
            with told_in.open("rb") as file:
                holder = tomllib.loads(file.read(_MAX_HOLDER_BYTES).decode("utf-8"))
            since = holder["since"].strftime("%Y-%m-%d %H:%M:%S %z").strip()
            who = f"{visible(str(holder['who']), 100)} on {visible(str(holder['host']), 100)}"
        except (OSError, ValueError, KeyError, AttributeError, RecursionError):
            continue
        return f"{name} is open in another program: {who}, since {since}; close it there first"
    return f"{name} is open in another program; close it there first"
