"""The record on disk: opened with every digest verified, and only ever added to.

An entry counts as written once fsync has returned. Whatever goes wrong before that leaves the
journal as it was; the next try first cuts the file back to its last whole entry.
"""

from __future__ import annotations

import contextlib
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path

from commission.host import Disk, DiskFile, could_not_write, write_atomically, write_new
from commission.problems import CouldNotWrite, InputRefused
from commission.record import codec
from commission.record.chain import Verified, chained, verify
from commission.record.entry import Entry, Header

RECORD = "record.toml"
MAX_RECORD_BYTES = 64_000_000


@dataclass(frozen=True, slots=True)
class Opened:
    """A journal ready for more, what it holds, and the recovery entry if it was torn."""

    journal: Journal
    header: Header
    entries: tuple[Entry, ...]
    recovery: Entry | None


class Journal:
    """An open record. One program at a time: take the job's lock first."""

    def __init__(self, path: Path, disk: Disk, file: DiskFile, verified: Verified) -> None:
        self.path = path
        self._disk = disk
        self._file = file
        self._count = len(verified.entries)
        self._digest = verified.digest
        self._size = verified.size
        self._uncertain = False  # whether bytes of a failed write may stand behind `_size`

    @staticmethod
    def create(path: Path, header: Header, disk: Disk) -> None:
        """Write a new record without entries; its folder is for the caller to sync.

        Raises OSError, FileExistsError when there is one, ValueError for a header that can't be.
        """
        write_new(disk, path, codec.encode_header(header))

    @staticmethod
    def open(path: Path, disk: Disk, now: Callable[[], datetime]) -> Opened:
        """Open a record. A torn end is set aside beside it, and a recovery entry says so.

        Raises InputRefused when it can't be read or is damaged before its end (nothing is changed
        then), CouldNotWrite.
        """
        verified, recovery = _recovered(path, disk, now)
        try:
            file = disk.open_at_end(path)
        except OSError as error:
            raise could_not_write(path, error) from error
        journal = Journal(path, disk, file, verified)
        return Opened(journal, verified.header, verified.entries, recovery)

    def append(self, entries: Sequence[Entry], *, as_list: bool = False) -> tuple[Entry, ...]:
        """Write entries at one go; returns them, numbered and chained, once they are on disk.

        A write cut short keeps its whole entries; `as_list`, it keeps all or none. Raises
        CouldNotWrite (nothing has changed; the same call can be made again), InputRefused for an
        entry that a record can't hold.
        """
        if not entries:
            return ()
        try:
            data, written = chained(entries, self._count, self._digest, as_list=as_list)
        except ValueError as error:
            raise InputRefused(f"this can't be written down: {error}") from None
        try:
            self._restore()
            self._uncertain = True
            self._file.write(data)
            self._file.sync()
        except OSError as error:
            self._restore_if_possible()
            raise could_not_write(self.path, error) from error
        self._uncertain = False
        self._count += len(written)
        self._digest = written[-1].sha256
        self._size += len(data)
        return written

    def close(self) -> None:
        """Let go of the file; bytes of a failed write are cut off first, if that can be done."""
        self._restore_if_possible()
        with contextlib.suppress(OSError):  # all that was confirmed has been synced before
            self._file.close()

    def _restore(self) -> None:
        """Make sure that the file is still this record, and nothing but its whole entries."""
        own, named = self._file.stamp(), self._disk.stamp(self.path)
        if (own.device, own.inode) != (named.device, named.inode):
            raise CouldNotWrite(_CHANGED.format(self.path.name, "replaced"))
        if own.size < self._size or (own.size > self._size and not self._uncertain):
            raise CouldNotWrite(_CHANGED.format(self.path.name, "changed"))
        if self._uncertain:
            self._file.truncate(self._size)
            self._file.sync()
            self._uncertain = False

    def _restore_if_possible(self) -> None:
        if self._uncertain:
            try:
                self._restore()
            except (OSError, CouldNotWrite):
                return


_CHANGED = (
    "{0} was not written: another program has {1} it while this job was open. "
    "To go on: close this job, put the record back as it was, and open the job again."
)


def _recovered(
    path: Path, disk: Disk, now: Callable[[], datetime]
) -> tuple[Verified, Entry | None]:
    """Read and verify a record; one with a torn end is replaced, whole, by one that says so."""
    data = _read(path, disk)
    verified = verify(data, path.name)
    torn = data[verified.size :]
    if not torn:
        return verified, None
    aside = _set_aside(path, disk, torn)
    what = "an unfinished entry"
    if verified.cut_list:
        what = f"an unfinished list of {verified.cut_list} entries, which is to be entered again,"
    text = f"{len(torn)} bytes of {what} were set aside in {aside}"
    entry = Entry(number=0, type="recovery", text=text, file=aside, entered_at=now())
    added, (recovery,) = chained([entry], len(verified.entries), verified.digest)
    write_atomically(disk, path, data[: verified.size] + added)
    whole = Verified(
        header=verified.header,
        entries=(*verified.entries, recovery),
        size=verified.size + len(added),
        digest=recovery.sha256,
    )
    return whole, recovery


def _read(path: Path, disk: Disk) -> bytes:
    try:
        data = disk.read(path, MAX_RECORD_BYTES + 1)
    except OSError as error:
        raise InputRefused(f"{path} can't be read: {error.strerror or error}") from error
    if len(data) > MAX_RECORD_BYTES:
        raise InputRefused(f"{path} is larger than {MAX_RECORD_BYTES} bytes")
    return data


def _set_aside(path: Path, disk: Disk, torn: bytes) -> str:
    """Keep torn bytes beside the record; returns the name of the file that holds them."""
    try:
        taken = set(disk.names(path.parent))
        number = 1
        while (name := f"{path.stem}.torn-{number}{path.suffix}") in taken:
            if disk.read(path.with_name(name)) == torn:
                return name  # an earlier opening was itself interrupted
            number += 1
    except OSError as error:
        raise could_not_write(path, error) from error
    write_atomically(disk, path.with_name(name), torn)
    return name
