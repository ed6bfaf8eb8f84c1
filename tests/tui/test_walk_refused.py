"""When the disk refuses: plain words, what was typed stays on the screen, trying again works."""

from __future__ import annotations

import errno
import os
from pathlib import Path

import pytest

from commission.crew import Hands
from commission.host import Disk, DiskFile
from commission.opening import open_job
from commission.resources import samples
from commission.session import Session
from tests.tui.walking import Walk, play
from tests.walks import METER, OBSERVER, WRITER, clock, first, walk_until


class Trouble:
    """What a disk answers to each kind of call; 0 for doing it."""

    def __init__(self) -> None:
        self.write = 0
        self.sync = 0
        self.replace = 0


class TroubledFile(DiskFile):
    """A file that can be made to refuse."""

    def __init__(self, descriptor: int, trouble: Trouble) -> None:
        super().__init__(descriptor)
        self._trouble = trouble

    def write(self, data: bytes) -> None:
        """Refuse after half of the data, as a full disk does."""
        if self._trouble.write:
            super().write(data[: len(data) // 2])
            raise OSError(self._trouble.write, "refused")
        super().write(data)

    def sync(self) -> None:
        """Refuse, or sync."""
        if self._trouble.sync:
            raise OSError(self._trouble.sync, "refused")
        super().sync()


class TroubledDisk(Disk):
    """A disk whose files can be made to refuse."""

    def __init__(self, trouble: Trouble) -> None:
        self._trouble = trouble

    def open_at_end(self, path: Path) -> DiskFile:
        """Open the record as a file in trouble."""
        return TroubledFile(os.open(path, os.O_WRONLY | os.O_APPEND), self._trouble)

    def replace(self, source: Path, target: Path) -> None:
        """Refuse, or put a whole file in its place."""
        if self._trouble.replace:
            raise OSError(self._trouble.replace, "refused")
        super().replace(source, target)


def begin_in_trouble(folder: Path, trouble: Trouble) -> Session:
    """A job standing at its first loop, on a disk that can be made to refuse."""
    site = folder / "small-garden.toml"
    site.write_bytes(samples()["small-garden"].read_bytes())
    session = open_job(site, disk=TroubledDisk(trouble), now=clock())
    session.crew.take(Hands(observed_by=OBSERVER, entered_by=WRITER, instrument=METER))
    walk_until(session, first(session, lambda step: step.item.compare == "loop-resistance"))
    return session


WORDS = {
    errno.ENOSPC: "the disk is full. To go on: free some space",
    errno.EROFS: "read-only. To go on: make the folder writable",
    errno.ENOENT: "the folder is gone. To go on: put the folder",
    errno.EIO: "the disk reports a fault",
}


@pytest.mark.parametrize("call", ["write", "sync"])
@pytest.mark.parametrize("number", WORDS, ids=errno.errorcode.get)
def test_an_answer_the_disk_refuses_stays_typed_and_enter_tries_again(
    tmp_path: Path, call: str, number: int
) -> None:
    trouble = Trouble()
    session = begin_in_trouble(tmp_path, trouble)
    record = session.job.folder / "record.toml"
    before = record.read_bytes()

    async def scene(walk: Walk) -> None:
        step_id, count = walk.walk.step_id, len(walk.kept())
        await walk.press("2.22")
        setattr(trouble, call, number)
        for _ in range(2):
            await walk.press("enter")
            await walk.shows("record.toml was not written")
            assert WORDS[number] in " ".join(walk.text.split())
            assert walk.typed == "2.22"
            assert (walk.walk.step_id, len(walk.kept())) == (step_id, count)
        setattr(trouble, call, 0)
        await walk.press("enter")
        await walk.shows(f"entry {count + 1}")
        assert "Saved on disk" in walk.text
        assert walk.kept()[-1] == ("answer", "2.22")
        assert walk.walk.step_id != step_id

    play(session, scene)
    assert record.read_bytes().startswith(before)


def test_a_form_the_disk_refuses_stays_filled_in_and_can_be_tried_again(tmp_path: Path) -> None:
    trouble = Trouble()
    session = begin_in_trouble(tmp_path, trouble)

    async def scene(walk: Walk) -> None:
        await walk.menu("Raise a defect")
        trouble.sync = errno.ENOSPC
        await walk.finish(text="lid is cracked", action="bring a new lid")
        await walk.shows("the disk is full")
        await walk.shows("lid is cracked")
        assert not session.job.open_defects
        trouble.sync = 0
        await walk.finish()
        await walk.until(lambda: len(session.job.open_defects) == 1, "the defect")
        assert session.job.open_defects[0].text == "lid is cracked"

    play(session, scene)


def test_a_report_the_disk_refuses_is_not_signed_and_can_be_tried_again(tmp_path: Path) -> None:
    trouble = Trouble()
    session = begin_in_trouble(tmp_path, trouble)
    report = session.job.folder / "report.toml"

    async def scene(walk: Walk) -> None:
        trouble.replace = errno.ENOSPC
        await walk.menu("Sign and save the report")
        await walk.finish(company="Example (invented)", licence="L-1", accept="yes")
        await walk.shows("report.toml was not written")
        assert not session.job.signed
        trouble.replace = 0
        await walk.finish()
        await walk.until(lambda: session.job.signed, "the signed report")

    play(session, scene)
    assert report.is_file()


def test_a_folder_that_is_gone_is_said_and_its_return_is_enough(tmp_path: Path) -> None:
    session = begin_in_trouble(tmp_path, Trouble())
    folder = session.job.folder

    async def scene(walk: Walk) -> None:
        count = len(walk.kept())
        folder.rename(tmp_path / "elsewhere")
        await walk.press("2.22", "enter")
        await walk.shows("the folder is gone")
        assert walk.typed == "2.22"
        (tmp_path / "elsewhere").rename(folder)
        await walk.press("enter")
        await walk.until(lambda: len(walk.kept()) == count + 1, "the answer")

    play(session, scene)
