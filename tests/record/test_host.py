"""The door to the disk of this machine."""

from __future__ import annotations

import signal
import stat
from pathlib import Path

import pytest

from commission.host import (
    TERMINATION_SIGNALS,
    Disk,
    is_temporary,
    write_atomically,
    write_new,
)
from commission.problems import CouldNotWrite


def test_a_file_is_replaced_whole_private_and_alone(tmp_path: Path) -> None:
    path = tmp_path / "report.toml"
    for content in (b"one", b"two\r\n\x1a three"):
        write_atomically(Disk(), path, content)
        assert path.read_bytes() == content
        assert [found.name for found in tmp_path.iterdir()] == ["report.toml"]
        assert stat.S_IMODE(path.stat().st_mode) == 0o600


def test_a_folder_in_the_way_is_named_and_nothing_is_left(tmp_path: Path) -> None:
    (tmp_path / "report.toml" / "inside").mkdir(parents=True)
    with pytest.raises(CouldNotWrite, match=r"report\.toml was not written"):
        write_atomically(Disk(), tmp_path / "report.toml", b"one")
    assert [found.name for found in tmp_path.iterdir()] == ["report.toml"]


def test_a_new_file_never_takes_the_place_of_another(tmp_path: Path) -> None:
    write_new(Disk(), tmp_path / "a", b"one")
    with pytest.raises(FileExistsError):
        write_new(Disk(), tmp_path / "a", b"two")
    assert Disk().read(tmp_path / "a") == b"one"


def test_a_file_grows_at_its_end_and_is_cut(tmp_path: Path) -> None:
    disk, path = Disk(), tmp_path / "a"
    write_new(disk, path, b"one")
    file = disk.open_at_end(path)
    file.write(b"two")
    file.truncate(4)
    file.write(b"three")
    file.sync()
    assert disk.stamp(path) == file.stamp()
    assert disk.stamp(path).size == 9
    file.close()
    assert disk.read(path) == b"onetthree"
    assert disk.read(path, 4) == b"onet"


def test_temporary_names_are_known(tmp_path: Path) -> None:
    assert is_temporary(".report.toml.4711-2.new")
    assert not is_temporary("report.toml")
    assert not is_temporary(".hidden.new")


def test_the_signals_that_end_a_program_are_known() -> None:
    assert signal.SIGTERM in TERMINATION_SIGNALS
    assert signal.SIGINT not in TERMINATION_SIGNALS
