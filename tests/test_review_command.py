"""`commission review` and `commission signers`: what they print, remember, and refuse."""

from __future__ import annotations

import csv
import hashlib
import io
import json
import os
import re
import shutil
import subprocess
import sys
from dataclasses import replace
from pathlib import Path
from typing import Any, get_args

import pytest

from commission import cli
from commission.commands import review_shown
from commission.commands.review_shown import COLUMNS, csv_text, defused
from commission.host import Disk
from commission.report.finding import KINDS, State
from commission.report.review import Review, review
from commission.reviewing import Desk
from commission.user.key_text import fingerprint
from commission.user.seen_reports import load_seen, seen_file
from commission.user.signers import KnownSigners, load_signers, signers_file
from commission.user.signing_key import own_key
from tests import walks
from tests.report import small
from tests.report.sealing import FORGER, countersigned, resealed, rewritten
from tests.test_documents import codes, paths_of, rows, section

Output = pytest.CaptureFixture[str]
SPOKEN = fingerprint(walks.KEY.public_key)


def ran(capsys: Output, *arguments: object) -> tuple[int, str, str]:
    """Exit code, standard output and standard error of a command."""
    code = cli.main([str(argument) for argument in arguments])
    out, err = capsys.readouterr()
    for text in (out, err):
        assert "Traceback" not in text
        assert text.replace("\n", "").isprintable()
    return code, out, err


@pytest.fixture
def report(tmp_path: Path) -> Path:
    """A sound report in a folder of its own."""
    return put(tmp_path / "in" / "corner.toml", small.sound())


def put(path: Path, content: bytes) -> Path:
    """A file with this content; its folder is made."""
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_bytes(content)
    return path


def know(monkeypatch: pytest.MonkeyPatch, capsys: Output, path: Path, *more: object) -> None:
    """Take in the key of a report's sign-off, its fingerprint heard."""
    monkeypatch.setattr(sys, "stdin", io.StringIO("yes\n"))
    assert ran(capsys, "signers", "--know", path, *more)[0] == 0


# Known signers


def test_a_signer_is_known_once_the_fingerprint_was_heard(
    capsys: Output, report: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    assert ran(capsys, "review", report)[0] == 1
    for said in ("", "no\n", "y\n"):
        monkeypatch.setattr(sys, "stdin", io.StringIO(said))
        code, out, _err = ran(capsys, "signers", "--know", report)
        assert code == 2
        assert SPOKEN in out
        assert out.endswith("not taken in\n")
        assert load_signers().all == ()
    know(monkeypatch, capsys, report)
    (known,) = load_signers().all
    assert (known.name, known.fingerprint) == (walks.WRITER, SPOKEN)
    code, out, _err = ran(capsys, "review", report)
    assert code == 0
    assert "sound; signed by known keys" in out
    assert out.endswith("nothing found\n")
    code, out, _err = ran(capsys, "signers")
    assert code == 0
    assert f"{SPOKEN}  {walks.WRITER}" in out
    code, out, _err = ran(capsys, "signers", "--know", report)
    assert code == 0
    assert f"is known by this key already: {SPOKEN}" in out


def test_an_answer_that_is_no_text_is_no_yes(
    capsys: Output, report: Path, monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    for_writing = (tmp_path / "out").open("w")
    with for_writing, io.TextIOWrapper(io.BytesIO(b"\xff\n"), encoding="utf-8") as no_text:
        for heard in (for_writing, no_text, None):
            monkeypatch.setattr(sys, "stdin", heard)
            code, out, err = ran(capsys, "signers", "--know", report)
            assert (code, err) == (2, "")
            assert out.endswith("not taken in\n")


def test_a_known_name_with_another_key_is_told_and_not_taken_in(
    capsys: Output, report: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    know(monkeypatch, capsys, report)
    forged = put(report.with_name("forged.toml"), resealed(small.sound()))
    code, out, _err = ran(capsys, "review", forged)
    assert code == 1
    assert "signed by a changed key" in out
    monkeypatch.setattr(sys, "stdin", io.StringIO("yes\n"))
    code, _out, err = ran(capsys, "signers", "--know", forged)
    assert code == 2
    assert "is known with another key" in err
    assert ran(capsys, "signers", "--forget", SPOKEN.lower().replace("-", " "))[0] == 0
    assert load_signers().all == ()
    code, _out, err = ran(capsys, "signers", "--forget", SPOKEN)
    assert code == 2
    assert "no known signer" in err


def test_no_key_is_taken_from_a_report_that_does_not_hold(
    capsys: Output, report: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(sys, "stdin", io.StringIO("yes\n"))
    for content in (
        small.sound().replace(b"Hedge", b"Ledge"),
        resealed(small.sound().replace(b"Hedge", b"Ledge")),
        rewritten(small.sound(), 2, verdict="fail"),
        small.sound()[:900],
    ):
        code, out, err = ran(capsys, "signers", "--know", put(report, content))
        assert code == 2
        assert out == ""
        assert "no key is taken from it" in err
    assert not signers_file().exists()


def test_one_of_several_sign_offs_is_named_by_its_number(
    capsys: Output, report: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    put(report, countersigned(small.sound()))
    code, _out, err = ran(capsys, "signers", "--know", report)
    assert code == 2
    assert "1 Sam Sample, 2 Ines Look" in err
    assert ran(capsys, "signers", "--know", report, "--number", "3")[0] == 2
    know(monkeypatch, capsys, report, "--number", "2")
    assert [one.name for one in load_signers().all] == ["Ines Look"]


@pytest.mark.parametrize(
    "arguments", [["--number", "1"], ["--know", "x", "--forget", "y"], ["--know", "nothing.toml"]]
)
def test_wrong_use_of_signers_is_refused(capsys: Output, arguments: list[str]) -> None:
    code, out, err = ran(capsys, "signers", *arguments)
    assert (code, out) == (2, "")
    assert len(err) > 10


def test_the_own_fingerprint_is_told_and_no_key_made_for_that(capsys: Output) -> None:
    assert "none yet" in ran(capsys, "signers")[1]
    assert "none yet" in ran(capsys, "signers")[1]
    key = own_key()
    assert f"your own key: {fingerprint(key.public_key)}" in ran(capsys, "signers")[1]


def test_a_known_signer_with_the_wrong_fingerprint_is_refused(
    capsys: Output, report: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    know(monkeypatch, capsys, report)
    file = signers_file()
    good = file.read_text("utf-8")
    for before, after, words in (
        (SPOKEN, fingerprint(FORGER.public_key), "not the fingerprint of its key"),
        ("public_key = ", 'public_key = "x"\n# ', "this is no key"),
        ("name = ", "nam = ", "nearest valid: name"),
        ("format = 1", "format = 2", "newer than this program"),
    ):
        file.write_text(good.replace(before, after), "utf-8")
        code, _out, err = ran(capsys, "review", report)
        assert code == 2
        assert words in err


# One report, and many


def test_one_report_is_told_from_top_to_bottom(capsys: Output, tmp_path: Path) -> None:
    content = small.troubled()
    code, out, err = ran(capsys, "review", put(tmp_path / "r.toml", content))
    assert (code, err) == (1, "")
    told = [
        "sound; signed by keys not known here", hashlib.sha256(content).hexdigest(),
        "of Example corner (invented)", "verdict as signed: handed over with exceptions",
        f"key {SPOKEN}: unknown", "Practice:", "Unknown key:", "Exception:", "Open defect:",
        "Not done:", "Instrument past calibration:", "9 findings",
    ]  # fmt: skip
    places = [out.index(words) for words in told]
    assert places == sorted(places)


def test_with_its_output_closed_a_review_says_so(
    capsys: Output, report: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """As `commission review report.toml >&-` starts it."""
    with monkeypatch.context() as closed:
        closed.setattr(sys, "stdout", None)
        assert cli.main(["review", str(report)]) == 4
    assert "the output could not be written: it is closed" in capsys.readouterr().err


def test_many_are_a_line_each_and_what_is_not_there_is_refused(
    capsys: Output, tmp_path: Path
) -> None:
    put(tmp_path / "a" / "report.toml", small.sound())
    put(tmp_path / "b" / "kept.toml", b"\r\n".join(small.troubled().split(b"\n")))
    put(tmp_path / "b" / "site.toml", b'kind = "commission site"\n')
    put(tmp_path / "c" / "report.toml", b"nothing")
    code, out, err = ran(capsys, "review", tmp_path)
    assert (code, err) == (1, "")
    head, *rows = out.splitlines()
    assert head.split()[:3] == ["state", "verdict", "standing"]
    assert [row.split()[0] for row in rows] == ["sound", "PRACTICE,", "not"]
    code, out, err = ran(capsys, "review", tmp_path / "a" / "report.toml", tmp_path / "none.toml")
    assert code == 2
    assert "none.toml can't be read" in err
    assert "sound" in out
    (tmp_path / "empty").mkdir()
    code, _out, err = ran(capsys, "review", tmp_path / "empty")
    assert code == 2
    assert "holds no report" in err


def test_links_are_not_followed_out_of_a_folder(capsys: Output, tmp_path: Path) -> None:
    put(tmp_path / "out" / "report.toml", small.sound())
    inside = put(tmp_path / "in" / "report.toml", small.sound())
    (tmp_path / "in" / "linked").symlink_to(tmp_path / "out")
    (tmp_path / "in" / "b.toml").symlink_to(tmp_path / "out" / "report.toml")
    (tmp_path / "in" / "loop.toml").symlink_to(tmp_path / "in" / "loop.toml")
    os.mkfifo(tmp_path / "in" / "pipe.toml")
    _code, out, err = ran(capsys, "review", tmp_path / "in")
    assert err == ""
    assert out.startswith(f"{inside}\n")
    assert ran(capsys, "review", tmp_path / "in" / "pipe.toml")[0] == 2


def test_that_it_is_practice_is_said_before_anything_good(capsys: Output, tmp_path: Path) -> None:
    _code, out, _err = ran(capsys, "review", put(tmp_path / "report.toml", small.troubled()))
    name, first, second, *_ = out.splitlines()
    assert name == str(tmp_path / "report.toml")
    assert first == "  PRACTICE: no report of a real site"
    assert second.startswith("  sound; ")
    _code, out, _err = ran(capsys, "review", put(tmp_path / "report.toml", small.sound()))
    assert "PRACTICE" not in out


def followed() -> tuple[Review, Review]:
    """A report countersigned, and one that follows its version of one sign-off."""
    known = KnownSigners()
    earlier = review(countersigned(small.sound()), "earlier.toml", known)
    follows = hashlib.sha256(small.sound()).hexdigest()
    return earlier, replace(review(small.troubled(), "later.toml", known), follows=follows)


def test_which_supersedes_which() -> None:
    earlier, later = followed()
    _head, first, second = review_shown.lines([earlier, later]).splitlines()
    assert first.endswith("superseded by later.toml (signed by keys not known here)")
    assert second.startswith("PRACTICE, sound ")
    assert second.endswith("supersedes earlier.toml")
    one, two = json.loads(review_shown.json_text([earlier, later]))["reports"]
    assert (one["superseded_by"], two["superseded_by"]) == ([later.sha256], [])
    _columns, row, other = csv.reader(io.StringIO(review_shown.csv_text([earlier, later])))
    assert row[-2:] == ["", "later.toml"]
    assert other[-2:] == ["earlier.toml", ""]
    assert f"follows the report with SHA-256 {later.follows}" in review_shown.words(later)


def test_an_altered_report_supersedes_nothing() -> None:
    earlier, later = followed()
    _head, first, second = review_shown.lines(
        [earlier, replace(later, state="altered")]
    ).splitlines()
    assert "superseded" not in first
    assert "supersedes" not in second


# For programs


def test_json_tells_all_of_it(capsys: Output, tmp_path: Path) -> None:
    path = put(tmp_path / "r.toml", small.troubled())
    code, out, _err = ran(capsys, "review", "--json", path)
    assert code == 1
    document = json.loads(out)
    assert (document["kind"], document["format"]) == ("commission review", 1)
    (one,) = document["reports"]
    assert one["state"] == "sound"
    assert one["signoffs"][0]["trust"] == "unknown"
    assert {finding["kind"] for finding in one["findings"]} >= {"practice", "not done"}
    assert all(finding["remedy"] for finding in one["findings"])


def test_csv_has_one_row_for_each(capsys: Output, tmp_path: Path) -> None:
    put(tmp_path / "a.toml", small.sound())
    put(tmp_path / "b.toml", small.troubled())
    code, out, _err = ran(capsys, "review", "--csv", tmp_path)
    assert code == 1
    head, *rows = csv.reader(io.StringIO(out))
    assert tuple(head) == COLUMNS
    assert [row[COLUMNS.index("state")] for row in rows] == ["sound", "sound"]
    assert [row[COLUMNS.index("practice")] for row in rows] == ["no", "yes"]


@pytest.mark.parametrize("start", ["=", "+", "-", "@", "\t", "\r", "\n", " =", "＝", "\t="])
def test_no_cell_is_a_formula(start: str) -> None:
    """The beginnings that spreadsheets take for a formula: common advice, no standard."""
    cell = f"{start}HYPERLINK(1)"
    assert defused(cell) == f"'{cell}"
    evil = Review(name=cell, sha256="", bytes=1, state="sound", standing=cell, site=cell)
    _head, row = csv.reader(io.StringIO(csv_text([evil]), newline=""))
    for value in row:
        assert not value.startswith(("=", "+", "-", "@", "\t", "\r", "\n", "＝"))
    assert defused("Oak field = new") == "Oak field = new"


def test_a_formula_in_a_report_reaches_no_cell(capsys: Output, tmp_path: Path) -> None:
    text = small.sound().replace(b'name = "Sam Sample"', b'name = "=1+1\\u0009"')
    put(tmp_path / "=1.toml", resealed(text))
    _code, out, _err = ran(capsys, "review", "--csv", tmp_path / "=1.toml")
    row = list(csv.reader(io.StringIO(out)))[1]
    assert row[COLUMNS.index("signed_by")].startswith("'=1+1<U+0009>")


# What was seen before, and digests


def test_a_cut_version_of_one_seen_before_is_told(capsys: Output, report: Path) -> None:
    whole, cut = countersigned(small.sound()), small.sound()
    _code, out, _err = ran(capsys, "review", put(report, cut))
    assert "goes on from" not in out
    _code, out, _err = ran(capsys, "review", put(report, whole))
    assert "goes on from the version with one sign-off" in out
    _code, out, _err = ran(capsys, "review", report)
    assert "goes on from" not in out
    code, out, _err = ran(capsys, "review", put(report, cut))
    assert code == 1
    assert "Cut: a longer version of it was seen here before" in out
    assert hashlib.sha256(whole).hexdigest() in out
    (seen,) = load_seen().values()
    assert seen.longest.signoffs == 2


def test_line_ends_changed_by_mail_hide_no_cut_and_make_no_other_file(
    capsys: Output, report: Path
) -> None:
    whole, cut = countersigned(small.sound()), small.sound()
    ran(capsys, "review", put(report, whole))
    digest = hashlib.sha256(whole).hexdigest()
    mailed = put(report, whole.replace(b"\n", b"\r\n"))
    _code, out, _err = ran(capsys, "review", mailed, "--digest", digest)
    assert "Line ends: " in out
    assert "but for its line ends" in out
    assert "was seen here" not in out
    mailed = put(report, cut.replace(b"\n", b"\r\n"))
    _code, out, _err = ran(capsys, "review", mailed, "--digest", digest)
    assert "Cut: a longer version of it was seen here before" in out
    assert "it is shorter than the file with that SHA-256" in out
    assert "Another one seen" not in out


def test_another_file_under_the_same_id_is_told_and_takes_no_place(
    capsys: Output, report: Path
) -> None:
    ran(capsys, "review", report)
    kept = seen_file().read_bytes()
    other = countersigned(resealed(small.sound()))
    for content in (other, resealed(small.sound())):
        code, out, _err = ran(capsys, "review", put(report, content))
        assert code == 1
        assert "Another one seen" in out
        assert seen_file().read_bytes() == kept


def test_two_reviews_at_once_keep_what_both_saw(report: Path) -> None:
    """Which of them ends first does not matter, and the longer version stays."""
    other = put(report.with_name("other.toml"), small.troubled())
    longer = put(report.with_name("longer.toml"), countersigned(small.sound()))
    for first, second in ((0, 1), (1, 0)):
        desks = [Desk(Disk(), None), Desk(Disk(), None)]
        for desk, paths in zip(desks, ([report], [longer, other]), strict=True):
            for path in paths:
                desk.reviewed(path, path.name, "")
        desks[first].remember()
        desks[second].remember()
        seen = load_seen()
        assert [len(one.version) for one in seen.values()] in ([2, 1], [1, 2])
        assert len(seen) == 2
        seen_file().unlink()


def test_nothing_altered_is_remembered(capsys: Output, report: Path) -> None:
    for content in (
        small.sound().replace(b"Hedge", b"Ledge"), small.sound().replace(b"\n", b"\r\n"), b"x",
    ):  # fmt: skip
        ran(capsys, "review", put(report, content))
        assert not seen_file().exists()


def test_a_register_that_cannot_be_written_takes_nothing_from_a_review(
    capsys: Output, report: Path, monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    home = put(tmp_path / "home", b"a file where the folder should be")
    monkeypatch.setenv("COMMISSION_HOME", str(home / "data"))
    code, out, err = ran(capsys, "review", report)
    assert code in (1, 2)
    assert "signed by keys not known here" in out or err


@pytest.mark.parametrize(
    ("handed_over", "have", "words"),
    [
        (small.sound, small.sound, "it is the file with the SHA-256 asked for"),
        (small.sound, lambda: countersigned(small.sound()), "it is longer than the file"),
        (lambda: countersigned(small.sound()), small.sound, "it is not the file with that SHA-256"),
        (small.sound, small.troubled, "it is not the file with that SHA-256"),
        (small.sound, lambda: small.sound().replace(b"\n", b"\r\n"), "but for its line ends"),
    ],
)
def test_a_digest_tells_whether_it_is_the_file_that_was_handed_over(
    capsys: Output, report: Path, handed_over: Any, have: Any, words: str
) -> None:
    digest = hashlib.sha256(handed_over()).hexdigest()
    code, out, _err = ran(capsys, "review", put(report, have()), "--digest", digest.upper())
    assert code == 1
    assert words in out


def test_a_digest_of_a_longer_one_seen_before_tells_that_this_is_shorter(
    capsys: Output, report: Path
) -> None:
    whole = countersigned(small.sound())
    ran(capsys, "review", put(report, whole))
    digest = hashlib.sha256(whole).hexdigest()
    spaced = " ".join(digest[start : start + 8] for start in range(0, 64, 8))
    _code, out, _err = ran(capsys, "review", put(report, small.sound()), "--digest", spaced)
    assert "it is shorter than the file with that SHA-256" in out


def test_a_digest_is_for_one_report_and_has_64_digits(capsys: Output, report: Path) -> None:
    for arguments in ([report, report.parent, "--digest", "ab"], [report, "--digest", "xyz"]):
        assert ran(capsys, "review", *arguments)[0] == 2
    two = put(report.with_name("two.toml"), small.troubled())
    assert ran(capsys, "review", report, two, "--digest", "ab" * 32)[0] == 2


# What lies beside a report


@pytest.fixture
def job(tmp_path: Path) -> Path:
    """The folder of a signed job with a photo."""
    session = small.begun(tmp_path)
    step = walks.first_open(session)
    assert step is not None
    session.attach(step, put(tmp_path / "photo.jpg", b"not really a photo"))
    session.sign(walks.signoff(), walks.KEY)
    session.close()
    return session.job.folder


def test_photos_beside_a_report_are_checked(capsys: Output, job: Path, tmp_path: Path) -> None:
    _code, out, _err = ran(capsys, "review", job)
    assert "photos and documents beside it: 1, unchanged" in out
    (photo,) = (job / "evidence").iterdir()
    photo.write_bytes(b"another photo")
    _code, out, _err = ran(capsys, "review", job)
    assert "it was changed: its digest is not the one in the report" in out
    photo.unlink()
    assert f"{photo.name}: it is missing" in ran(capsys, "review", job)[1]
    outside = put(tmp_path / "outside", b"not really a photo")
    photo.symlink_to(outside)
    assert "leads out of the job's folder" in ran(capsys, "review", job)[1]
    photo.unlink()
    os.mkfifo(photo)
    assert "it is not a file" in ran(capsys, "review", job)[1]
    alone = put(tmp_path / "alone" / "report.toml", (job / "report.toml").read_bytes())
    assert "are not beside it, and were not checked" in ran(capsys, "review", alone)[1]


@pytest.mark.parametrize("file", ["../outside", "/etc/hostname", "evidence/../record.toml", "x"])
def test_nothing_outside_the_evidence_is_read(
    capsys: Output, job: Path, file: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    report = job / "report.toml"
    content = report.read_bytes()
    start = content.index(b"\n[[evidence]]\nfile = ")
    end = content.index(b"\n", start + 15)
    line = f'\n[[evidence]]\nfile = "{file}"'.encode()
    report.write_bytes(resealed(content[:start] + line + content[end:]))
    _code, out, _err = ran(capsys, "review", job)
    assert f"{file}: this is no name of a file of evidence; nothing was read" in out


CONFIG = """\
[tsa]
default_tsa = own
[own]
serial = {folder}/serial
crypto_device = builtin
signer_digest = sha256
default_policy = 1.2.3.4.1
digests = sha256
ess_cert_id_alg = sha256
[ext]
extendedKeyUsage = critical,timeStamping
"""


def openssl(folder: Path, *arguments: object) -> None:
    """Run the openssl program; it must do what it was asked."""
    command = ["openssl", *(str(argument) for argument in arguments)]
    done = subprocess.run(command, cwd=folder, capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stderr


@pytest.fixture(scope="module")
def authority(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """An invented timestamp authority: its folder, with `ca.pem` and the key of its clock."""
    assert shutil.which("openssl"), "this test needs the openssl program"
    folder = tmp_path_factory.mktemp("authority")
    put(folder / "serial", b"01\n")
    put(folder / "tsa.cnf", CONFIG.format(folder=folder).encode())
    key = ("-newkey", "rsa:2048", "-nodes")
    openssl(
        folder, "req", "-x509", *key, "-keyout", "ca.key", "-out", "ca.pem", "-days", 9000,
        "-subj", "/CN=Invented authority",
    )  # fmt: skip
    openssl(
        folder, "req", *key, "-keyout", "tsa.key", "-out", "tsa.csr", "-subj", "/CN=Invented clock"
    )
    openssl(
        folder, "x509", "-req", "-in", "tsa.csr", "-CA", "ca.pem", "-CAkey", "ca.key",
        "-CAcreateserial", "-out", "tsa.pem", "-days", 9000, "-extfile", "tsa.cnf",
        "-extensions", "ext",
    )  # fmt: skip
    return folder


def stamp(authority: Path, report: Path) -> Path:
    """A timestamp token of a report, beside it."""
    token = report.with_name(f"{report.name}.tsr")
    openssl(authority, "ts", "-query", "-data", report, "-sha256", "-cert", "-out", "q.tsq")
    openssl(
        authority, "ts", "-reply", "-config", "tsa.cnf", "-queryfile", "q.tsq",
        "-signer", "tsa.pem", "-inkey", "tsa.key", "-out", token,
    )  # fmt: skip
    return token


def test_a_timestamp_is_checked_against_the_authority_that_is_named(
    capsys: Output, report: Path, authority: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    trusted = ("--tsa-ca", authority / "ca.pem")
    assert "no timestamp token" in ran(capsys, "review", report, *trusted)[1]
    token = stamp(authority, report)
    assert "lies beside it, not checked" in ran(capsys, "review", report)[1]
    _code, out, _err = ran(capsys, "review", report, *trusted)
    assert "timestamped " in out
    assert "GMT" in out
    assert ": all of it" in out
    put(report, small.sound().replace(b"\n", b"\r\n"))  # by mail: of what was signed it says all
    assert ": all of it" in ran(capsys, "review", report, *trusted)[1]
    put(report, countersigned(small.sound()))
    assert ": it up to sign-off 1" in ran(capsys, "review", report, *trusted)[1]
    put(report, small.troubled())
    _code, out, _err = ran(capsys, "review", report, *trusted)
    assert "does not hold for it: message imprint mismatch" in out
    put(report, small.sound())
    _code, out, _err = ran(capsys, "review", report, "--tsa-ca", authority / "tsa.csr")
    assert "Timestamp:" in out
    put(token, b"no token")
    assert "does not hold for it" in ran(capsys, "review", report, *trusted)[1]
    assert ran(capsys, "review", report, "--tsa-ca", authority / "none")[0] == 2
    monkeypatch.setenv("PATH", "")
    assert "the program openssl is not here" in ran(capsys, "review", report, *trusted)[1]


def test_another_authority_is_not_trusted(
    capsys: Output, report: Path, authority: Path, tmp_path: Path
) -> None:
    stamp(authority, report)
    openssl(
        tmp_path, "req", "-x509", "-newkey", "rsa:2048", "-nodes", "-keyout", "k", "-out", "ca.pem",
        "-days", 9000, "-subj", "/CN=Another invented authority",
    )  # fmt: skip
    _code, out, _err = ran(capsys, "review", report, "--tsa-ca", tmp_path / "ca.pem")
    assert "does not hold for it: certificate verify error" in out


# What the README tells of it


def test_states_kinds_and_columns_are_told() -> None:
    part = section("## Reviewing reports")
    assert [codes(row[0])[0] for row in rows(part, "state")] == list(get_args(State))
    assert [(codes(row[0])[0], row[1]) for row in rows(part, "finding")] == list(KINDS.items())
    (told,) = (one for one in part.split("\n\n") if one.startswith("`--csv` has one row"))
    names = ", ".join(f"`{column}`" for column in COLUMNS)
    assert names in " ".join(told.split())


def test_keys_of_the_json_are_told(job: Path) -> None:
    whole = review((job / "report.toml").read_bytes(), "report.toml", KnownSigners())
    document = json.loads(review_shown.json_text([whole]))
    part = section("## Reviewing reports")
    told = [name for row in rows(part, "key of `--json`") for name in codes(row[0])]
    assert sorted(told) == sorted(set(paths_of(document)))


def test_the_function_works_as_told(report: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(put(report.with_name("report.toml"), small.sound()).parent)
    (block,) = re.findall(r"```python\n(.*?)```", section("## Reviewing reports"), re.DOTALL)
    run = subprocess.run(
        [sys.executable, "-W", "ignore", "-c", block], capture_output=True, text=True, check=False
    )
    assert run.stdout.startswith("sound signed by keys not known here ["), run.stderr
