"""`commission print`: which file it writes, and what it refuses."""

from __future__ import annotations

import hashlib
import os
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from commission import asked, cli
from commission.electrical.sources import FORMULA_SET
from commission.host import Disk
from commission.opening import open_job
from commission.report import examined, review
from commission.resources import samples
from commission.session import Session
from tests.printing.html_read import read_html
from tests.report.sealing import countersigned
from tests.walks import KEY, begin, clock, signoff, walk_to_the_end

Output = pytest.CaptureFixture[str]


@pytest.fixture
def site(tmp_path: Path) -> Path:
    path = tmp_path / "lawn.toml"
    path.write_bytes(samples()["small-garden"].read_bytes())
    return path


@pytest.fixture
def job(site: Path) -> Path:
    session = open_job(site, disk=Disk(), now=clock())
    session.close()
    return session.job.folder


def printed(capsys: Output, *arguments: object) -> tuple[int, str, str]:
    code = cli.main(["print", *map(str, arguments)])
    out, err = capsys.readouterr()
    return code, out.strip(), err.strip()


def test_a_sheet_lies_beside_its_site_and_takes_the_place_of_none(
    site: Path, capsys: Output
) -> None:
    first = site.with_name("lawn-sheet.html")
    assert printed(capsys, site) == (0, str(first), "")
    content = first.read_bytes()
    assert printed(capsys, site)[1] == str(site.with_name("lawn-sheet-2.html"))
    assert printed(capsys, site)[1] == str(site.with_name("lawn-sheet-3.html"))
    assert first.read_bytes() == content == site.with_name("lawn-sheet-3.html").read_bytes()
    assert len(read_html(content.decode()).all("section")) == 3


def test_a_sheet_lies_beside_the_folder_of_its_job(job: Path, capsys: Output) -> None:
    before = {path.name for path in job.iterdir()}
    sheet = job.with_name(f"{job.name}-sheet.html")
    assert printed(capsys, job) == (0, str(sheet), "")
    assert job.name in sheet.read_text("utf-8")
    assert {path.name for path in job.iterdir()} == before


def test_the_file_can_be_named_and_is_never_written_over(
    site: Path, tmp_path: Path, capsys: Output
) -> None:
    named = tmp_path / "mine.html"
    assert printed(capsys, site, "--output", named) == (0, str(named), "")
    named.write_text("kept")
    code, _out, err = printed(capsys, site, "--output", named)
    assert (code, named.read_text()) == (2, "kept")
    assert "is there already, and nothing is overwritten" in err
    (tmp_path / "link.html").symlink_to(tmp_path / "elsewhere")
    assert printed(capsys, site, "--output", tmp_path / "link.html")[0] == 2
    assert not (tmp_path / "elsewhere").exists()
    assert printed(capsys, site, "--output", tmp_path / "no" / "such.html")[0] == 4
    assert printed(capsys, site, "--output", "a\0b")[0] == 2


def test_the_checklist_follows_the_kind_of_job(site: Path, capsys: Output) -> None:
    assert printed(capsys, site, "--job", "recheck")[0] == 0
    assert "periodic recheck" in site.with_name("lawn-sheet.html").read_text("utf-8")
    code, _out, err = printed(capsys, site, "--job", "rechek")
    assert (code, "nearest valid: recheck" in err) == (2, True)


def test_a_sample_is_copied_and_its_sheet_lies_beside_the_copy(capsys: Output) -> None:
    code, out, _err = printed(capsys, "small-garden")
    assert code == 0
    assert Path(out.splitlines()[-1]).is_relative_to(os.environ["COMMISSION_HOME"])
    assert "invented sample" in out


def test_what_has_no_open_step_is_refused(
    site: Path, job: Path, tmp_path: Path, capsys: Output
) -> None:
    assert "--job goes with a site" in printed(capsys, job, "--job", "new")[2]
    assert printed(capsys, tmp_path / "none.toml")[0] == 2
    done: Session = begin(tmp_path, "two-paths")
    walk_to_the_end(done)
    done.close()
    code, _out, err = printed(capsys, done.job.folder)
    assert (code, "nothing is open in" in err) == (2, True)
    assert list(tmp_path.glob("*.html")) == []
    assert printed(capsys, site)[0] == 0


@pytest.fixture
def report(job: Path) -> Path:
    session = open_job(job, disk=Disk(), now=clock())
    session.sign(signoff(), KEY)
    session.close()
    return job / "report.toml"


def test_a_signed_job_and_its_report_give_the_owners_sheet_outside_its_folder(
    report: Path, capsys: Output
) -> None:
    before = {path.name for path in report.parent.iterdir()}
    sheet = report.parent.with_name(f"{report.parent.name}-report.html")
    assert printed(capsys, report) == (0, str(sheet), "")
    content = sheet.read_bytes()
    again = sheet.with_stem(f"{sheet.stem}-2")
    assert printed(capsys, report.parent) == (0, str(again), "")
    assert again.read_bytes() == content == sheet.read_bytes()
    assert {path.name for path in report.parent.iterdir()} == before
    assert hashlib.sha256(report.read_bytes()).hexdigest() in content.decode("utf-8")


def test_a_report_alone_is_printed_beside_itself(
    report: Path, tmp_path: Path, capsys: Output
) -> None:
    alone = tmp_path / "mailed" / "handed over.toml"
    alone.parent.mkdir()
    alone.write_bytes(report.read_bytes())
    assert printed(capsys, alone) == (0, str(alone.with_suffix(".html")), "")
    assert "a report has its kind already" in printed(capsys, alone, "--job", "new")[2]


def test_a_report_is_read_once_and_looked_at_once(
    report: Path, capsys: Output, monkeypatch: pytest.MonkeyPatch
) -> None:
    """What is printed is what was reviewed, whatever another program writes there meanwhile."""
    called = list[str]()
    for module, name in ((asked, "read_file"), (examined, "examined"), (review, "examined")):
        original = getattr(module, name)

        def counted(*args: Any, of: str = name, by: Any = original, **more: Any) -> Any:
            called.append(of)
            return by(*args, **more)

        monkeypatch.setattr(module, name, counted)
    assert printed(capsys, report)[0] == 0
    assert called == ["read_file", "examined"]


@pytest.mark.parametrize(
    ("spoilt", "words"),
    [
        (lambda b: b.replace(b'pass"', b'fail"', 1), "altered"),
        (lambda b: b.replace(b'"Pat', b'"Pet'), "altered"),
        (lambda b: b[:9_000], "cut off: a report ends in a signature"),
        (lambda b: b.replace(b"\n", b"\r\n"), "its line ends were changed on the way"),
    ],
)
def test_what_does_not_hold_is_not_put_on_paper(
    report: Path, tmp_path: Path, capsys: Output, spoilt: Callable[[bytes], bytes], words: str
) -> None:
    """Paper outlives every warning."""
    path = tmp_path / "spoilt.toml"
    path.write_bytes(spoilt(report.read_bytes()))
    assert path.read_bytes() != report.read_bytes()
    code, out, err = printed(capsys, path)
    assert (code, out) == (2, "")
    assert "spoilt.toml is not printed:" in err
    assert words in err
    assert list(tmp_path.glob("*.html")) == []


def test_what_other_formulas_gave_is_not_put_on_paper(
    report: Path, capsys: Output, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("commission.report.again.FORMULA_SET", FORMULA_SET + 1)
    code, _out, err = printed(capsys, report)
    assert (code, "written with another formula set" in err) == (2, True)


def test_a_report_that_was_cut_after_a_signature_says_so_on_every_sheet(
    report: Path, tmp_path: Path, capsys: Output
) -> None:
    path = tmp_path / "cut.toml"
    path.write_bytes(countersigned(report.read_bytes()))
    assert cli.main(["review", str(path)]) == 1
    capsys.readouterr()
    path.write_bytes(report.read_bytes())
    code, out, _err = printed(capsys, path)
    assert code == 0
    for section in read_html(Path(out).read_text("utf-8")).all("section"):
        assert "CUT: a longer version of it was seen here before" in section.all("thead")[0].text
