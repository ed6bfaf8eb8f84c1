"""Files beside a record that may be anything: a job opens all the same, at once."""

from __future__ import annotations

import time
from pathlib import Path

import pytest

from commission.host import Disk
from commission.opening import open_job
from commission.record import drafts
from commission.resources import samples
from tests.walks import clock

STRANGE = {
    "nested": b"a = " + b"[" * 3000,
    "dotted": b"a." * 20_000 + b"a = 1",
    "no text": b"\xff\xfe",
    "number": b"after_entry = " + b"9" * 5000,
    "other kinds": b"after_entry = 0\nstep = []\ntext = 7",
}


@pytest.mark.parametrize("content", STRANGE.values(), ids=STRANGE)
def test_a_draft_and_a_site_file_that_cannot_be_read_keep_no_job_shut(
    tmp_path: Path, content: bytes
) -> None:
    site = tmp_path / "garden.toml"
    site.write_bytes(samples()["small-garden"].read_bytes())
    session = open_job(site, disk=Disk(), now=clock())
    session.close()
    (session.job.folder / drafts.NAME).write_bytes(content)
    site.write_bytes(content)
    begun = time.process_time()
    again = open_job(session.job.folder, disk=Disk(), now=clock())
    step_id, _text = again.draft()
    again.close()
    assert step_id not in again.job.statuses
    assert time.process_time() - begun < 2  # a key of so many dots takes longer than that to read


def test_a_draft_comes_back_until_something_is_kept(tmp_path: Path) -> None:
    drafts.write(Disk(), tmp_path, 3, "stage/step", "1.2 oh")
    assert drafts.read(Disk(), tmp_path, 3) == ("stage/step", "1.2 oh")
    assert drafts.read(Disk(), tmp_path, 4) == ("", "")
    drafts.write(Disk(), tmp_path, 3, "stage/step", "")
    assert drafts.read(Disk(), tmp_path, 3)[1] == ""
