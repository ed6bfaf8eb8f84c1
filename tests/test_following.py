"""Jobs that follow a signed report: begun, gone on with, refused, opened again, checked."""

from __future__ import annotations

import hashlib
from dataclasses import replace
from pathlib import Path

import pytest

from commission.cli import main
from commission.host import Disk
from commission.opening import open_job, read_job, refuse_what_cannot_open
from commission.problems import InputRefused
from commission.record import codec
from commission.record.folder import create_job
from commission.session import Session
from tests import walks
from tests.record.examples import HEADER, ORIGIN
from tests.report import small

REPORT = small.sound()
DIGEST = hashlib.sha256(REPORT).hexdigest()


def bare(folder: Path, content: bytes = REPORT) -> Path:
    """A report alone in a folder, called as somebody may call it."""
    path = folder / "handed over.toml"
    path.write_bytes(content)
    return path


def follow(path: Path, kind: str = "inspection", *, new: bool = False) -> Session:
    """Open the job that follows a report."""
    return open_job(path, kind=kind, new=new, disk=Disk(), now=walks.clock())


def test_a_header_names_the_report_only_where_there_is_one() -> None:
    follows = replace(HEADER, follows_report=DIGEST)
    assert codec.decode_header(codec.encode_header(follows)) == follows
    assert b"follows_report" not in codec.encode_header(HEADER)
    assert codec.decode_header(codec.encode_header(HEADER)).follows_report == ""
    block = codec.encode_header(replace(HEADER, follows_report="x"))
    with pytest.raises(ValueError, match="digest"):
        codec.decode_header(block.replace(b'"x"', b'""'))


def test_an_empty_name_of_a_report_is_not_written_as_the_program_writes_it() -> None:
    body = codec.encode_header(HEADER).rsplit(b"sha256", 1)[0] + b'follows_report = ""\n'
    sealed = body + b'sha256 = "%s"\n' % hashlib.sha256(body).hexdigest().encode()
    with pytest.raises(ValueError, match="not written as"):
        codec.decode_header(sealed)


@pytest.mark.parametrize("kind", ["inspection", "recheck", "added"])
def test_a_job_follows_a_report_that_lies_alone(tmp_path: Path, kind: str) -> None:
    path = bare(tmp_path)
    session = follow(path, kind)
    job = session.job
    session.close()
    assert job.folder.name == f"corner-{kind}-2031-05-04-1"
    assert job.folder.parent == tmp_path
    assert (job.header.follows_report, job.header.job_kind) == (DIGEST, kind)
    assert (job.folder / "earlier.toml").read_bytes() == path.read_bytes() == REPORT
    assert f"SHA-256 {DIGEST}" in job.notices[0]
    assert job.earlier is not None
    assert any(step.endswith("loop-resistance") for step in job.earlier.statuses)
    assert job.earlier.site == job.site


def test_a_job_without_a_report_has_no_earlier_one(tmp_path: Path) -> None:
    session = walks.begin(tmp_path, "small-garden")
    session.close()
    assert session.job.earlier is None
    assert not (session.job.folder / "earlier.toml").exists()


def test_a_signed_job_is_followed_beside_its_own_folder(tmp_path: Path) -> None:
    session = walks.begin(tmp_path, "small-garden")
    session.sign(walks.signoff(), walks.KEY)
    session.close()
    signed = session.job.folder
    for target in (signed, signed / "report.toml", signed / "record.toml"):
        again = follow(target)
        assert again.job.folder == tmp_path / "small-garden-inspection-2031-05-04-1"
        again.close()
    reading = open_job(signed, disk=Disk(), now=walks.clock())
    assert reading.job.signed


def test_the_open_job_that_follows_this_very_report_is_gone_on_with(tmp_path: Path) -> None:
    path = bare(tmp_path)
    folders = []
    for kind, new in (
        ("inspection", False), ("inspection", False), ("recheck", False), ("inspection", True),
    ):  # fmt: skip
        session = follow(path, kind, new=new)
        folders.append(session.job.folder.name)
        session.close()
    assert folders == [
        "corner-inspection-2031-05-04-1", "corner-inspection-2031-05-04-1",
        "corner-recheck-2031-05-04-1", "corner-inspection-2031-05-04-2",
    ]  # fmt: skip
    with pytest.raises(InputRefused, match="several open jobs"):
        follow(path)


def test_another_report_of_the_site_gets_a_job_of_its_own(tmp_path: Path) -> None:
    follow(bare(tmp_path)).close()
    other = bare(tmp_path, small.troubled())
    session = follow(other)
    session.close()
    assert session.job.folder.name == "corner-inspection-2031-05-04-2"


def test_after_a_signed_one_another_is_begun_only_when_asked_for(tmp_path: Path) -> None:
    path = bare(tmp_path)
    session = follow(path, "recheck")
    session.crew.take(replace(session.crew.hands, entered_by=walks.WRITER))
    session.sign(walks.signoff(), walks.KEY)
    session.close()
    with pytest.raises(InputRefused, match="no job is open here"):
        follow(path, "recheck")
    following = follow(path, "recheck", new=True)
    following.close()
    assert following.job.folder != session.job.folder


def test_what_cannot_be_followed_is_refused_with_words(tmp_path: Path) -> None:
    path = bare(tmp_path)
    for kind, words in (
        (None, r"never re-opened.*--job inspection.*commission review"),
        ("new", "a job of the kind 'new' follows no report"),
        ("inspektion", "no kind of job"),
    ):
        with pytest.raises(InputRefused, match=f"(?s){words}"):
            open_job(path, kind=kind, disk=Disk(), now=walks.clock())
        with pytest.raises(InputRefused, match=f"(?s){words}"):
            refuse_what_cannot_open(path, kind=kind, new=False, checklist=None, disk=Disk())
    assert [one.name for one in tmp_path.iterdir()] == [path.name]


def test_a_report_that_was_altered_is_refused_with_what_was_found(tmp_path: Path) -> None:
    for altered, words in (
        (REPORT.replace(b"Sam Sample", b"Sim Sample", 1), "does not hold"),
        (REPORT[:-40], "cut off"),
        (b'kind = "commission report"\n', "format"),
    ):
        with pytest.raises(InputRefused, match=words):
            follow(bare(tmp_path, altered))
    assert len(list(tmp_path.iterdir())) == 1


def test_line_ends_changed_by_mail_are_put_back_in_the_copy(tmp_path: Path) -> None:
    session = follow(bare(tmp_path, REPORT.replace(b"\n", b"\r\n")))
    session.close()
    assert session.job.header.follows_report == DIGEST
    assert (session.job.folder / "earlier.toml").read_bytes() == REPORT


def test_stations_are_added_to_the_drawing_beside_it(tmp_path: Path) -> None:
    session = follow(bare(tmp_path), "added")
    session.close()
    text = session.job.site_text.replace("[site]\n", "[site]\n# with more stations\n", 1)
    (tmp_path / "corner.toml").write_text(text, encoding="utf-8")
    for kind, drawn in (("added", text), ("recheck", session.job.site_text)):
        following = follow(tmp_path / "handed over.toml", kind, new=True)
        following.close()
        assert following.job.site_text == drawn


def test_a_copy_of_the_report_that_was_changed_is_told(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    session = follow(bare(tmp_path))
    session.close()
    folder = session.job.folder
    assert main(["check", str(folder)]) == 0
    (tmp_path / "corner.toml").write_text(session.job.site_text, encoding="utf-8")
    assert main(["jobs", str(tmp_path / "corner.toml")]) == 0
    (folder / "earlier.toml").write_bytes(REPORT + b"\n")
    with pytest.raises(InputRefused, match=r"earlier\.toml was changed"):
        read_job(folder, Disk())
    assert main(["check", str(folder)]) == 1
    assert main(["jobs", str(tmp_path / "corner.toml")]) == 1
    assert "earlier.toml: it was changed" in capsys.readouterr().out


@pytest.mark.parametrize("named", ["../../x", "a/b", ".hidden", "C:x", ""])
def test_a_reports_id_never_leads_out_of_its_folder(named: str) -> None:
    from commission.following import _stem

    assert _stem(f"{named}-new-2031-05-04-1-01234567") == "site"
    assert _stem("north lawn 2-new-2031-05-04-1-01234567") == "north lawn 2"
    assert _stem("whatever") == "site"


def test_a_folder_is_made_whole_with_its_report(tmp_path: Path) -> None:
    origin = replace(ORIGIN, earlier=b"a report")
    job = create_job(tmp_path / "oakfield.toml", origin, Disk(), walks.START)
    assert (job.path / "earlier.toml").read_bytes() == b"a report"
    assert job.header.follows_report == hashlib.sha256(b"a report").hexdigest()
