"""Writing a file that was not there before: nothing is ever overwritten."""

from __future__ import annotations

from pathlib import Path

from commission.host import Disk, could_not_write, write_new
from commission.problems import InputRefused
from commission.text import visible


def write_new_file(content: str, named: str | None, beside: Path, disk: Disk) -> Path:
    """Write a new file: as it is named, else at `beside` under a name that is free.

    Returns where it lies; raises InputRefused, CouldNotWrite.
    """
    path, number = Path(named) if named is not None else beside, 1
    while True:
        try:
            write_new(disk, path, content.encode("utf-8"))
            disk.sync_directory(path.absolute().parent)
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
