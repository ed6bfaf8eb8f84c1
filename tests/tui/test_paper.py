"""What is printed of a job, from its menu: a sheet to fill in; once it is signed, the owner's."""

from __future__ import annotations

import hashlib
from pathlib import Path

from commission.record.folder import REPORT
from tests.printing.html_read import read_html
from tests.tui.walking import Walk, play
from tests.walks import KEY, begin, signoff, walk_to_the_end

SAMPLE = "small-garden"


def test_the_sheet_of_an_open_job_is_written_beside_its_folder(tmp_path: Path) -> None:
    """As often as it is asked for, and nothing is overwritten."""
    session = begin(tmp_path, SAMPLE)
    folder = session.job.folder

    async def scene(walk: Walk) -> None:
        for name in ("sheet.html", "sheet-2.html"):
            path = folder.with_name(f"{folder.name}-{name}")
            await walk.menu("A sheet of what is open, to fill in by hand")
            await walk.until(path.exists, name)
            await walk.shows("print it there")
            assert len(read_html(path.read_text("utf-8")).all("section")) == 3

    play(session, scene)
    assert not list(folder.glob("*.html"))


def test_the_owners_sheet_of_a_signed_job_quotes_its_report(tmp_path: Path) -> None:
    session = begin(tmp_path, SAMPLE)
    walk_to_the_end(session)
    session.sign(signoff(), KEY)
    folder = session.job.folder
    path = folder.with_name(f"{folder.name}-report.html")

    async def scene(walk: Walk) -> None:
        await walk.menu("The owner's sheet, to print")
        await walk.until(path.exists, "the sheet")
        await walk.shows("print it there")

    play(session, scene)
    digest = hashlib.sha256((folder / REPORT).read_bytes()).hexdigest()
    assert digest in path.read_text("utf-8")


def test_a_report_that_does_not_hold_is_not_printed(tmp_path: Path) -> None:
    session = begin(tmp_path, SAMPLE)
    walk_to_the_end(session)
    session.sign(signoff(), KEY)
    report = session.job.folder / REPORT

    async def scene(walk: Walk) -> None:
        report.write_bytes(report.read_bytes().replace(b"pass", b"fail", 1))
        await walk.menu("The owner's sheet, to print")
        await walk.shows("is not printed")

    play(session, scene)
    assert not list(tmp_path.glob("*.html"))
