"""The list of recent jobs is a convenience that never fails."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from pathlib import Path

from commission.user.recent import FILE, MAX_RECENT, recent_jobs, remember_job

START = datetime(2026, 5, 4, 8, 0, tzinfo=UTC)


def job(tmp_path: Path, number: int) -> Path:
    """A job's folder."""
    folder = tmp_path / f"job-{number}"
    folder.mkdir(exist_ok=True)
    return folder


def test_newest_first_each_once_and_at_most_twenty(tmp_path: Path) -> None:
    for number in range(25):
        remember_job(job(tmp_path, number), START + timedelta(minutes=number))
    remember_job(job(tmp_path, 10), START + timedelta(hours=1))
    names = [one.folder.name for one in recent_jobs()]
    assert names[:3] == ["job-10", "job-24", "job-23"]
    assert len(names) == len(set(names)) == MAX_RECENT
    assert recent_jobs()[0].opened_at == START + timedelta(hours=1)


def test_vanished_folders_are_left_out(tmp_path: Path) -> None:
    remember_job(job(tmp_path, 1), START)
    remember_job(job(tmp_path, 2), START)
    job(tmp_path, 2).rmdir()
    assert [one.folder.name for one in recent_jobs()] == ["job-1"]


def test_an_unreadable_list_starts_again(home: Path, tmp_path: Path) -> None:
    home.mkdir()
    (home / FILE).write_text("not = [")
    assert recent_jobs() == ()
    remember_job(job(tmp_path, 1), START)
    assert len(recent_jobs()) == 1


def test_a_refusing_disk_is_ignored(home: Path, tmp_path: Path) -> None:
    home.write_text("a file in the way")
    remember_job(job(tmp_path, 1), START)
    assert recent_jobs() == ()
