"""Writing a new file: nothing is ever overwritten, and what it replaces is kept beside it."""

from __future__ import annotations

import contextlib
from datetime import datetime
from pathlib import Path

from commission.host import Disk, could_not_write, write_atomically, write_new
from commission.problems import InputRefused
from commission.text import visible


def write_new_file(content: str | bytes, named: str | None, beside: Path, disk: Disk) -> Path:
    """Write a new file: as it is named, else at `beside` under a name that is free.

    Returns where it lies; raises InputRefused, CouldNotWrite.
    """
    path, number = Path(named) if named is not None else beside, 1
    data = content if isinstance(content, bytes) else content.encode("utf-8")
    while True:
        try:
            _write_whole(disk, path, data)
        except FileExistsError:
            if named is not None:
                words = f"{visible(str(path))} is there already, and nothing is overwritten"
                raise InputRefused(f"{words}; name another file") from None
            number += 1
            path = beside.with_stem(f"{beside.stem}-{number}")
            continue
        except ValueError as error:  # a name that no file can have
            raise InputRefused(f"{visible(str(path))}: {error}") from None
        except OSError as error:
            raise could_not_write(path, error) from error
        return path


def kept_name(path: Path, disk: Disk, at: datetime, why: str = "before") -> Path:
    """A free name beside a file for what is kept of it at this time, and why.

    Raises CouldNotWrite where its folder can't be read.
    """
    try:
        taken = disk.names(path.absolute().parent)
    except OSError as error:
        raise could_not_write(path, error) from error
    stem, number = f"{path.stem}.{why}-{at:%Y-%m-%dT%H-%M}", 1
    kept = path.with_name(f"{stem}{path.suffix}")
    while kept.name in taken:
        number += 1
        kept = path.with_name(f"{stem}-{number}{path.suffix}")
    return kept


def replace_file(content: str, path: Path, disk: Disk, at: datetime) -> Path:
    """Write a file in the place of the one that is there, which stays beside it; returns where.

    The old one is whole on the medium under its other name before the new one takes its place:
    whenever this ends, the old content is there, and the file is one or the other, whole.
    Raises InputRefused for what is no file, CouldNotWrite.
    """
    kept = kept_name(path, disk, at)
    try:
        if not disk.stamp(path).is_file:
            raise InputRefused(f"{visible(str(path))} is no file; name another")
        _write_whole(disk, kept, disk.read(path))
    except OSError as error:
        raise could_not_write(path, error) from error
    write_atomically(disk, path.resolve(), content.encode("utf-8"))
    return kept


def _write_whole(disk: Disk, path: Path, data: bytes) -> None:
    """Write a new file and its name to the medium; nothing is left of one that the disk refused."""
    try:
        write_new(disk, path, data)
    except FileExistsError:
        raise
    except OSError:
        with contextlib.suppress(OSError):
            disk.remove(path)
        raise
    disk.sync_directory(path.absolute().parent)
