"""New files: what was there before is beside it, whenever the power goes or the disk refuses."""

from __future__ import annotations

import errno
from datetime import datetime
from pathlib import Path
from random import Random

import pytest

from commission.host import Disk
from commission.new_file import replace_file, write_new_file
from commission.problems import CouldNotWrite, InputRefused
from tests.record.simulated_disk import PowerCut, SimulatedDisk

FOLDER = Path("/garden")
SITE = FOLDER / "site.toml"
KEPT = FOLDER / "site.before-2031-05-04T10-31.toml"
AT = datetime(2031, 5, 4, 10, 31)
OLD, NEW = "the old one", "the new one, which is longer"


def disk_with_site() -> SimulatedDisk:
    disk = SimulatedDisk()
    disk.put(SITE, OLD.encode())
    return disk


def test_the_old_one_is_there_wherever_the_power_goes() -> None:
    whole = cuts = 0
    for call in range(1, 100):
        for luck in range(6):
            disk = disk_with_site()
            disk.cut_after = call
            try:
                replace_file(NEW, SITE, disk, AT)
            except PowerCut:
                cuts += 1
                found = disk.after_power_cut(Random(luck) if luck else None)
                content = found.read(SITE).decode()
                assert content in (OLD, NEW)
                if content == NEW:
                    assert found.read(KEPT).decode() == OLD
            else:
                whole += 1
                assert disk.read(SITE).decode() == NEW
                assert disk.read(KEPT).decode() == OLD
                assert disk.names(FOLDER) == [KEPT.name, SITE.name]
        if whole:
            break
    assert cuts >= 6 * 6
    assert whole == 6


@pytest.mark.parametrize("failure", [errno.ENOSPC, errno.EIO])
def test_a_disk_that_refuses_any_call_leaves_the_old_one(failure: int) -> None:
    refused = 0
    for call in range(1, 9):
        disk = disk_with_site()
        disk.fail_at(call, failure)
        try:
            replace_file(NEW, SITE, disk, AT)
        except CouldNotWrite:
            refused += 1
            assert disk.read(SITE).decode() == OLD or disk.read(KEPT).decode() == OLD
            assert all(not name.endswith(".new") for name in disk.names(FOLDER))
    assert refused >= 6


def test_nothing_is_left_of_a_new_file_that_the_disk_refused() -> None:
    disk = disk_with_site()
    disk.fail_at(2, errno.ENOSPC)
    with pytest.raises(CouldNotWrite, match="the disk is full"):
        write_new_file(NEW, str(FOLDER / "other.toml"), FOLDER / "other.toml", disk)
    assert disk.names(FOLDER) == [SITE.name]


def test_a_name_that_is_taken_gets_a_number(tmp_path: Path) -> None:
    path = tmp_path / "site.toml"
    path.write_text("0")
    for number in range(1, 4):
        replace_file(str(number), path, Disk(), AT)
    kept = {one.name: one.read_text() for one in tmp_path.iterdir()}
    assert kept == {
        "site.toml": "3",
        "site.before-2031-05-04T10-31.toml": "0",
        "site.before-2031-05-04T10-31-2.toml": "1",
        "site.before-2031-05-04T10-31-3.toml": "2",
    }


def test_behind_a_link_lies_the_new_one_and_the_link_stays(tmp_path: Path) -> None:
    (tmp_path / "plans").mkdir()
    real, link = tmp_path / "plans" / "real.toml", tmp_path / "site.toml"
    real.write_text(OLD)
    link.symlink_to(real)
    assert replace_file(NEW, link, Disk(), AT) == tmp_path / KEPT.name
    assert link.is_symlink()
    assert real.read_text() == NEW
    assert (tmp_path / KEPT.name).read_text() == OLD


def test_a_folder_is_never_replaced(tmp_path: Path) -> None:
    with pytest.raises(InputRefused, match="is no file"):
        replace_file(NEW, tmp_path, Disk(), AT)
