"""A job's folder: made beside its site file, found again, told apart from other files."""

from __future__ import annotations

import hashlib
import stat
from dataclasses import replace
from datetime import timedelta
from pathlib import Path

import pytest

from commission.host import Disk
from commission.problems import InputRefused
from commission.record.folder import (
    Overtaken,
    create_job,
    find_jobs,
    is_signed,
    leftovers,
    names_beside,
    read_job,
    resolve,
)
from tests.record.examples import NOON, ORIGIN

DISK = Disk()


@pytest.fixture
def site(tmp_path: Path) -> Path:
    path = tmp_path / "oakfield.toml"
    path.write_bytes(ORIGIN.site)
    return path


def test_a_job_holds_exact_copies_and_their_digests(site: Path) -> None:
    origin = replace(ORIGIN, site=b"\xef\xbb\xbfkind = 1\r\n", practice=True)
    job = create_job(site, origin, DISK, NOON)
    assert job.path == site.parent / "oakfield-new-2026-05-04-1"
    names = ["checklist.toml", "evidence", "record.toml", "site.toml"]
    assert sorted(path.name for path in job.path.iterdir()) == names
    assert (job.path / "site.toml").read_bytes() == origin.site
    assert (job.path / "checklist.toml").read_bytes() == origin.checklist
    assert job.header.site_sha256 == hashlib.sha256(origin.site).hexdigest()
    assert job.header.checklist_sha256 == hashlib.sha256(origin.checklist).hexdigest()
    assert job.header.practice
    assert job.header.job.startswith("oakfield-new-2026-05-04-1-")
    assert read_job(job.path, DISK) == job


def test_a_job_is_private_to_its_user(site: Path) -> None:
    job = create_job(site, ORIGIN, DISK, NOON).path
    assert [stat.S_IMODE(p.stat().st_mode) for p in (job, job / "evidence")] == [0o700] * 2
    assert {stat.S_IMODE(path.stat().st_mode) for path in job.glob("*.toml")} == {0o600}


class _Closed(Disk):
    """A disk on which jobs' folders may not be looked into."""

    def names(self, path: Path) -> list[str]:
        if path.name.startswith("oakfield-"):
            raise PermissionError(13, "Permission denied", str(path))
        return super().names(path)


def test_a_folder_that_nobody_may_look_into_is_not_overlooked(site: Path) -> None:
    """Else another job would be begun beside it, as if there were none."""
    job = create_job(site, ORIGIN, DISK, NOON).path
    (site.parent / "oakfield-new-2026-05-04-9").write_text("no folder", "utf-8")
    with pytest.raises(InputRefused, match="can't be looked into: Permission denied") as refused:
        find_jobs(site, _Closed())
    assert Path(refused.value.problems[0].file).name == job.name
    assert [one.path for one in find_jobs(site, DISK)] == [job]


def test_jobs_are_numbered_and_found_in_order(site: Path) -> None:
    made = [create_job(site, ORIGIN, DISK, NOON).path for _ in range(11)]
    assert [path.name.rpartition("-")[2] for path in made] == [str(n) for n in range(1, 12)]
    assert [job.path for job in find_jobs(site, DISK)] == made
    assert len({job.header.job for job in find_jobs(site, DISK)}) == 11


def test_a_job_is_made_only_while_no_other_was_begun(site: Path) -> None:
    stood = names_beside(site, DISK)
    first = create_job(site, ORIGIN, DISK, NOON, stood)
    with pytest.raises(Overtaken, match="another program has just begun a job"):
        create_job(site, ORIGIN, DISK, NOON, stood)
    assert [job.path for job in find_jobs(site, DISK)] == [first.path]
    assert not leftovers(site.parent, DISK)
    second = create_job(site, ORIGIN, DISK, NOON, names_beside(site, DISK))
    assert second.path.name.endswith("-2")


def test_only_the_jobs_of_this_site_are_found(site: Path) -> None:
    other = site.with_name("oakfield-new.toml")
    mine = create_job(site, ORIGIN, DISK, NOON)
    later = create_job(site, replace(ORIGIN, job_kind="recheck"), DISK, NOON + timedelta(days=1))
    its = create_job(other, ORIGIN, DISK, NOON)
    (site.parent / "oakfield-new-2026-05-04-9").mkdir()
    assert [job.path for job in find_jobs(site, DISK)] == [mine.path, later.path]
    assert [job.path for job in find_jobs(other, DISK)] == [its.path]


def test_a_damaged_job_is_not_overlooked(site: Path) -> None:
    record = create_job(site, ORIGIN, DISK, NOON).path / "record.toml"
    record.write_bytes(record.read_bytes().replace(b"job_kind", b"job_kund"))
    with pytest.raises(InputRefused, match=r"record\.toml: header: its digest does not match"):
        find_jobs(site, DISK)


def test_a_job_is_signed_by_a_line_of_its_report(site: Path) -> None:
    job = create_job(site, ORIGIN, DISK, NOON).path
    report = job / "report.toml"
    assert not is_signed(job, DISK)
    report.write_text('kind = "commission report"\nnote = "[[signoff]]"\n', encoding="utf-8")
    assert not is_signed(job, DISK)
    with report.open("a", encoding="utf-8") as file:
        file.write('\n[[signoff]]\nname = "A. Invented"\n')
    assert is_signed(job, DISK)
    assert [found.is_signed for found in find_jobs(site, DISK)] == [True]


def test_files_are_told_apart_by_their_kind(site: Path) -> None:
    job = create_job(site, ORIGIN, DISK, NOON).path
    report = site.with_name("report.toml")
    report.write_text('# of May\n\nkind = "commission report"\nformat = 1\n', encoding="utf-8")
    assert resolve(site, DISK).kind == "site"
    assert resolve(report, DISK).kind == "report"
    for named in (job, job / "record.toml"):
        assert (resolve(named, DISK).kind, resolve(named, DISK).path) == ("job", job)


def test_what_is_none_of_them_is_refused_in_words(site: Path) -> None:
    folder = site.parent
    (folder / "list.csv").write_bytes(b"B1,55 m\n\xff\x1b")
    (folder / "people.toml").write_text('kind = "commission people"\n', encoding="utf-8")
    for name, words in {
        "list.csv": "is not UTF-8 text",
        "people.toml": "its kind is 'commission people'",
        "nothing.toml": "is not there",
        ".": r"is not a job: it holds no record\.toml",
    }.items():
        with pytest.raises(InputRefused, match=words):
            resolve(folder / name, DISK)


def test_what_an_interruption_left_is_listed_and_else_ignored(site: Path) -> None:
    job = create_job(site, ORIGIN, DISK, NOON).path
    left = site.parent / ".being-made-oakfield-new-2026-05-04-2-01234567"
    left.mkdir()
    half = job / ".report.toml.77-1.new"
    half.write_bytes(b"kind = ")
    assert [found.path for found in find_jobs(site, DISK)] == [job]
    assert leftovers(site.parent, DISK) == [left]
    assert leftovers(job, DISK) == [half]


def test_a_site_file_s_name_may_not_steer_a_terminal(tmp_path: Path) -> None:
    with pytest.raises(InputRefused, match=r"U\+001B"):
        create_job(tmp_path / "a\x1b[2J.toml", ORIGIN, DISK, NOON)
    assert list(tmp_path.iterdir()) == []
