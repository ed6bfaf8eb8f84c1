"""`commission print`: what is taken along on paper, made from whatever is named."""

from __future__ import annotations

import argparse
from pathlib import Path
from typing import TYPE_CHECKING

from commission.commands.say import say
from commission.problems import EXIT_DONE, InputRefused
from commission.text import visible

if TYPE_CHECKING:
    from commission.host import Disk


def run(options: argparse.Namespace) -> int:
    """Write the pages beside what was named, or to the file that was, and say where they are."""
    from commission.asked import located
    from commission.commands import print_sheet
    from commission.host import Disk

    disk = Disk()
    notices: list[str] = []
    place = located(options.target, disk, notices)
    for notice in notices:
        say(notice)
    if place.kind == "job":
        content, beside = print_sheet.of_job(place.path, options.job, disk)
    else:
        content, beside = print_sheet.of_site(place.path, options.job, disk)
    say(str(_written(content, options.output, beside, disk)))
    return EXIT_DONE


def _written(content: str, named: str | None, beside: Path, disk: Disk) -> Path:
    """Write a new file: as it is named, else beside the original under a name that is free."""
    from commission.host import could_not_write, write_new

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
