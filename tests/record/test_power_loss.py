"""The power cut after every single call: what was confirmed is there, once and in order."""

from __future__ import annotations

import errno
import tomllib
from collections.abc import Callable, Iterator
from pathlib import Path
from random import Random

import pytest

from commission.host import write_atomically
from commission.problems import CouldNotWrite
from commission.record.entry import Entry
from commission.record.evidence import attach_file
from commission.record.folder import create_job, find_jobs, leftovers
from commission.record.journal import Journal
from tests.record.examples import (
    FOLDER,
    NOON,
    ONE_OF_EACH_TYPE,
    ORIGIN,
    RECORD_PATH,
    SITE_PATH,
    answer,
    disk_with_record,
    now,
)
from tests.record.simulated_disk import PowerCut, SimulatedDisk

REPORT = FOLDER / "report.toml"
LUCK = [None, *range(12)]


def _found_again(
    prepare: Callable[[], SimulatedDisk], work: Callable[[SimulatedDisk], object]
) -> Iterator[SimulatedDisk]:
    """The disk as found after a cut behind each call of `work`, with all kinds of luck."""
    call = 0
    while True:
        call += 1
        for luck in LUCK:
            disk = prepare()
            disk.cut_after = disk.calls + call
            try:
                work(disk)
            except PowerCut:
                pass
            else:
                assert call > 1
                return
            yield disk.after_power_cut(None if luck is None else Random(1000 * call + luck))


def _site_disk() -> SimulatedDisk:
    disk = SimulatedDisk()
    disk.put(SITE_PATH, ORIGIN.site)
    return disk


def test_a_job_is_whole_or_not_there() -> None:
    tried = whole = 0
    for disk in _found_again(_site_disk, lambda d: create_job(SITE_PATH, ORIGIN, d, NOON)):
        jobs = find_jobs(SITE_PATH, disk)
        for job in jobs:
            assert disk.read(job.path / "site.toml") == ORIGIN.site
            assert disk.read(job.path / "checklist.toml") == ORIGIN.checklist
            assert disk.names(job.path / "evidence") == []
            assert Journal.open(job.path / "record.toml", disk, now).recovery is None
        named = {SITE_PATH.name, *(job.path.name for job in jobs)}
        named |= {path.name for path in leftovers(SITE_PATH.parent, disk)}
        assert set(disk.names(SITE_PATH.parent)) == named
        tried, whole = tried + 1, whole + len(jobs)
    assert tried > 100
    assert 0 < whole < tried


def test_a_job_that_was_returned_survives() -> None:
    disk = _site_disk()
    job = create_job(SITE_PATH, ORIGIN, disk, NOON)
    assert [found.path for found in find_jobs(SITE_PATH, disk.after_power_cut())] == [job.path]


def test_every_entry_that_was_confirmed_is_there_once_and_in_order() -> None:
    confirmed: list[Entry] = []
    tried = 0

    def work(disk: SimulatedDisk) -> None:
        confirmed.clear()
        journal = Journal.open(RECORD_PATH, disk, now).journal
        for entry in ONE_OF_EACH_TYPE.values():
            confirmed.extend(journal.append([entry]))
        confirmed.extend(journal.append([answer("a" * 900), answer("b" * 900), answer("c")]))
        journal.close()

    for disk in _found_again(lambda: disk_with_record(answer("first")), work):
        opened = Journal.open(RECORD_PATH, disk, now)
        assert opened.entries[0].text == "first"
        assert list(opened.entries[1 : 1 + len(confirmed)]) == confirmed
        _goes_on(disk, opened.journal, len(opened.entries))
        tried += 1
    assert tried > 200


def _goes_on(disk: SimulatedDisk, journal: Journal, count: int) -> None:
    (written,) = journal.append([answer("next")])
    assert written.number == count + 1
    table = tomllib.loads(disk.read(RECORD_PATH).decode("utf-8"))
    assert [entry["number"] for entry in table["entry"]] == list(range(1, count + 2))


def test_a_cut_while_a_torn_record_is_being_recovered_loses_nothing() -> None:
    torn = b'\n[[entry]]\nnumber = 3\ntext = "half'

    def prepare() -> SimulatedDisk:
        disk = disk_with_record(answer("one"), answer("two"))
        disk.put(RECORD_PATH, disk.read(RECORD_PATH) + torn)
        return disk

    for disk in _found_again(prepare, lambda d: Journal.open(RECORD_PATH, d, now)):
        opened = Journal.open(RECORD_PATH, disk, now)
        assert [entry.text for entry in opened.entries[:2]] == ["one", "two"]
        assert [entry.type for entry in opened.entries[2:]] == ["recovery"]
        assert disk.read(FOLDER / opened.entries[2].file) == torn
        _goes_on(disk, opened.journal, 3)


def test_a_cut_while_a_failed_write_is_cleared_away_loses_nothing() -> None:
    def work(disk: SimulatedDisk) -> None:
        journal = Journal.open(RECORD_PATH, disk, now).journal
        disk.fail_at(disk.calls + 2, errno.EIO)
        with pytest.raises(CouldNotWrite):
            journal.append([answer("two")])
        journal.append([answer("two")])

    for disk in _found_again(lambda: disk_with_record(answer("one")), work):
        opened = Journal.open(RECORD_PATH, disk, now)
        texts = [entry.text for entry in opened.entries if entry.type == "answer"]
        assert texts in (["one"], ["one", "two"])


@pytest.mark.parametrize("old", [b"", b"old report " * 90])
def test_a_report_is_replaced_whole_or_not_at_all(old: bytes) -> None:
    new = b"new report " * 90

    def prepare() -> SimulatedDisk:
        disk = disk_with_record(answer())
        if old:
            disk.put(REPORT, old)
        return disk

    seen = set()
    for disk in _found_again(prepare, lambda d: write_atomically(d, REPORT, new)):
        there = REPORT.name in disk.names(FOLDER)
        content = disk.read(REPORT) if there else b""
        assert content in (old, new)
        seen.add(content)
        others = set(disk.names(FOLDER)) - {"record.toml", "site.toml", REPORT.name}
        assert others == {path.name for path in leftovers(FOLDER, disk)}
    assert seen == {old, new}


def test_evidence_that_an_entry_names_is_there() -> None:
    photo = Path("/camera/box.jpg")

    def prepare() -> SimulatedDisk:
        disk = _site_disk()
        create_job(SITE_PATH, ORIGIN, disk, NOON)
        disk.put(photo, b"pixels" * 99)
        return disk

    def work(disk: SimulatedDisk) -> None:
        (job,) = find_jobs(SITE_PATH, disk)
        name, digest = attach_file(disk, job.path, "path/A/box/B1/photo", photo)
        journal = Journal.open(job.path / "record.toml", disk, now).journal
        journal.append([Entry(0, "attachment", file=name, file_sha256=digest)])

    for disk in _found_again(prepare, work):
        (job,) = find_jobs(SITE_PATH, disk)
        for entry in Journal.open(job.path / "record.toml", disk, now).entries:
            if entry.type == "attachment":
                assert disk.read(job.path / entry.file) == b"pixels" * 99
