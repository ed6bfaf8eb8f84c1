"""What is added to a signed report is there whole or not at all, whatever the disk does."""

from __future__ import annotations

import errno
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from random import Random

import pytest

from commission.problems import CouldNotWrite
from commission.report.adding import add_inspection, add_receipt
from commission.report.receipt import received_statement
from commission.report.signoff import SignOff
from tests import walks
from tests.record.simulated_disk import PowerCut, SimulatedDisk
from tests.report import small
from tests.report.sealing import INSPECTOR, inspected

FOLDER = Path("/job")
REPORT = FOLDER / "report.toml"
MAX_CALLS = 30
Act = Callable[[SimulatedDisk], None]
Start = Callable[[], SimulatedDisk]
Before = Callable[[], bytes | None]


def receive(disk: SimulatedDisk) -> None:
    """Add the owner's receipt to the report that lies there; the owner is invented."""
    statement = received_statement(small.sound())
    owner = SignOff("owner", "Olga Owner", "none", "none", statement, walks.START, signs_as="owner")
    add_receipt(disk, FOLDER, replace(owner, decision="received"), INSPECTOR)


def countersign(disk: SimulatedDisk) -> None:
    """Write the inspected report into the inspection's folder, which has none yet."""
    signed = replace(walks.signoff(), role="inspector", name="Ines Look")
    signed = replace(signed, signs_as="inspector", decision="countersigned")
    job = replace(inspected(small.sound()), folder=FOLDER)
    add_inspection(disk, job, small.sound(), signed, INSPECTOR)


def with_report() -> SimulatedDisk:
    """A disk with a signed report."""
    disk = SimulatedDisk()
    disk.put(REPORT, small.sound())
    return disk


def with_folder() -> SimulatedDisk:
    """A disk with a job's folder that has no report yet."""
    disk = SimulatedDisk()
    disk.put(FOLDER / "record.toml", b"")
    return disk


def report_on(disk: SimulatedDisk) -> bytes | None:
    """The report on a disk; None for none."""
    return disk.read(REPORT) if REPORT.name in disk.names(FOLDER) else None


WAYS = pytest.mark.parametrize(
    ("act", "start", "before"),
    [(receive, with_report, small.sound), (countersign, with_folder, lambda: None)],
    ids=["receipt", "inspection"],
)


def whole(act: Act, start: Start) -> tuple[bytes, int]:
    """What stands there when nothing goes wrong, and how many calls change the disk."""
    disk = start()
    first = disk.calls
    act(disk)
    content = report_on(disk)
    assert content is not None
    assert content.startswith(small.sound())
    return content, disk.calls - first


@WAYS
def test_the_power_goes_at_any_moment(act: Act, start: Start, before: Before) -> None:
    after, calls = whole(act, start)
    assert 3 < calls < MAX_CALLS
    for call in range(1, calls + 1):
        for luck in (None, 1, 2, 3):
            disk = start()
            disk.cut_after = disk.calls + call
            with pytest.raises(PowerCut):
                act(disk)
            found = disk.after_power_cut(Random(call * 10 + luck) if luck else None)
            assert report_on(found) in (before(), after)
    assert report_on(found) == after  # after the last call it is kept


@WAYS
@pytest.mark.parametrize("failure", [errno.ENOSPC, errno.EROFS])
def test_a_disk_that_refuses_leaves_what_was_there(
    act: Act, start: Start, before: Before, failure: int
) -> None:
    after, calls = whole(act, start)
    refused = 0
    for call in range(1, calls + 1):
        disk = start()
        disk.fail_at(disk.calls + call, failure)
        try:
            act(disk)
        except CouldNotWrite:
            refused += 1
            assert report_on(disk) == before()
            disk.fail_at(0, 0)
            act(disk)  # once more, as the refusal says
        assert report_on(disk) == after
    assert refused > 2


@WAYS
def test_signed_bytes_are_never_written_in_place(
    act: Act, start: Start, before: Before, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The file that lies there is opened by nobody: another takes its name."""

    def refuse(_disk: SimulatedDisk, path: Path) -> None:
        raise AssertionError(f"{path} was opened")

    monkeypatch.setattr(SimulatedDisk, "open_at_end", refuse)
    disk = start()
    stamp = disk.stamp(REPORT) if before() else None
    act(disk)
    assert disk.stamp(REPORT) != stamp
    assert [name for name in disk.names(FOLDER) if name.startswith(".")] == []
