"""Every command: what it prints, and its exit code; errors are words, never a traceback."""

from __future__ import annotations

import json
import os
import re
import subprocess
import sys
import tomllib
from pathlib import Path
from typing import Any

import pytest

from commission import cli
from commission.crew import Hands
from commission.host import Disk
from commission.opening import open_job
from commission.problems import HeldByAnother, InputRefused
from commission.record import lock
from commission.resources import checklists, samples
from commission.site.load import parse_site
from commission.user import crash_log
from tests import walks

SAMPLE = "small-garden"
COMMANDS = (
    "open", "new", "edit", "expect", "size", "check", "report", "tablet", "practice", "locate",
    "convert", "print", "enter", "compare", "review", "signers", "jobs", "samples", "schema",
)  # fmt: skip
Output = pytest.CaptureFixture[str]


@pytest.fixture
def site(tmp_path: Path) -> Path:
    """A copy of a sample in a folder of its own."""
    path = tmp_path / "lawn.toml"
    path.write_bytes(samples()[SAMPLE].read_bytes())
    return path


@pytest.fixture
def signed(site: Path) -> Path:
    """The folder of a job that was signed."""
    session = open_job(site, disk=Disk(), now=walks.clock())
    session.sign(walks.signoff(), walks.KEY)
    session.close()
    return session.job.folder


def begun(site: Path, **how: Any) -> Path:
    """A job that was begun and closed again."""
    session = open_job(site, disk=Disk(), now=walks.clock(), **how)
    session.close()
    return session.job.folder


def ran(capsys: Output, *arguments: object) -> tuple[int, str, str]:
    """Exit code, standard output and standard error of a command."""
    code = cli.main([str(argument) for argument in arguments])
    out, err = capsys.readouterr()
    assert "Traceback" not in out + err
    assert "\u001b" not in out + err
    return code, out, err


# Help and usage


@pytest.mark.parametrize("command", COMMANDS)
def test_every_command_has_help(capsys: Output, command: str) -> None:
    code, out, _err = ran(capsys, command, "--help")
    assert code == 0
    assert f"usage: commission {command}" in out
    assert len(out.splitlines()) > 4


def test_help_names_every_command_the_exit_codes_and_the_caution(capsys: Output) -> None:
    code, out, _err = ran(capsys, "--help")
    assert code == 0
    assert "Without a command: the start screen" in " ".join(out.split())
    for command in COMMANDS:
        assert f"\n    {command} " in out
    assert "0 done, 1 findings, 2 input or usage refused, 3 held by another, 4 could not" in out
    assert "prove dead" in out


def test_every_command_is_tested_here() -> None:
    choices = next(a.choices for a in cli.parser()._actions if a.dest == "command")
    assert tuple(choices or ()) == COMMANDS


@pytest.mark.parametrize(
    "arguments",
    [
        [], ["nothing"], ["open"], ["expect", "no-such-file.toml"], ["open", "x", "--strange"],
        ["schema", "colour"], ["report", "no-such-folder"], ["jobs", "no-such.toml"],
        ["expect", "evil\u001b[2Jname.toml"], ["\u001b]0;title\u0007"],
        ["open", "x" * 5000], ["expect", "x\0y"],
    ],
)  # fmt: skip
def test_wrong_usage_is_refused_in_words(capsys: Output, arguments: list[str]) -> None:
    code, out, err = ran(capsys, *arguments)
    assert code == 2
    assert out == ""
    assert len(err) > 10


def test_version(capsys: Output) -> None:
    assert ran(capsys, "--version")[:2] == (0, "commission 0.1.0\n")


# The walk


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (["nothing.toml"], "is not there"),
        (["{site}", "--job", "reheck"], "there is no kind of job 'reheck'"),
        (["{site}", "--checklist", "{site}"], "is not a checklist"),
        (["{site}", "--checklist", "nothing.toml"], "nothing.toml can't be read"),
    ],
)
def test_open_tells_the_real_mistake_before_the_terminal(
    capsys: Output, site: Path, arguments: list[str], words: str
) -> None:
    code, _out, err = ran(capsys, "open", *(one.format(site=site) for one in arguments))
    assert code == 2
    assert words in err
    assert "terminal" not in err
    assert list(site.parent.iterdir()) == [site]


def test_open_says_that_it_needs_a_terminal(capsys: Output, site: Path) -> None:
    code, _out, err = ran(capsys, "open", site)
    assert code == 2
    assert "terminal" in err
    assert list(site.parent.iterdir()) == [site], "nothing was begun"


# What is expected


def test_expect_prints_the_sheet(capsys: Output, site: Path) -> None:
    code, out, _err = ran(capsys, "expect", site)
    assert code == 0
    read = parse_site(site.read_bytes(), site.name)
    for path in read.path:
        assert f"\n{path.id} " in out
    for words in (
        "Loop resistance", "Limits", "the worst set", "lowest mains", "warmest soil",
        "conservative", "inrush", "(invented)", "Local codes", "meter's accuracy is marginal",
    ):  # fmt: skip
        assert words in out


def test_expect_json_has_the_documented_keys(capsys: Output, site: Path) -> None:
    code, out, _err = ran(capsys, "expect", site, "--json")
    assert code == 0
    document = json.loads(out)
    assert set(document) >= {"format", "program", "formula_set", "outputs", "conditions"}
    assert document["kind"] == "commission expectations"
    assert document["invented"] is True
    assert document["site"] == tomllib.loads(site.read_text(encoding="utf-8"))["site"]["name"]
    (output,) = document["outputs"]
    assert set(output) >= {"output", "standby_current_a", "together", "paths"}
    (path,) = output["paths"]
    assert set(path) >= {"path", "standby_current_a", "ends", "stations"}
    for end in path["ends"]:
        assert set(end) == {"box", "loop_resistance_ohm", "low_ohm", "high_ohm"}
        assert end["low_ohm"] < end["loop_resistance_ohm"] < end["high_ohm"]
    for station in path["stations"]:
        assert set(station) == {
            "station", "box", "inrush_voltage_v", "holding_voltage_v", "inrush_path_current_a",
            "holding_path_current_a", "solenoids",
        }  # fmt: skip
        assert station["inrush_voltage_v"] < station["holding_voltage_v"]
        assert station["inrush_path_current_a"] > station["holding_path_current_a"]
    together = output["together"]
    assert set(together) >= {
        "stations", "solenoid", "inrush_voltage_v", "holding_voltage_v", "minimum_v", "ratio",
    }  # fmt: skip
    assert together["ratio"] == pytest.approx(
        together["inrush_voltage_v"] / together["minimum_v"], rel=1e-12
    )


@pytest.mark.parametrize("earthing", ["floating", "earthed"])
def test_expect_json_has_the_volts_to_earth_of_the_sheet(
    capsys: Output, site: Path, earthing: str
) -> None:
    text = site.read_text(encoding="utf-8")
    site.write_text(text.replace('earthing = "floating"', f'earthing = "{earthing}"'), "utf-8")
    (output,) = json.loads(ran(capsys, "expect", site, "--json")[1])["outputs"]
    first, second = output["paths"][0]["volts_to_earth"]
    assert (first["conductor"], second["conductor"]) == ("first", "second")
    assert first["low_v"] < first["voltage_v"] < first["high_v"]
    sheet = ran(capsys, "expect", site)[1]
    assert re.search(rf"first conductor to earth +{first['voltage_v']:.1f}", sheet)
    if earthing == "floating":
        assert second == {**first, "conductor": "second"}
    else:
        assert (second["voltage_v"], second["low_v"]) == (None, None)
        assert re.search(rf"second conductor to earth +at most {second['high_v']:.2f} V", sheet)


def test_expect_json_of_a_real_site_says_nothing_of_inventing(capsys: Output, site: Path) -> None:
    text = site.read_text(encoding="utf-8")
    site.write_text(text.replace("invented = true", "invented = false"), encoding="utf-8")
    assert "invented" not in json.loads(ran(capsys, "expect", site, "--json")[1])


def test_expect_takes_a_job_as_it_was_begun(capsys: Output, site: Path) -> None:
    folder = begun(site)
    before = ran(capsys, "expect", site, "--json")
    site.write_text("kind = 'commission site'\nformat = 1\n", encoding="utf-8")
    assert ran(capsys, "expect", folder, "--json") == before


# Checking


def test_check_finds_nothing_in_sound_files(capsys: Output, site: Path) -> None:
    folder = begun(site)
    code, out, _err = ran(
        capsys, "check", site, folder, folder / "checklist.toml", folder / "record.toml"
    )
    assert code == 0, out
    assert out.count("no problems") == 4


def test_check_prints_every_problem_of_every_file(capsys: Output, site: Path) -> None:
    text = site.read_text(encoding="utf-8").replace("[controller]", "[controller]\ncolour = 3", 1)
    site.write_text(text, encoding="utf-8")
    other = site.with_name("other.toml")
    other.write_text('kind = "something else"\n', encoding="utf-8")
    code, out, _err = ran(capsys, "check", site, other)
    assert code == 1
    assert "colour" in out
    assert "something else" in out


def test_what_is_not_there_is_refused_and_the_others_are_checked(
    capsys: Output, site: Path
) -> None:
    text = site.read_text(encoding="utf-8").replace("[controller]", "[controller]\ncolour = 3", 1)
    site.write_text(text, encoding="utf-8")
    code, out, err = ran(capsys, "check", site.with_name("gone.toml"), site, site.parent, "x\0y")
    assert code == 2
    assert "gone.toml can't be read" in err
    assert f"{site.parent} is not a job" in err
    assert "x<U+0000>y" in err
    assert "colour" in out


@pytest.mark.parametrize(
    ("content", "words"),
    [
        (b"a\0\xff", "is not UTF-8 text"),
        ('kind = "commission site"'.encode("utf-16"), "is not UTF-8 text"),
        (b"length: 3 m\n", "is not valid TOML"),
        (b"length = 3\n", "it states no kind"),
    ],
)
def test_what_is_no_file_of_ours_is_told_as_what_it_is(
    capsys: Output, site: Path, content: bytes, words: str
) -> None:
    site.write_bytes(content)
    code, out, _err = ran(capsys, "check", site)
    assert code == 1
    assert words in out
    for command in ("expect", "open", "jobs", "report"):
        code, _out, err = ran(capsys, command, site)
        assert code == 2
        assert words in err


@pytest.mark.parametrize(
    "command",
    [["check"], ["expect"], ["open"], ["jobs"], ["report"], ["open", SAMPLE, "--checklist"]],
    ids=" ".join,
)
def test_what_may_never_end_is_refused_at_once(tmp_path: Path, command: list[str]) -> None:
    pipe = tmp_path / "pipe.toml"
    os.mkfifo(pipe)  # reading it would wait for somebody to write
    done = subprocess.run(
        [sys.executable, "-m", "commission", *command, str(pipe)],
        capture_output=True, text=True, timeout=60, check=False,
    )  # fmt: skip
    assert done.returncode == 2, done.stderr
    assert f"{pipe} is not a file" in done.stderr


# Output that nobody takes


@pytest.mark.parametrize(
    "command",
    [
        ["expect", SAMPLE], ["expect", SAMPLE, "--json"], ["samples"], ["schema", "site"],
        ["--help"], ["open", "--help"], ["--version"],
    ],
    ids=" ".join,
)  # fmt: skip
def test_output_that_is_refused_is_said_with_its_exit_code(command: list[str]) -> None:
    with open(os.devnull, "rb") as unwritable:  # writing to it is an error of the system
        done = subprocess.run(
            [sys.executable, "-m", "commission", *command],
            stdout=unwritable, stderr=subprocess.PIPE, text=True, timeout=60, check=False,
        )  # fmt: skip
    assert done.returncode == 4
    assert done.stderr.startswith("the output could not be written: ")
    assert len(done.stderr.splitlines()) == 1


def test_complaints_that_nobody_takes_keep_the_exit_code() -> None:
    with open(os.devnull, "rb") as unwritable:
        done = subprocess.run(
            [sys.executable, "-m", "commission", "check", "nothing.toml"],
            stderr=unwritable, stdout=subprocess.PIPE, text=True, timeout=60, check=False,
        )  # fmt: skip
    assert done.returncode == 2


def test_check_finds_a_changed_record_and_a_changed_copy(capsys: Output, site: Path) -> None:
    session = open_job(site, disk=Disk(), now=walks.clock())
    session.crew.take(Hands("Pat Example", "Sam Sample"))
    step = next(iter(session.job.statuses.values())).step
    session.note(step, "first words")
    session.note(step, "second words")
    session.close()
    folder = session.job.folder
    record = folder / "record.toml"
    sound = record.read_bytes()
    record.write_bytes(sound.replace(b"first words", b"other words"))
    code, out, _err = ran(capsys, "check", folder)
    assert code == 1
    assert "entry 1" in out
    record.write_bytes(sound)
    copy = folder / "site.toml"
    copy.write_bytes(copy.read_bytes() + b"# one more line\n")
    code, out, _err = ran(capsys, "check", folder)
    assert code == 1
    assert "site.toml" in out
    assert "its digest" in out
    code, _out, err = ran(capsys, "report", folder)
    assert code == 2
    assert "its digest" in err


# Reports, jobs, samples, schemas


def test_report_prints_a_draft_that_is_toml(capsys: Output, site: Path) -> None:
    code, out, _err = ran(capsys, "report", begun(site))
    assert code == 0
    assert out.startswith("# DRAFT")
    assert tomllib.loads(out)["verdict"] == "handed over with exceptions"


def test_report_names_the_signed_one(capsys: Output, site: Path) -> None:
    session = open_job(site, disk=Disk(), now=walks.clock())
    session.sign(walks.signoff(), walks.KEY)
    session.close()
    code, out, _err = ran(capsys, "report", session.job.folder)
    assert code == 0
    assert out.splitlines()[:2] == [
        str(session.job.folder / "report.toml"), "handed over with exceptions",
    ]  # fmt: skip
    assert ran(capsys, "check", session.job.folder)[0] == 0


def test_an_altered_report_is_found_by_check_and_report(capsys: Output, signed: Path) -> None:
    path = signed / "report.toml"
    text = path.read_text(encoding="utf-8")
    altered = text.replace('verdict = "handed over with exceptions"', 'verdict = "accepted"', 1)
    path.write_text(altered, encoding="utf-8")
    line = altered[: altered.index('verdict = "accepted"')].count("\n") + 1
    for command in ("check", "report"):
        code, out, _err = ran(capsys, command, signed)
        assert code == 1
        assert f"{path}:{line}: altered" in out
        assert "\naccepted" not in out


def test_a_record_that_goes_on_after_the_report_is_found(
    capsys: Output, site: Path, signed: Path
) -> None:
    report = (signed / "report.toml").read_bytes()
    (signed / "report.toml").unlink()
    session = open_job(signed, disk=Disk(), now=walks.clock())
    session.crew.take(Hands(observed_by=walks.OBSERVER, entered_by=walks.WRITER))
    session.note(next(iter(session.job.statuses.values())).step, "one thing more")
    session.close()
    (signed / "report.toml").write_bytes(report)
    code, out, _err = ran(capsys, "check", signed)
    assert code == 1
    assert "the record beside it goes on: 1 more entry" in out
    other = begun(site, new=True)
    (other / "report.toml").write_bytes(report)
    code, out, _err = ran(capsys, "report", other)
    assert code == 1
    assert "it holds another record than the one beside it" in out


def test_jobs_are_listed(capsys: Output, site: Path) -> None:
    assert "no job yet" in ran(capsys, "jobs", site)[1]
    first, second = begun(site), begun(site, new=True)
    code, out, _err = ran(capsys, "jobs", site)
    assert code == 0
    assert str(first) in out
    assert str(second) in out
    assert out.count("new installation") == 2


def test_jobs_names_a_job_whose_copy_of_the_site_was_changed(capsys: Output, site: Path) -> None:
    folder = begun(site)
    with (folder / "site.toml").open("a", encoding="utf-8") as copy:
        copy.write("# a remark\n")
    code, out, _err = ran(capsys, "jobs", site)
    assert code == 1
    assert str(folder) in out
    assert "site.toml: it was changed" in out
    assert ran(capsys, "check", folder)[0] == 1


def test_a_newer_record_or_report_asks_for_a_newer_program(
    capsys: Output, site: Path, signed: Path
) -> None:
    for name in ("record.toml", "report.toml"):
        file = signed / name
        file.write_text(file.read_text("utf-8").replace("format = 1", "format = 2", 1), "utf-8")
        _code, out, _err = ran(capsys, "check", file)
        assert "format 2 is newer than this program reads (1)" in out
        assert "use a newer program" in out
        assert "unchanged copy" not in out
    _code, out, _err = ran(capsys, "jobs", site)
    assert "use a newer program" in out
    assert "unchanged copy" not in out


def test_samples_are_listed_with_their_paths(capsys: Output) -> None:
    code, out, _err = ran(capsys, "samples")
    assert code == 0
    for name, path in samples().items():
        assert name in out
        assert str(path) in out


@pytest.mark.parametrize("what", ["site", "checklist"])
def test_schemas_are_json_schemas(capsys: Output, what: str) -> None:
    code, out, _err = ran(capsys, "schema", what)
    schema = json.loads(out)
    assert code == 0
    assert schema["$schema"].startswith("https://json-schema.org/draft/2020-12")
    assert schema["type"] == "object"
    assert {"kind", "format"} <= set(schema["properties"])


# Opening


def test_a_site_with_one_open_job_resumes_it(site: Path) -> None:
    assert begun(site) == begun(site)


def test_several_open_jobs_are_listed_and_never_guessed(site: Path) -> None:
    first, second = begun(site), begun(site, new=True)
    with pytest.raises(InputRefused) as refused:
        begun(site)
    for folder in (first, second):
        assert f"commission open {folder}" in str(refused.value)


def test_after_a_signed_job_another_is_begun_only_when_asked_for(
    capsys: Output, site: Path, signed: Path
) -> None:
    code, _out, err = ran(capsys, "open", site)
    assert code == 2
    assert f"\n  commission open {site} --new\n" in err
    assert f"\n  commission open {signed}   # new installation, begun 2031-05-04 08:00" in err
    assert {path for path in site.parent.iterdir() if path.is_dir()} == {signed}
    with pytest.raises(InputRefused, match="--new --job new"):
        begun(site, kind="new")
    assert begun(site, new=True) != signed
    assert begun(site) != signed, "the one that is open is resumed"


def test_a_job_of_another_kind_is_begun_after_a_signed_one(site: Path, signed: Path) -> None:
    session = open_job(site, kind="recheck", disk=Disk(), now=walks.clock())
    session.close()
    assert "-recheck-" in session.job.folder.name
    assert any(signed.name in notice for notice in session.job.notices)


class UntouchedDisk(Disk):
    """A disk that can only be read."""

    def make_directory(self, path: Path) -> None:
        raise PermissionError(30, "Read-only file system", str(path))

    create = open_at_end = make_directory  # type: ignore[assignment]


def test_a_signed_job_opens_from_a_read_only_folder(site: Path, signed: Path) -> None:
    (signed / lock.LOCK).unlink()
    before = {path: path.stat().st_mtime_ns for path in signed.rglob("*")}
    signed.chmod(0o500)
    try:
        session = open_job(signed, disk=UntouchedDisk(), now=walks.clock())
        session.keep_draft("", "")
        session.close()
    finally:
        signed.chmod(0o700)
    assert session.job.signed
    assert {path: path.stat().st_mtime_ns for path in signed.rglob("*")} == before


def test_a_damaged_job_is_named_whatever_else_is_there(capsys: Output, site: Path) -> None:
    folders = [begun(site), begun(site, new=True), begun(site, new=True)]
    record = folders[1] / "record.toml"
    record.write_bytes(record.read_bytes().replace(b"job_kind", b"job_kund"))
    (folders[2] / "record.toml").unlink()
    code, out, _err = ran(capsys, "jobs", site)
    assert code == 1
    assert f"{folders[0]}  " in out
    assert f"{record}: header: its digest does not match" in out
    assert f"{folders[2]}: is not a job: it holds no record.toml" in out
    code, _out, err = ran(capsys, "open", site)
    assert code == 2
    assert str(record) in err
    assert str(folders[2]) in err
    session = open_job(site, new=True, disk=Disk(), now=walks.clock())
    session.close()
    assert any(str(record) in notice for notice in session.job.notices)
    assert begun(folders[0]) == folders[0]


def test_a_sample_is_copied_before_it_is_worked_on(tmp_path: Path) -> None:
    session = open_job(SAMPLE, disk=Disk(), now=walks.clock())
    session.close()
    assert session.job.folder.parent == Path(os.environ["COMMISSION_HOME"]) / "samples"
    assert any("your copy" in notice for notice in session.job.notices)
    assert session.job.header.practice


def test_resuming_uses_the_copies_and_says_that_the_original_differs(site: Path) -> None:
    folder = begun(site)
    assert not any("differs" in notice for notice in _notices(folder))
    text = site.read_text(encoding="utf-8")
    site.write_text(text + "\n# one more line\n", encoding="utf-8")
    assert any("site file differs" in notice for notice in _notices(folder))
    site.unlink()
    assert not any("site file differs" in notice for notice in _notices(folder))


def test_a_checklist_of_ones_own_is_not_compared_with_the_standard_one(
    site: Path, tmp_path: Path
) -> None:
    standard = checklists()["new-installation"].read_text("utf-8")
    for title, told in (("Ours", False), (None, True)):
        own = tmp_path / "own.toml"
        text = (
            re.sub(r"(?m)^title = .*", f'title = "{title}"', standard, count=1)
            if title
            else standard
        )
        own.write_text(text + "\n# one more line\n", "utf-8")
        session = open_job(
            site, kind="new", new=True, checklist=own, disk=Disk(), now=walks.clock()
        )
        session.close()
        notices = _notices(session.job.folder)
        assert any("checklist differs" in notice for notice in notices) == told


def test_a_torn_entry_is_set_aside_and_said(site: Path) -> None:
    folder = begun(site)
    with (folder / "record.toml").open("ab") as record:
        record.write(b'\n[[entry]]\nnumber = 1\ntype = "no')
    assert any("cut short" in notice for notice in _notices(folder))


def _notices(folder: Path) -> tuple[str, ...]:
    session = open_job(folder, disk=Disk(), now=walks.clock())
    session.close()
    return session.job.notices


def test_a_checklist_of_ones_own_is_used_and_must_fit_the_kind(site: Path) -> None:
    own = site.with_name("own.toml")
    folder = begun(site)
    text = (folder / "checklist.toml").read_text(encoding="utf-8")
    own.write_text(text + "\n# my own\n", encoding="utf-8")
    assert (begun(site, new=True, checklist=own) / "checklist.toml").read_bytes() == (
        own.read_bytes()
    )
    other = site.with_name("other.toml")
    other.write_text(text.replace('job = "new"', 'job = "recheck"', 1), encoding="utf-8")
    assert "-recheck-" in begun(site, new=True, checklist=other).name
    with pytest.raises(InputRefused, match="--job new"):
        begun(site, new=True, checklist=own, kind="recheck")
    with pytest.raises(InputRefused, match="kind of job"):
        begun(site, kind="reheck")


def test_a_held_job_is_refused_with_who_and_since_when(
    capsys: Output, site: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    session = open_job(site, disk=Disk(), now=walks.clock())
    monkeypatch.setattr("commission.commands.open.refuse_without_terminal", lambda: None)
    program = (
        "import sys; from commission import cli; from commission.commands import open as walk; "
        "walk.refuse_without_terminal = lambda: None; sys.exit(cli.main(sys.argv[1:]))"
    )
    try:
        done = subprocess.run(
            [sys.executable, "-c", program, "open", str(site)],
            capture_output=True, text=True, timeout=60, check=False,
        )  # fmt: skip
    finally:
        session.close()
    assert done.returncode == 3, done.stderr
    assert "since 2031-05-04 08:00" in done.stderr
    assert "close it there first" in done.stderr


def test_a_refusal_releases_the_lock(site: Path) -> None:
    folder = begun(site)
    (folder / "site.toml").write_bytes(b"changed")
    with pytest.raises(InputRefused, match="changed after the job was begun"):
        open_job(folder, disk=Disk(), now=walks.clock())
    try:
        lock.hold(folder, walks.clock()).release()
    except HeldByAnother as held:
        pytest.fail(f"still held: {held}")


class ReadOnlyDisk(Disk):
    """A disk on which nothing new can be made; file modes do not stop an administrator."""

    def make_directory(self, path: Path) -> None:
        raise PermissionError(13, "Permission denied", str(path))


def test_a_read_only_folder_is_said_with_its_exit_code(
    capsys: Output, site: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("commission.commands.open.refuse_without_terminal", lambda: None)
    monkeypatch.setattr("commission.host.Disk", ReadOnlyDisk)
    code, _out, err = ran(capsys, "open", site)
    assert code == 4
    assert "read-only" in err
    assert "the job's folder was not made" in err


# When the program itself is wrong


def test_a_fault_of_the_program_is_plain_words_and_a_private_log(
    capsys: Output, site: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def broken(*_anything: object) -> None:
        customer = "Private Customer"
        raise RuntimeError(f"bug {len(customer)}")

    monkeypatch.setattr("commission.opening.site_of", broken)
    code, out, err = ran(capsys, "expect", site)
    assert code == 2
    assert out == ""
    assert "fault of the program" in err
    log = Path(os.environ["COMMISSION_HOME"]) / crash_log.LOG
    assert str(log) in err
    written = log.read_text(encoding="utf-8")
    assert "RuntimeError" in written
    assert "Private Customer" not in written
    if sys.platform != "win32":
        assert log.stat().st_mode & 0o077 == 0


@pytest.mark.parametrize("command", ["check R", "compare R R", "new --from R --yes again.toml"])
def test_what_looks_long_at_a_report_says_so(
    capsys: Output, signed: Path, monkeypatch: pytest.MonkeyPatch, command: str
) -> None:
    """A report may be made to take hours: whoever waits is told, and how to stop."""
    monkeypatch.setattr("commission.commands.say.LONG_LOOK_S", 0.0)
    monkeypatch.chdir(signed.parent)
    words = command.replace("R", str(signed / "report.toml")).split()
    _code, _out, err = ran(capsys, *words)
    assert "report.toml is looked at, which takes a while; Ctrl+C stops." in err


def test_an_interrupt_is_said(capsys: Output, site: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def interrupted(*_anything: object) -> None:
        raise KeyboardInterrupt

    monkeypatch.setattr("commission.opening.site_of", interrupted)
    code, _out, err = ran(capsys, "expect", site)
    assert code == 130
    assert "every confirmed answer is on disk" in err


def test_standby_beyond_what_the_cable_carries_is_refused_in_words(
    capsys: Output, site: Path
) -> None:
    """Constant power that no voltage satisfies: a finding of `check`, a refusal elsewhere."""
    text = site.read_text("utf-8")
    heavy = 'standby_current = "900 mA"\nstandby_model = "power"'
    site.write_text(re.sub(r'standby_current = "[^"]*"', heavy, text), "utf-8")
    code, out, _err = ran(capsys, "check", site)
    assert code == 1
    assert "more than the cable can carry" in out
    assert "output.1" in out
    for command in (["expect", site], ["expect", site, "--json"], ["size", site]):
        code, _out, err = ran(capsys, *command)
        assert "fault of the program" not in err
        assert code in (1, 2)
