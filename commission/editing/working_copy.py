"""Changes of a site file that are not written into it yet: its text as it stands, in one file.

It lies in the user's folder and is on the disk before a change counts, so that a battery that dies
loses nothing; one program at a time works on it.
"""

from __future__ import annotations

import hashlib
import json
import re
import tomllib
from collections.abc import Callable
from contextlib import suppress
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import Any

import tomli_w

from commission.host import Disk, could_not_write, stands_there, write_atomically
from commission.problems import InputRefused, Problem
from commission.record.lock import JobLock, hold
from commission.site.changes.words import Told
from commission.text import visible
from commission.user.folder import data_folder, make_private

FOLDER, NAME = "edits", "working-copy.toml"
KIND, FORMAT = "commission working copy", 1


@dataclass(frozen=True, slots=True)
class Origin:
    """The file from which changes began."""

    sha256: str
    text: str

    @classmethod
    def of(cls, text: str) -> Origin:
        """A file with this text."""
        return cls(sha256(text.encode("utf-8")), text)


@dataclass(frozen=True, slots=True)
class Kept:
    """A text not written into its file: when it was kept, and which file it began from."""

    text: str
    changes: tuple[Told, ...]
    kept_at: datetime
    origin: Origin


def sha256(content: bytes) -> str:
    """The digest by which a file is known again."""
    return hashlib.sha256(content).hexdigest()


def place_of(site_file: Path) -> Path:
    """Where the working copy of a site file lies while there is one."""
    name = re.sub(r"[^A-Za-z0-9._-]+", "-", site_file.stem)[:40]
    digest = sha256(str(site_file).encode("utf-8", "surrogatepass"))
    return data_folder() / FOLDER / f"{name}-{digest[:12]}" / NAME


def is_kept(site_file: Path, disk: Disk) -> bool:
    """Whether changes of a site file were kept, whatever became of it. Raises CouldNotWrite."""
    try:
        resolved = site_file.resolve()
    except (OSError, RuntimeError, ValueError):  # links in a circle; a name that no file can have
        return False
    return stands_there(disk, place_of(resolved))


class WorkingCopy:
    """The place of the working copy of one site file, held by this program until `release`."""

    def __init__(self, site_file: Path, disk: Disk, now: Callable[[], datetime]) -> None:
        """Raises HeldByAnother, CouldNotWrite."""
        self._site_file, self._disk, self._now = site_file, disk, now
        self.path = place_of(site_file)  # where it lies while there is one
        make_private(self.path.parent.parent)
        self.folder = make_private(self.path.parent)
        self._lock: JobLock = hold(self.folder, now)

    def read(self) -> Kept | None:
        """What was kept; None where nothing was. Raises InputRefused where it can't be read."""
        try:
            table = tomllib.loads(self._disk.read(self.path).decode("utf-8"))
            return _kept(table)
        except FileNotFoundError:
            return None
        except (OSError, ValueError, KeyError, TypeError) as error:
            words = f"the changes kept here can't be read: {visible(str(error), 200)}"
            remedy = "move this file away to begin from the site file"
            raise InputRefused([Problem(str(self.path), words, remedy=remedy)]) from error

    def keep(self, text: str, changes: tuple[Told, ...], origin: Origin) -> None:
        """Put a text in the place of what was kept; it is on the disk afterwards.

        Raises CouldNotWrite.
        """
        table = {
            "kind": KIND,
            "format": FORMAT,
            "site_file": visible(str(self._site_file)),
            "began_from": origin.sha256,
            "kept_at": self._now(),
            "changes": [list(told) for told in changes],
        }
        texts = f"text = {_text(text)}\nbegan_from_text = {_text(origin.text)}\n"
        data = f"{tomli_w.dumps(table)}{texts}".encode()
        write_atomically(self._disk, self.path, data)

    def drop(self) -> None:
        """Keep nothing any more; raises CouldNotWrite."""
        try:
            with suppress(FileNotFoundError):
                self._disk.remove(self.path)
            self._disk.sync_directory(self.folder)  # else it could come back after a power cut
        except OSError as error:
            raise could_not_write(self.path, error, "the working copy was not removed") from error

    def release(self) -> None:
        """Let other programs work on it."""
        self._lock.release()


def _text(text: str) -> str:
    """A long text as a TOML value: what escapes itself as JSON does, but for U+007F."""
    return json.dumps(text, ensure_ascii=False).replace("\x7f", "\\u007F")


def _kept(table: dict[str, Any]) -> Kept:
    if (table["kind"], table["format"]) != (KIND, FORMAT):
        raise ValueError("of another kind or format")
    kept_at = table["kept_at"]
    if not isinstance(kept_at, datetime):
        raise TypeError("kept_at is no time")
    changes = tuple((str(what), str(old), str(new)) for what, old, new in table["changes"])
    origin = Origin(str(table["began_from"]), str(table["began_from_text"]))
    return Kept(str(table["text"]), changes, kept_at, origin)
