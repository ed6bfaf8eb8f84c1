"""A list that is written at one go: all of it counts, or nothing, wherever the write is cut."""

from __future__ import annotations

import errno
from dataclasses import replace
from random import Random

import pytest

from commission.problems import CouldNotWrite, InputRefused
from commission.record import codec
from commission.record.chain import chained, verify
from commission.record.entry import Entry
from commission.record.journal import Journal
from tests.record.examples import (
    FOLDER,
    ONE_OF_EACH_TYPE,
    RECORD_PATH,
    answer,
    disk_with_record,
    now,
)
from tests.record.simulated_disk import PowerCut, SimulatedDisk

LIST = [answer("one"), ONE_OF_EACH_TYPE["note"], answer("two"), answer("three")]


def _written() -> tuple[bytes, bytes]:
    """A record before and after a list was written to it."""
    disk = disk_with_record(answer("before"))
    before = disk.read(RECORD_PATH)
    journal = Journal.open(RECORD_PATH, disk, now).journal
    journal.append(LIST, as_list=True)
    return before, disk.read(RECORD_PATH)


def _disk_with(data: bytes) -> SimulatedDisk:
    disk = SimulatedDisk()
    disk.put(RECORD_PATH, data)
    return disk


def _texts(entries: tuple[Entry, ...]) -> list[str]:
    return [entry.text for entry in entries if entry.type != "recovery"]


WHOLE = ["before", "one", "kept", "two", "three"]


def test_a_whole_list_counts_and_the_record_goes_on() -> None:
    _before, after = _written()
    record = verify(after, "record.toml")
    assert _texts(record.entries) == WHOLE
    assert [entry.list_of for entry in record.entries] == [None, 4, None, None, None]
    assert [entry.written_with for entry in record.entries] == [None, None, 2, 2, 2]
    disk = _disk_with(after)
    journal = Journal.open(RECORD_PATH, disk, now).journal
    journal.append([answer("next")])
    journal.append([answer("a"), answer("b")], as_list=True)
    assert _texts(Journal.open(RECORD_PATH, disk, now).entries) == [*WHOLE, "next", "a", "b"]


def test_a_list_of_one_is_an_entry_like_any_other() -> None:
    disk = disk_with_record()
    (entry,) = Journal.open(RECORD_PATH, disk, now).journal.append([answer()], as_list=True)
    assert entry.list_of is None


def test_cut_at_every_byte_nothing_of_the_list_counts() -> None:
    before, after = _written()
    for cut in range(len(before) + 1, len(after)):
        record = verify(after[:cut], "record.toml")  # as whoever only reads sees it
        assert (_texts(record.entries), record.size) == (["before"], len(before))
        disk = _disk_with(after[:cut])
        opened = Journal.open(RECORD_PATH, disk, now)
        assert _texts(opened.entries) == ["before"]
        assert opened.recovery is not None
        assert disk.read(FOLDER / opened.recovery.file) == after[len(before) : cut]
        assert f"{cut - len(before)} bytes" in opened.recovery.text
        opened.journal.append(LIST, as_list=True)
        again = Journal.open(RECORD_PATH, disk, now)
        assert again.recovery is None
        assert _texts(again.entries) == WHOLE


def test_the_recovery_says_how_many_entries_are_to_be_entered_again() -> None:
    _before, after = _written()
    opened = Journal.open(RECORD_PATH, _disk_with(after[:-1]), now)
    assert opened.recovery is not None
    assert "an unfinished list of 4 entries, which is to be entered again" in opened.recovery.text


def test_a_hole_anywhere_in_an_unconfirmed_list_drops_all_of_it() -> None:
    before, after = _written()
    for start in range(len(before), len(after) - 40, 7):
        data = after[:start] + bytes(40) + after[start + 40 :]
        assert _texts(verify(data, "record.toml").entries) == ["before"]


def test_a_hole_in_a_list_that_others_follow_is_damage() -> None:
    before, after = _written()
    disk = _disk_with(after)
    Journal.open(RECORD_PATH, disk, now).journal.append([answer("next")])
    data = disk.read(RECORD_PATH)
    for start in range(len(before), len(after) - 40, 41):
        with pytest.raises(InputRefused, match=r"entry \d: it is damaged, and whole entries"):
            verify(data[:start] + bytes(40) + data[start + 40 :], "record.toml")


def _with(*entries: Entry) -> bytes:
    """A record with entries that say themselves what they are written with."""
    disk = disk_with_record()
    data = disk.read(RECORD_PATH)
    digest = verify(data, "").digest
    for number, entry in enumerate(entries, start=1):
        block = codec.encode_entry(replace(entry, number=number, previous=digest))
        data, digest = data + b"\n" + block, codec.digest_of(block)
    return data


@pytest.mark.parametrize(
    ("entries", "told"),
    [
        ([replace(answer(), list_of=3), answer()], "entry 2: it stands inside the list of entry 1"),
        (
            [replace(answer(), list_of=2), replace(answer(), list_of=2)],
            "entry 2: it stands inside the list of entry 1",
        ),
        ([replace(answer(), list_of=1)], "entry 1: list_of does not stand in the first of several"),
        (
            [answer(), replace(answer(), list_of=2, written_with=1)],
            "entry 2: list_of does not stand in the first of several",
        ),
    ],
)
def test_a_list_that_no_journal_writes_is_refused(entries: list[Entry], told: str) -> None:
    with pytest.raises(InputRefused) as refused:
        verify(_with(*entries), "record.toml")
    assert told in str(refused.value)


def test_power_lost_after_any_call_leaves_all_of_a_list_or_nothing() -> None:
    seen: set[int] = set()
    for call in range(1, 40):
        for luck in [None, *range(40)]:
            disk = disk_with_record(answer("before"))
            journal = Journal.open(RECORD_PATH, disk, now).journal
            confirmed = False
            disk.cut_after = disk.calls + call
            try:
                journal.append(LIST, as_list=True)
                confirmed = True
                journal.append([answer("next"), answer("last")], as_list=True)
                journal.close()
            except PowerCut:
                pass
            else:
                assert len(seen) == 3
                return
            found = disk.after_power_cut(None if luck is None else Random(1000 * call + luck))
            texts = _texts(Journal.open(RECORD_PATH, found, now).entries)
            assert texts in (["before"], WHOLE, [*WHOLE, "next", "last"])
            assert texts != ["before"] or not confirmed
            seen.add(len(texts))
    raise AssertionError("the work never ends")


@pytest.mark.parametrize("call", [1, 2])
def test_a_disk_that_refuses_leaves_nothing_of_a_list(call: int) -> None:
    disk = disk_with_record(answer("before"))
    journal = Journal.open(RECORD_PATH, disk, now).journal
    disk.fail_at(disk.calls + call, errno.ENOSPC)
    with pytest.raises(CouldNotWrite):
        journal.append(LIST, as_list=True)
    assert _texts(verify(disk.read(RECORD_PATH), "").entries) in (["before"], WHOLE)
    journal.append(LIST, as_list=True)
    assert _texts(verify(disk.read(RECORD_PATH), "").entries) == WHOLE


def test_the_list_is_read_back_as_it_was_returned() -> None:
    before, after = _written()
    record = verify(before, "record.toml")
    data, written = chained(LIST, len(record.entries), record.digest, as_list=True)
    assert before + data == after
    assert verify(after, "record.toml").entries == (*record.entries, *written)
