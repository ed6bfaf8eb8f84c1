"""What differs between Linux, macOS and Windows, and the one door to the disk.

Everything that the record, the job folder and the report do to the disk goes through a `Disk`, so
that tests can put one in its place that loses power after any call.
"""

from __future__ import annotations

import errno
import itertools
import os
import re
import shutil
import signal
import stat
import sys
from dataclasses import dataclass
from pathlib import Path
from typing import BinaryIO

from commission.problems import CouldNotWrite

PRIVATE_FOLDER = 0o700
PRIVATE_FILE = 0o600
# Windows keeps other programs from reading the locked part of a file.
LOCKED_FILE_IS_READABLE = sys.platform != "win32"
TERMINATION_SIGNALS: tuple[signal.Signals, ...] = tuple(
    getattr(signal, name) for name in ("SIGTERM", "SIGHUP") if hasattr(signal, name)
)
_FLAGS = getattr(os, "O_BINARY", 0) | getattr(os, "O_CLOEXEC", 0) | getattr(os, "O_NOINHERIT", 0)
# What some network and user-space file systems answer to the fsync of a directory.
_NO_SUCH_SYNC = {errno.EINVAL, errno.ENOTSUP, errno.EBADF}
_temporary_numbers = itertools.count(1)


@dataclass(frozen=True, slots=True)
class Stamp:
    """Which file stands under a name now, and how long it is."""

    device: int
    inode: int
    size: int
    is_file: bool


class DiskFile:
    """An open file that only grows at its end or is cut. Every call raises OSError."""

    def __init__(self, descriptor: int) -> None:
        self._descriptor = descriptor

    def write(self, data: bytes) -> None:
        """Add all of `data` at the end; after an error an unknown part of it stands there."""
        rest = memoryview(data)
        while rest:
            written = os.write(self._descriptor, rest)
            if written <= 0:
                raise OSError(errno.EIO, "nothing was written")
            rest = rest[written:]

    def truncate(self, size: int) -> None:
        """Cut the file to `size` bytes."""
        os.ftruncate(self._descriptor, size)

    def sync(self) -> None:
        """Return once the content is on the medium itself."""
        _sync_fully(self._descriptor)

    def stamp(self) -> Stamp:
        """Which file this is, whatever its name by now."""
        return _stamp(os.fstat(self._descriptor))

    def close(self) -> None:
        """Let go of the file."""
        os.close(self._descriptor)


class Disk:
    """The disk of this machine; what it makes is private to the user. Calls raise OSError."""

    def make_directory(self, path: Path) -> None:
        """Make one new folder."""
        path.mkdir(mode=PRIVATE_FOLDER)

    def create(self, path: Path) -> DiskFile:
        """Make a new file, open at its end; FileExistsError when the name is taken."""
        flags = os.O_WRONLY | os.O_CREAT | os.O_EXCL | os.O_APPEND | _FLAGS
        return DiskFile(os.open(path, flags, PRIVATE_FILE))

    def open_at_end(self, path: Path) -> DiskFile:
        """Open a file that exists, to add to it."""
        return DiskFile(os.open(path, os.O_WRONLY | os.O_APPEND | _FLAGS))

    def read(self, path: Path, limit: int | None = None) -> bytes:
        """The bytes of a file, at most `limit` of them."""
        with path.open("rb") as file:
            return file.read() if limit is None else file.read(limit)

    def stamp(self, path: Path) -> Stamp:
        """What stands under a name now."""
        return _stamp(path.stat())

    def names(self, path: Path) -> list[str]:
        """The names in a folder, sorted."""
        return sorted(os.listdir(path))

    def rename_directory(self, source: Path, target: Path) -> None:
        """Give a folder another name; fails when a folder with something in it has that name."""
        source.rename(target)

    def replace(self, source: Path, target: Path) -> None:
        """Put one file in the place of another, at once."""
        source.replace(target)

    def copy_permissions(self, source: Path, target: Path) -> None:
        """Let whoever may read and write one file do so with another."""
        shutil.copymode(source, target)

    def remove(self, path: Path) -> None:
        """Remove one file."""
        path.unlink()

    def remove_directory(self, path: Path) -> None:
        """Remove a folder with everything in it, as far as it goes."""
        shutil.rmtree(path, ignore_errors=True)

    def sync_directory(self, path: Path) -> None:
        """Return once the names in a folder are on the medium; Windows has no such call."""
        if sys.platform == "win32":
            return
        descriptor = os.open(path, os.O_RDONLY | _FLAGS)
        try:
            _sync_fully(descriptor)
        except OSError as error:
            if error.errno not in _NO_SUCH_SYNC:
                raise
        finally:
            os.close(descriptor)


def write_new(disk: Disk, path: Path, data: bytes) -> None:
    """Write a new private file and sync its content; its name is synced with its folder.

    Raises OSError, FileExistsError when the name is taken.
    """
    file = disk.create(path)
    try:
        file.write(data)
        file.sync()
    finally:
        file.close()


def stands_there(disk: Disk, path: Path) -> bool:
    """Whether a name is taken; raises CouldNotWrite where its folder does not tell."""
    try:
        return path.name in disk.names(path.parent)
    except FileNotFoundError:
        return False
    except OSError as error:
        raise could_not_write(path, error) from None


def write_atomically(
    disk: Disk, path: Path, data: bytes, *, permissions_of: Path | None = None
) -> None:
    """Put a file with this content in the place of `path`: whole, or as it was.

    It is private, or may be read and written like another file. Raises CouldNotWrite.
    """
    try:
        temporary = _write_temporary(disk, path, data)
        try:
            if permissions_of is not None:
                disk.copy_permissions(permissions_of, temporary)
            disk.replace(temporary, path)
        except OSError:
            _remove_if_possible(disk, temporary)
            raise
        disk.sync_directory(path.parent)
    except OSError as error:
        raise could_not_write(path, error) from error


def write_first(disk: Disk, path: Path, data: bytes) -> None:
    """Put a file where nothing stands: whole, or nothing stands there still. Raises CouldNotWrite.

    The last call of all may be the one that fails; a file that stands there all the same is taken
    away again, so that whoever was refused can try once more.
    """
    try:
        write_atomically(disk, path, data)
    except CouldNotWrite:
        _remove_if_possible(disk, path)
        raise


def _write_temporary(disk: Disk, path: Path, data: bytes) -> Path:
    """Write a file beside `path` under a name of its own; nothing is left when that fails."""
    while True:
        number = next(_temporary_numbers)
        temporary = path.with_name(f".{path.name}.{os.getpid()}-{number}.new")
        try:
            write_new(disk, temporary, data)
        except FileExistsError:
            continue
        except OSError:
            _remove_if_possible(disk, temporary)
            raise
        return temporary


def is_temporary(name: str) -> bool:
    """Whether `write_atomically` gave a file this name, until its content was whole."""
    return re.fullmatch(r"\..+\.\d+-\d+\.new", name) is not None


def _remove_if_possible(disk: Disk, path: Path) -> None:
    try:
        disk.remove(path)
    except OSError:
        return


def open_shared(path: Path) -> BinaryIO:
    """Open a private file that several programs may hold, made where missing; raises OSError."""
    descriptor = os.open(path, os.O_RDWR | os.O_CREAT | _FLAGS, PRIVATE_FILE)
    return os.fdopen(descriptor, "r+b", buffering=0)


def could_not_write(path: Path, error: OSError, what: str = "") -> CouldNotWrite:
    """An error of the disk in plain words: what was not done, why, what to do.

    Without `what` it is the file that was not written.
    """
    why, remedy = _WORDS.get(
        error.errno or 0,
        (error.strerror or str(error), "copy the job's folder to another disk"),
    )
    what = what or f"{path.name} was not written"
    return CouldNotWrite(f"{what}: {why}. To go on: {remedy}, then retry.")


_READ_ONLY = ("the folder or the disk is read-only", "make the folder writable")
_GONE = ("the folder is gone", "put the folder or the disk back in its place")
_FAULT = ("the disk reports a fault", "copy the job's folder to another disk")
_WORDS = {
    errno.ENOSPC: ("the disk is full", "free some space"),
    getattr(errno, "EDQUOT", -1): ("your share of the disk is used up", "free some space"),
    errno.EFBIG: ("the file has reached the largest size allowed", "raise the limit"),
    errno.EROFS: _READ_ONLY,
    errno.EACCES: _READ_ONLY,
    errno.EPERM: _READ_ONLY,
    errno.ENOENT: _GONE,
    errno.ENOTDIR: _GONE,
    errno.ENODEV: _GONE,
    errno.EIO: _FAULT,
}


def _stamp(found: os.stat_result) -> Stamp:
    return Stamp(found.st_dev, found.st_ino, found.st_size, stat.S_ISREG(found.st_mode))


def _sync_fully(descriptor: int) -> None:
    """Sync a file or folder; on macOS only F_FULLFSYNC empties the drive's own cache as well."""
    if sys.platform == "darwin":
        import fcntl

        try:
            fcntl.fcntl(descriptor, fcntl.F_FULLFSYNC)
        except OSError:
            os.fsync(descriptor)  # network volumes do not know F_FULLFSYNC
    else:
        os.fsync(descriptor)
