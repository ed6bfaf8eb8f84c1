"""Photos and documents: copied, named after their step, with their digest."""

from __future__ import annotations

import errno
import hashlib
from pathlib import Path

import pytest

from commission.host import Disk
from commission.problems import CouldNotWrite, InputRefused
from commission.record import evidence
from commission.record.evidence import attach_file
from tests.record.examples import END, FOLDER
from tests.record.simulated_disk import SimulatedDisk


@pytest.fixture
def job(tmp_path: Path) -> Path:
    (tmp_path / "job" / "evidence").mkdir(parents=True)
    return tmp_path / "job"


def test_a_copy_is_named_after_its_step_and_numbered(job: Path, tmp_path: Path) -> None:
    photo = tmp_path / "IMG 0001.JPG"
    photo.write_bytes(b"pixels")
    first = attach_file(Disk(), job, END, photo)
    second = attach_file(Disk(), job, END, photo)
    digest = hashlib.sha256(b"pixels").hexdigest()
    assert first == ("evidence/path_A_end_B12_loop-resistance-1.jpg", digest)
    assert second == ("evidence/path_A_end_B12_loop-resistance-2.jpg", digest)
    assert (job / first[0]).read_bytes() == photo.read_bytes() == b"pixels"


@pytest.mark.parametrize(
    ("step", "source", "name"),
    [
        ("", "note", "job-1"),
        ("../../etc", "a.txt", ".._.._etc-1.txt"),
        ("a" * 400, "a.tar.gz", "a" * 150 + "-1.gz"),
        ("x", "a.verylongending", "x-1"),
        ("x", "a.p g", "x-1"),
    ],
)
def test_a_name_stays_inside_the_folder_and_short(
    job: Path, tmp_path: Path, step: str, source: str, name: str
) -> None:
    (tmp_path / source).write_bytes(b"1")
    assert attach_file(Disk(), job, step, tmp_path / source)[0] == f"evidence/{name}"
    assert [path.name for path in (job / "evidence").iterdir()] == [name]


def test_what_can_t_be_taken_is_refused(
    job: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(evidence, "MAX_EVIDENCE_BYTES", 1_000_000)
    (tmp_path / "film").write_bytes(bytes(1_000_001))
    (tmp_path / "a\x1b").write_bytes(b"1")
    for name, words in {
        "film": "larger than 1 MB",
        "gone.jpg": "can't be read",
        "job": "is not a file",
        "a\x1b": r"U\+001B",
    }.items():
        with pytest.raises(InputRefused, match=words):
            attach_file(Disk(), job, END, tmp_path / name)
    assert list((job / "evidence").iterdir()) == []


def test_an_evidence_folder_lost_in_copying_is_made_again(job: Path, tmp_path: Path) -> None:
    (job / "evidence").rmdir()
    (tmp_path / "a.txt").write_bytes(b"1")
    assert attach_file(Disk(), job, "x", tmp_path / "a.txt")[0] == "evidence/x-1.txt"
    with pytest.raises(CouldNotWrite, match="the folder is gone"):
        attach_file(Disk(), tmp_path / "gone", "x", tmp_path / "a.txt")


def test_a_full_disk_leaves_nothing_and_can_be_tried_again() -> None:
    disk = SimulatedDisk()
    disk.put(FOLDER / "evidence" / "a-1.jpg", b"earlier")
    disk.put(Path("/camera/1.jpg"), b"pixels")
    disk.fails = lambda call, number: errno.ENOSPC if call == "write" else 0
    with pytest.raises(CouldNotWrite, match="the disk is full"):
        attach_file(disk, FOLDER, "a", Path("/camera/1.jpg"))
    assert disk.names(FOLDER / "evidence") == ["a-1.jpg"]
    disk.fails = lambda call, number: 0
    assert attach_file(disk, FOLDER, "a", Path("/camera/1.jpg"))[0] == "evidence/a-2.jpg"
