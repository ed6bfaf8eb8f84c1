"""Two programs that open a site without a job at one moment: one begins it, both mean the same."""

from __future__ import annotations

from pathlib import Path

import pytest

from commission.host import Disk
from commission.opening import open_job
from commission.problems import HeldByAnother
from commission.record.folder import find_jobs
from commission.resources import samples
from commission.session import Session
from tests import walks


class _Overtaken(Disk):
    """The disk of a program that is slower: when it is to make its folder, another has begun."""

    def __init__(self, site: Path, *, stays: bool = True) -> None:
        self.site, self.stays = site, stays
        self.faster: Session | None = None

    def make_directory(self, path: Path) -> None:
        if self.faster is None:
            self.faster = open_job(self.site, disk=Disk(), now=walks.clock())
            if not self.stays:
                self.faster.close()
        super().make_directory(path)


@pytest.fixture
def site(tmp_path: Path) -> Path:
    path = tmp_path / "garden.toml"
    path.write_bytes(samples()["small-garden"].read_bytes())
    return path


def test_the_slower_of_two_programs_is_refused_and_begins_no_second_job(site: Path) -> None:
    disk = _Overtaken(site)
    with pytest.raises(HeldByAnother):
        open_job(site, disk=disk, now=walks.clock())
    assert disk.faster is not None
    assert [job.path for job in find_jobs(site, Disk())] == [disk.faster.job.folder]
    disk.faster.close()


def test_the_slower_goes_on_with_the_job_of_one_that_has_ended(site: Path) -> None:
    disk = _Overtaken(site, stays=False)
    session = open_job(site, disk=disk, now=walks.clock())
    assert disk.faster is not None
    assert session.job.folder == disk.faster.job.folder
    session.close()


def test_two_that_both_ask_for_a_new_job_get_one_each(site: Path) -> None:
    disk = _Overtaken(site)
    session = open_job(site, new=True, disk=disk, now=walks.clock())
    assert disk.faster is not None
    assert len(find_jobs(site, Disk())) == 2
    assert session.job.folder != disk.faster.job.folder
    session.close()
    disk.faster.close()
