"""Who was at work last is a convenience that never fails."""

from __future__ import annotations

from pathlib import Path

import pytest

from commission.user.at_work import FILE, AtWork, last_at_work, remember_at_work
from commission.user.folder import data_folder

SOMEBODY = AtWork("Sam Sample", "Pat Example", "meter")


def test_those_of_the_last_time_come_back() -> None:
    assert last_at_work() == AtWork()
    remember_at_work(SOMEBODY)
    assert last_at_work() == SOMEBODY
    remember_at_work(AtWork("Kim Invented"))
    assert last_at_work() == AtWork("Kim Invented")


@pytest.mark.parametrize(
    "content",
    [
        b"\xff\xfe",
        b"[[",
        b'kind = "something else"\n',
        b'kind = "commission people at work"\nformat = 1\nentered_by = 3\n',
    ],
    ids=["no text", "no TOML", "another kind", "no name"],
)
def test_a_file_that_cannot_be_read_says_nobody(content: bytes) -> None:
    remember_at_work(SOMEBODY)
    (data_folder() / FILE).write_bytes(content)
    assert last_at_work() == AtWork()


def test_a_folder_that_cannot_be_written_is_no_reason_to_stop(home: Path) -> None:
    home.write_text("not a folder", encoding="utf-8")
    remember_at_work(SOMEBODY)
    assert last_at_work() == AtWork()
