"""A disk that refuses: plain words, nothing confirmed is lost, and trying again works."""

from __future__ import annotations

import errno
import resource
import shutil
import tomllib
from pathlib import Path

import pytest

from commission.host import Disk, write_atomically
from commission.problems import EXIT_NOT_WRITTEN, CouldNotWrite, InputRefused
from commission.record.folder import create_job, find_jobs
from commission.record.journal import Journal
from tests.record.examples import (
    FOLDER,
    HEADER,
    NOON,
    ORIGIN,
    RECORD_PATH,
    SITE_PATH,
    answer,
    disk_with_record,
    now,
)
from tests.record.simulated_disk import SimulatedDisk

WORDS = {
    errno.ENOSPC: "disk is full",
    errno.EIO: "disk reports a fault",
    errno.EROFS: "read-only",
    errno.EACCES: "read-only",
    errno.ENOENT: "folder is gone",
}


def _texts(disk: SimulatedDisk) -> list[str]:
    return [entry.text for entry in Journal.open(RECORD_PATH, disk, now).entries]


@pytest.mark.parametrize("failure", WORDS)
@pytest.mark.parametrize("call", ["write", "sync"])
def test_an_append_that_fails_changes_nothing_and_can_be_tried_again(
    call: str, failure: int
) -> None:
    disk = disk_with_record(answer("one"))
    journal = Journal.open(RECORD_PATH, disk, now).journal
    before = disk.read(RECORD_PATH)
    disk.fails = lambda called, number: failure if called == call else 0
    for _ in range(3):
        with pytest.raises(CouldNotWrite, match=WORDS[failure]) as refused:
            journal.append([answer("two"), answer("three")])
        assert "then retry" in str(refused.value)
        assert refused.value.exit_code == EXIT_NOT_WRITTEN
    disk.fails = lambda called, number: 0
    written = journal.append([answer("two"), answer("three")])
    assert [entry.number for entry in written] == [2, 3]
    assert disk.read(RECORD_PATH).startswith(before)
    assert _texts(disk.after_power_cut()) == ["one", "two", "three"]


def test_what_was_refused_is_not_there_when_the_program_ends_instead_of_trying_again() -> None:
    disk = disk_with_record(answer("one"))
    journal = Journal.open(RECORD_PATH, disk, now).journal
    disk.fails = lambda called, number: errno.EIO if called == "sync" else 0
    with pytest.raises(CouldNotWrite):
        journal.append([answer("two")])
    disk.fails = lambda called, number: 0
    journal.close()
    assert _texts(disk.after_power_cut()) == ["one"]


def test_what_was_refused_is_not_there_when_the_program_is_killed_then() -> None:
    disk = disk_with_record(answer("one"))
    journal = Journal.open(RECORD_PATH, disk, now).journal
    disk.fail_at(disk.calls + 2, errno.EIO)
    with pytest.raises(CouldNotWrite):
        journal.append([answer("two")])
    assert _texts(disk.after_power_cut()) == ["one"]


@pytest.mark.parametrize("failure", [errno.ENOSPC, errno.EROFS])
def test_a_job_that_can_t_be_made_leaves_nothing_behind(failure: int) -> None:
    call = refusals = 0
    while True:
        call += 1
        disk = SimulatedDisk()
        disk.put(SITE_PATH, ORIGIN.site)
        disk.fail_at(call, failure)
        try:
            create_job(SITE_PATH, ORIGIN, disk, NOON)
        except CouldNotWrite:
            refusals += 1
        else:
            break
        jobs = {job.path.name for job in find_jobs(SITE_PATH, disk)}
        assert set(disk.names(SITE_PATH.parent)) == {SITE_PATH.name} | jobs
    assert call == refusals + 1 > 10


@pytest.mark.parametrize("failure", [errno.ENOSPC, errno.EIO])
def test_a_recovery_that_fails_leaves_the_torn_record_as_it_was(failure: int) -> None:
    call = 0
    while True:
        call += 1
        disk = disk_with_record(answer("one"))
        torn = disk.read(RECORD_PATH) + b"\n[[entry]]\nnum"
        disk.put(RECORD_PATH, torn)
        disk.fail_at(disk.calls + call, failure)
        try:
            Journal.open(RECORD_PATH, disk, now)
        except CouldNotWrite:
            disk.fails = lambda called, number: 0
            assert disk.read(RECORD_PATH) == torn or _texts(disk)[0] == "one"
            assert len(_texts(disk)) == 2
        else:
            break
    assert call > 6


def test_a_file_that_can_t_be_replaced_stays_as_it_was() -> None:
    call = 0
    while True:
        call += 1
        disk = SimulatedDisk()
        disk.put(FOLDER / "report.toml", b"old")
        disk.fail_at(call, errno.ENOSPC)
        try:
            write_atomically(disk, FOLDER / "report.toml", b"new")
        except CouldNotWrite:
            assert disk.names(FOLDER) == ["report.toml"]
            assert disk.read(FOLDER / "report.toml") in (b"old", b"new")
        else:
            break
    assert call > 4


# The same on the disk of this machine, against another hand.


@pytest.fixture
def record(tmp_path: Path) -> Path:
    path = tmp_path / "job" / "record.toml"
    path.parent.mkdir()
    Journal.create(path, HEADER, Disk())
    return path


def test_a_record_on_a_real_disk_is_toml_after_each_confirmation(record: Path) -> None:
    journal = Journal.open(record, Disk(), now).journal
    for number in range(1, 6):
        journal.append([answer(f"{number} ohm")])
        table = tomllib.loads(record.read_text(encoding="utf-8"))
        assert [entry["text"] for entry in table["entry"]][-1] == f"{number} ohm"
    journal.close()
    opened = Journal.open(record, Disk(), now)
    opened.journal.close()
    assert [entry.text for entry in opened.entries] == [f"{n} ohm" for n in range(1, 6)]


def test_the_folder_is_removed_and_put_back(record: Path, tmp_path: Path) -> None:
    journal = Journal.open(record, Disk(), now).journal
    journal.append([answer("one")])
    record.parent.rename(tmp_path / "elsewhere")
    with pytest.raises(CouldNotWrite, match="the folder is gone"):
        journal.append([answer("two")])
    (tmp_path / "elsewhere").rename(record.parent)
    journal.append([answer("two")])
    journal.close()
    opened = Journal.open(record, Disk(), now)
    opened.journal.close()
    assert [entry.text for entry in opened.entries] == ["one", "two"]


def test_the_folder_is_removed_for_good(record: Path) -> None:
    journal = Journal.open(record, Disk(), now).journal
    shutil.rmtree(record.parent)
    with pytest.raises(CouldNotWrite, match="the folder is gone"):
        journal.append([answer()])
    journal.close()
    assert not record.parent.exists()


def test_a_record_replaced_by_another_hand_is_not_written_to(record: Path) -> None:
    journal = Journal.open(record, Disk(), now).journal
    content = record.read_bytes()
    copy = record.with_name("copy")
    copy.write_bytes(content)
    copy.replace(record)
    with pytest.raises(CouldNotWrite, match="replaced it while this job was open"):
        journal.append([answer()])
    journal.close()
    assert record.read_bytes() == content


@pytest.mark.parametrize("other", [b"", b"# a line of another program\n"])
def test_a_record_changed_by_another_hand_is_not_written_to(record: Path, other: bytes) -> None:
    journal = Journal.open(record, Disk(), now).journal
    content = record.read_bytes() + other if other else b""
    record.write_bytes(content)
    with pytest.raises(CouldNotWrite, match="changed it while this job was open"):
        journal.append([answer()])
    journal.close()
    assert record.read_bytes() == content


def test_a_write_that_the_system_cuts_short_is_taken_back(record: Path) -> None:
    journal = Journal.open(record, Disk(), now).journal
    (first,) = journal.append([answer("one")])
    content = record.read_bytes()
    soft, hard = resource.getrlimit(resource.RLIMIT_FSIZE)
    resource.setrlimit(resource.RLIMIT_FSIZE, (len(content) + 100, hard))
    try:
        with pytest.raises(CouldNotWrite, match="largest size allowed"):
            journal.append([answer("two")])
    finally:
        resource.setrlimit(resource.RLIMIT_FSIZE, (soft, hard))
    assert record.read_bytes() == content
    (second,) = journal.append([answer("two")])
    journal.close()
    opened = Journal.open(record, Disk(), now)
    opened.journal.close()
    assert opened.entries == (first, second)


def test_nothing_is_written_when_one_of_several_entries_can_t_be(record: Path) -> None:
    journal = Journal.open(record, Disk(), now).journal
    content = record.read_bytes()
    with pytest.raises(InputRefused, match="can't be written down"):
        journal.append([answer(), answer("\x1b[2J")])
    assert record.read_bytes() == content
    assert journal.append([]) == ()
    journal.close()
