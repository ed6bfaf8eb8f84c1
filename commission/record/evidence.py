"""Photos and documents: copied into the job's `evidence/` folder, named after their step."""

from __future__ import annotations

import hashlib
import re
from pathlib import Path

from commission.host import Disk, could_not_write, write_atomically
from commission.problems import InputRefused
from commission.text import clean, visible

EVIDENCE = "evidence"
MAX_EVIDENCE_BYTES = 50_000_000  # judgement: a long video belongs elsewhere
_MAX_STEM = 150  # characters: together with number and ending below every system's limit
_ENDING = re.compile(r"\.[a-z0-9]{1,8}")
_NOT_IN_NAMES = re.compile(r"[^A-Za-z0-9._-]+")


def attach_file(disk: Disk, folder: Path, step: str, source: Path) -> tuple[str, str]:
    """Copy a file into a job, private and synced.

    Returns its name within the job's folder ("evidence/path_A_end_B12_loop-resistance-1.jpg") and
    its SHA-256. Raises InputRefused for a file that can't be taken, CouldNotWrite.
    """
    content = _content(disk, source)
    target = folder / EVIDENCE
    try:
        if EVIDENCE not in disk.names(folder):  # many ways of copying a job drop empty folders
            disk.make_directory(target)
            disk.sync_directory(folder)
        taken = {name.lower() for name in disk.names(target)}
    except OSError as error:
        raise could_not_write(target, error) from error
    name = _free_name(step, source.suffix, taken)
    write_atomically(disk, target / name, content)
    return f"{EVIDENCE}/{name}", hashlib.sha256(content).hexdigest()


def _content(disk: Disk, source: Path) -> bytes:
    shown = visible(str(source))
    try:
        clean(source.name)
        if not disk.stamp(source).is_file:
            raise InputRefused(f"{shown} is not a file")
        content = disk.read(source, MAX_EVIDENCE_BYTES + 1)
    except OSError as error:
        raise InputRefused(f"{shown} can't be read: {error.strerror or error}") from error
    except ValueError as error:
        raise InputRefused(f"the name of {shown}: {error}") from None
    if len(content) > MAX_EVIDENCE_BYTES:
        megabytes = MAX_EVIDENCE_BYTES // 1_000_000
        raise InputRefused(f"{shown} is larger than {megabytes} MB; attach a smaller copy")
    return content


def _free_name(step: str, suffix: str, taken: set[str]) -> str:
    stem = _NOT_IN_NAMES.sub("_", step)[:_MAX_STEM] or "job"
    ending = suffix.lower() if _ENDING.fullmatch(suffix.lower()) else ""
    number = 1
    while (name := f"{stem}-{number}{ending}").lower() in taken:
        number += 1
    return name
