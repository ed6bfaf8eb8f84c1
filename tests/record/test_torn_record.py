"""A record cut or damaged anywhere: what was whole is kept, the rest set aside or refused."""

from __future__ import annotations

import tomllib
from dataclasses import replace

import pytest

from commission.problems import InputRefused
from commission.record.chain import verify
from commission.record.entry import Entry
from commission.record.journal import Journal, Opened
from tests.record.examples import (
    FOLDER,
    NOON,
    ONE_OF_EACH_TYPE,
    RECORD_PATH,
    answer,
    disk_with_record,
    now,
)
from tests.record.simulated_disk import SimulatedDisk


def _disk_with(data: bytes) -> SimulatedDisk:
    disk = SimulatedDisk()
    disk.put(RECORD_PATH, data)
    return disk


def _opened(disk: SimulatedDisk) -> Opened:
    opened = Journal.open(RECORD_PATH, disk, now)
    opened.journal.close()
    return opened


def _record(*entries: Entry) -> bytes:
    return disk_with_record(*entries).read(RECORD_PATH)


@pytest.mark.parametrize("kind", ONE_OF_EACH_TYPE)
def test_cut_at_every_byte_of_an_entry_of_each_type(kind: str) -> None:
    earlier = _record(answer())
    whole = _record(answer(), ONE_OF_EACH_TYPE[kind])
    kept = verify(earlier, "record.toml").entries
    assert whole.startswith(earlier)
    for cut in range(len(earlier) + 1, len(whole)):
        disk = _disk_with(whole[:cut])
        opened = _opened(disk)
        assert opened.recovery is not None
        assert opened.entries == (*kept, opened.recovery)
        assert opened.recovery.entered_at == NOON
        assert disk.read(FOLDER / opened.recovery.file) == whole[len(earlier) : cut]
        assert f"{cut - len(earlier)} bytes" in opened.recovery.text
        table = tomllib.loads(disk.read(RECORD_PATH).decode("utf-8"))
        assert [entry["number"] for entry in table["entry"]] == [1, 2]


def test_opening_again_after_a_recovery_finds_nothing_torn_and_goes_on() -> None:
    disk = _disk_with(_record(answer(), answer())[:-9])
    first = _opened(disk)
    again = Journal.open(RECORD_PATH, disk, now)
    assert again.recovery is None
    assert again.entries == first.entries
    (written,) = again.journal.append([answer("11.7 ohm")])
    assert written.number == 3
    assert _opened(disk).entries == (*first.entries, written)
    assert disk.names(FOLDER) == ["record.toml", "record.torn-1.toml"]


def test_each_torn_end_is_kept_under_a_number_of_its_own() -> None:
    disk = _disk_with(_record(answer()) + b"\n[[entry]]\nnumb")
    first = _opened(disk)
    disk.put(RECORD_PATH, disk.read(RECORD_PATH) + b"\n[[ent")
    second = _opened(disk)
    assert first.recovery is not None
    assert second.recovery is not None
    assert disk.read(FOLDER / first.recovery.file) == b"\n[[entry]]\nnumb"
    assert disk.read(FOLDER / second.recovery.file) == b"\n[[ent"
    assert [entry.type for entry in second.entries] == ["answer", "recovery", "recovery"]


@pytest.mark.parametrize("tail", [bytes(4096), b"\xff" * 700, b"\n", b"\n\n[[entry]]\n", b"x"])
def test_whatever_a_power_cut_leaves_behind_the_last_entry_is_set_aside(tail: bytes) -> None:
    disk = _disk_with(_record(answer()) + tail)
    opened = _opened(disk)
    assert opened.recovery is not None
    assert disk.read(FOLDER / opened.recovery.file) == tail


@pytest.mark.parametrize("mask", [0x01, 0x20, 0x80])
def test_a_flipped_bit_anywhere_is_noticed(mask: int) -> None:
    data = _record(answer(), ONE_OF_EACH_TYPE["skip"], ONE_OF_EACH_TYPE["note"])
    true = verify(data, "record.toml").entries
    for place in range(len(data)):
        disk = _disk_with(data[:place] + bytes([data[place] ^ mask]) + data[place + 1 :])
        before = disk.read(RECORD_PATH)
        try:
            opened = _opened(disk)
        except InputRefused:
            assert disk.read(RECORD_PATH) == before
            assert disk.names(FOLDER) == ["record.toml"]
        else:  # in the last entry it can't be told from a write that was cut short
            assert opened.recovery is not None
            assert opened.entries[:-1] == true[:-1]


def _refusal(data: bytes) -> str:
    with pytest.raises(InputRefused) as refused:
        verify(data, "record.toml")
    return str(refused.value)


def test_damage_that_whole_entries_follow_is_refused_by_the_entry_s_number() -> None:
    data = _record(answer("one"), answer("two"), answer("three"))
    words = _refusal(data.replace(b'"two"', b'"six"'))
    assert "record.toml: entry 2: it is damaged, and whole entries follow it" in words
    assert "nothing was changed" in words


def test_entries_taken_out_put_in_or_swapped_are_refused() -> None:
    data = _record(answer("one"), answer("two"), answer("three"))
    top, one, two, three = data.split(b"\n[[entry]]\n")
    joined = b"\n[[entry]]\n".join
    assert "entry 2: number 3 stands where 2 should" in _refusal(joined([top, one, three]))
    assert "entry 1: number 2 stands where 1 should" in _refusal(joined([top, two, one, three]))
    assert "entry 2: number 1 stands where 2 should" in _refusal(joined([top, one, one]))


def test_an_entry_of_another_job_breaks_the_chain() -> None:
    top, _ = _record(answer("one")).split(b"\n[[entry]]\n")
    _, other = _record(answer("other")).split(b"\n[[entry]]\n")
    second = _record(answer("else"), answer("two")).split(b"\n[[entry]]\n")[2]
    assert "entry 2: it does not follow" in _refusal(b"\n[[entry]]\n".join([top, other, second]))


def test_parts_of_one_write_may_be_lost_in_any_order_without_locking_the_job() -> None:
    disk = disk_with_record(answer("one"))
    journal = Journal.open(RECORD_PATH, disk, now).journal
    journal.append([answer("two"), answer("three"), answer("four")])
    data = disk.read(RECORD_PATH)
    hole = data.index(b'"two"')
    opened = _opened(_disk_with(data[:hole] + bytes(50) + data[hole + 50 :]))
    assert [entry.text for entry in opened.entries[:-1]] == ["one"]
    journal.append([answer("five")])
    data = disk.read(RECORD_PATH)
    assert "entry 2: it is damaged" in _refusal(data[:hole] + bytes(50) + data[hole + 50 :])


@pytest.mark.parametrize("number", [None, 2, 7])
def test_a_withdrawal_names_an_earlier_entry(number: int | None) -> None:
    journal = Journal.open(RECORD_PATH, disk_with_record(answer()), now).journal
    with pytest.raises(InputRefused, match="can't be written down"):
        journal.append([replace(ONE_OF_EACH_TYPE["withdrawal"], refers_to=number)])


def test_a_file_that_is_no_record_or_not_there_is_refused() -> None:
    for data in (b"", b"\x00" * 300, b'kind = "commission site"\nformat = 1\n'):
        assert "record.toml: header: this is not a record" in _refusal(data)
    with pytest.raises(InputRefused, match="can't be read"):
        Journal.open(RECORD_PATH, SimulatedDisk(), now)
