"""Readings from paper: taken in as if typed, all or none, and told what is wrong with them."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterator, Sequence
from dataclasses import replace
from datetime import datetime, timedelta, timezone
from pathlib import Path

import pytest

from commission import cli
from commission.field_list import parse
from commission.host import Disk
from commission.opening import open_job, read_job
from commission.problems import CouldNotWrite
from commission.record.entry import Entry
from commission.record.lock import hold
from commission.resources import samples
from commission.session import Session
from commission.user.instruments import remember_instrument
from tests.printing.html_read import read_html
from tests.printing.sheet_read import step_ids
from tests.walks import KEY, METER, OBSERVER, WRITER, begin, signoff, walk_to_the_end

BEGUN = datetime(2025, 5, 4, 8, 0, 20, tzinfo=timezone(timedelta(hours=-6)))
HEAD = ("step", "reading", "instrument", "observer", "time", "note")
Row = tuple[str, str, str, str, str, str]
Output = pytest.CaptureFixture[str]


@pytest.fixture(scope="module")
def typed(tmp_path_factory: pytest.TempPathFactory) -> Session:
    """A job of the small sample whose every step was answered well, by typing."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv("COMMISSION_HOME", str(tmp_path_factory.mktemp("other-user")))
        session = begin(tmp_path_factory.mktemp("typed"), "small-garden")
        walk_to_the_end(session)
        session.close()
    return session


@pytest.fixture
def job(tmp_path: Path) -> Path:
    """A job of the same sample in which nothing is answered yet; the meter is known."""
    remember_instrument(METER)
    site = tmp_path / "lawn.toml"
    site.write_bytes(samples()["small-garden"].read_bytes())
    session = open_job(site, disk=Disk(), now=lambda: BEGUN)
    session.close()
    return session.job.folder


def at(minute: int) -> str:
    """So many minutes after the job was begun, as it is written on paper."""
    return (BEGUN + timedelta(minutes=minute)).isoformat(sep=" ", timespec="minutes")


def rows_of(session: Session) -> list[Row]:
    """All answers of a job as they would stand on paper, a minute for each."""
    answers = [entry for entry in session.job.state.entries if entry.type == "answer"]
    return [
        (entry.step, entry.text, entry.instrument, OBSERVER, at(minute), "")
        for minute, entry in enumerate(answers)
    ]


def text_of(rows: Sequence[Row], separator: str = ",") -> bytes:
    """Rows as a spreadsheet saves them."""
    file = io.StringIO(newline="")
    csv.writer(file, delimiter=separator).writerows([HEAD, *rows])
    return file.getvalue().encode()


def entered(job: Path, rows: Sequence[Row], *options: str) -> int:
    """The exit code of entering rows."""
    file = job.parent / "readings.csv"
    file.write_bytes(text_of(rows))
    return cli.main(["enter", str(job), str(file), "--by", WRITER, *options])


def entries(job: Path) -> tuple[Entry, ...]:
    return read_job(job, Disk()).state.entries


def judged(entry: Entry) -> Entry:
    """An entry without its times, its place in the record and what is no part of a list."""
    return replace(
        entry, number=0, entered_at=None, observed_at=None, photo="",
        list_of=None, written_with=None, previous="", sha256="",
    )  # fmt: skip


def place_of(rows: Sequence[Row], name: str) -> int:
    """The place of the first row of an item."""
    return next(n for n, row in enumerate(rows) if row[0].endswith(f"/{name}"))


def changed(rows: Sequence[Row], name: str, *, column: str, to: str) -> list[Row]:
    """Rows with one cell of the first row of an item changed."""
    place = place_of(rows, name)
    cells = list(rows[place])
    cells[HEAD.index(column)] = to
    return [*rows[:place], tuple(cells), *rows[place + 1 :]]  # type: ignore[list-item]


def test_a_whole_job_from_paper_is_judged_as_if_typed(
    typed: Session, job: Path, capsys: Output
) -> None:
    rows = rows_of(typed)
    assert len(rows) > 60
    assert entered(job, rows) == 0
    assert f"{len(rows)} kept, 0 skipped; of those kept 0 failed" in capsys.readouterr().out
    found = entries(job)
    assert [judged(entry) for entry in found] == [
        judged(entry) for entry in typed.job.state.entries
    ]
    assert [e.observed_at for e in found] == [
        (BEGUN + timedelta(minutes=n)).replace(second=0) for n in range(len(rows))
    ]
    assert {e.entered_by for e in found} == {WRITER}
    assert len({e.entered_at for e in found}) == 1
    assert all(e.entered_at and e.observed_at and e.entered_at > e.observed_at for e in found)


def test_what_is_entered_stands_on_the_sheet_by_the_same_ids(typed: Session, job: Path) -> None:
    sheet = job.parent / "sheet.html"
    assert cli.main(["print", str(job), "--output", str(sheet)]) == 0
    told = step_ids(read_html(sheet.read_text("utf-8")))
    assert {row[0] for row in rows_of(typed)} <= {*told.listed, *told.later}


def test_rows_that_are_there_already_are_skipped(typed: Session, job: Path, capsys: Output) -> None:
    rows = rows_of(typed)[:12]
    assert entered(job, rows[:8]) == 0
    before = entries(job)
    assert entered(job, rows) == 0
    assert "4 kept, 8 skipped" in capsys.readouterr().out
    assert entries(job)[: len(before)] == before
    assert entered(job, rows) == 0
    assert "0 kept, 12 skipped" in capsys.readouterr().out
    assert entered(job, [*rows, rows[-1]]) == 0
    assert "is entry 12 already" in capsys.readouterr().out
    session = open_job(job, disk=Disk(), now=lambda: BEGUN)
    session.withdraw(12, "wrong sheet")
    session.close()
    assert entered(job, rows) == 0
    assert "was entry 12 and was taken back" in capsys.readouterr().out


def test_a_row_twice_in_one_list_is_kept_once(typed: Session, job: Path, capsys: Output) -> None:
    row = rows_of(typed)[0]
    assert entered(job, [row, row]) == 0
    out = capsys.readouterr().out
    assert "1 kept, 1 skipped" in out
    assert "line 3, job/people: skipped, it stands twice in this list" in out


def test_a_retest_in_one_list_counts_last_and_a_fail_is_told(
    typed: Session, job: Path, capsys: Output
) -> None:
    rows = rows_of(typed)
    place = place_of(rows, "loop-resistance")
    step, good, meter, observer, when, _note = rows[place]
    bad = (step, "99 ohm", meter, observer, when, "wet joint")
    assert entered(job, [*rows[:place], bad], "--yes") == 1
    out = capsys.readouterr().out
    assert f"fail: {step}: " in out
    assert "1 failed, 0 marginal" in out
    assert "more than ten times away" in out
    state = read_job(job, Disk()).state
    assert state.latest[step].verdict == "fail"
    assert [note.text for note in state.notes[step]] == ["wet joint"]
    assert entered(job, [*rows[:place], bad, (step, good, meter, observer, when, "")]) == 0
    assert read_job(job, Disk()).state.latest[step].verdict == "pass"


@pytest.mark.parametrize(
    ("name", "column", "to", "told"),
    [
        ("radio", "step", "job/radoi", "step: no step has the id 'job/radoi' - nearest valid: "),
        ("radio", "reading", "perhaps", "reading: answer with one of: yes, no"),
        ("radio", "time", at(-5), "time: the job was begun later, 2025-05-04 08:00"),
        ("radio", "time", "2199-01-01 10:00", "time: it lies in the future; here it is"),
        ("radio", "time", at(30), "time: line 5, above it, was read later"),
        ("radio", "instrument", "metre", "instrument: no instrument is known as 'metre'"),
        ("dead-ac-between", "reading", "1,200", "reading: '1,200' can be read as 1200 or as 1.2"),
        ("dead-ac-between", "reading", "1 ohm", "reading: 'ohm' is not a unit of voltage"),
        ("dead-ac-between", "reading", "half a volt", "reading: 'half a volt' does not start with"),
        ("loop-resistance", "reading", "900 ohm", "reading: 900 ohm is more than ten times away"),
        ("loop-resistance", "reading", "-3 ohm", "reading: a resistance is not negative"),
    ],
)
def test_what_is_wrong_is_told_by_row_and_column_and_nothing_is_kept(
    typed: Session, job: Path, capsys: Output, name: str, column: str, to: str, told: str
) -> None:
    rows = rows_of(typed)
    place = place_of(rows, name)
    assert entered(job, changed(rows, name, column=column, to=to)) == 2
    problem = capsys.readouterr().err
    late = name == "radio" and to == at(30)  # then it is the row below that is too early
    assert f"readings.csv:{place + (3 if late else 2)}: {told}" in problem
    assert entries(job) == ()


def test_every_problem_of_every_row_is_told_at_once(
    typed: Session, job: Path, capsys: Output
) -> None:
    rows = rows_of(typed)[:6]
    rows = changed(rows, "radio", column="reading", to="perhaps")
    rows = changed(rows, "licence", column="observer", to="")
    rows[0] = (rows[0][0], rows[0][1], "nothing known", "", "noon", "")
    assert entered(job, rows) == 2
    err = capsys.readouterr().err
    assert [line.split(":")[1:3] for line in err.splitlines()] == [
        ["2", " observer"],
        ["2", " time"],
        ["3", " observer"],
        ["5", " reading"],
    ]
    assert entries(job) == ()


def test_the_safety_order_holds_row_by_row(typed: Session, job: Path, capsys: Output) -> None:
    rows = rows_of(typed)
    plan = typed.job.plan
    switch = next(n for n, row in enumerate(rows) if row[0] == plan.switching_on[0].id)
    bridge = next(
        n for n, row in enumerate(rows[:switch]) if plan.by_id[row[0]].item.clears and n > 20
    )
    forgotten = [*rows[:bridge], *rows[bridge + 1 : switch + 1]]
    assert entered(job, forgotten) == 2
    err = capsys.readouterr().err
    title = plan.by_id[rows[bridge][0]].title
    line = len(forgotten) + 1
    assert any(
        one.startswith(f"{job.parent}/readings.csv:{line}: step: ") and title in one
        for one in err.splitlines()
    ), err
    assert entries(job) == ()
    assert entered(job, rows[: switch + 1]) == 0


def test_a_check_made_before_the_supply_was_isolated_never_counts_after_it(
    typed: Session, job: Path, capsys: Output
) -> None:
    rows = rows_of(typed)
    plan = typed.job.plan
    switch = next(n for n, row in enumerate(rows) if row[0] == plan.switching_on[0].id)
    assert entered(job, rows[: switch + 1]) == 0
    clear = next(n for n, row in enumerate(rows[:switch]) if plan.by_id[row[0]].item.clears)
    isolated = (plan.isolating[0].id, "yes", "", OBSERVER, at(900), "")
    early = (rows[clear][0], rows[clear][1], rows[clear][2], OBSERVER, at(899), "")
    assert entered(job, [isolated]) == 0
    capsys.readouterr()
    assert entered(job, [early]) == 2
    assert "it was read before entry" in capsys.readouterr().err
    assert entered(job, [(*early[:4], at(901), "")]) == 0


def test_a_step_that_is_not_asked_is_told(typed: Session, job: Path, capsys: Output) -> None:
    plan, rows = typed.job.plan, rows_of(typed)
    depending = next(step for step in plan.steps if step.conditions and not step.item.clears)
    assert entered(job, [(depending.id, "yes", "", OBSERVER, at(1), "")]) == 2
    err = capsys.readouterr().err
    assert "step: it is not asked, by what was answered so far - it is asked once " in err
    assert depending.conditions[0][0] in err
    assert rows


def test_choices_are_meant_by_their_beginning(job: Path) -> None:
    rows: list[Row] = [
        ("job/radio", "Y", "", OBSERVER, at(1), ""),
        ("job/soil-moisture", "Moi", "", OBSERVER, at(2), ""),
    ]
    assert entered(job, rows) == 0
    assert [entry.text for entry in entries(job)] == ["yes", "moist"]


def test_a_meter_is_known_by_its_id_in_any_case(typed: Session, job: Path) -> None:
    rows = rows_of(typed)
    place = place_of(rows, "dead-ac-between")
    rows = changed(rows[: place + 1], "dead-ac-between", column="instrument", to="METER")
    assert entered(job, rows) == 0
    assert entries(job)[-1].instrument == "meter"


def test_who_enters_must_be_known(typed: Session, job: Path, capsys: Output) -> None:
    file = job.parent / "readings.csv"
    file.write_bytes(text_of(rows_of(typed)[:2]))
    assert cli.main(["enter", str(job), str(file)]) == 2
    assert "add --by NAME" in capsys.readouterr().err
    assert cli.main(["enter", str(job), str(file), "--by", "Sam\x1b[2J"]) == 2
    assert "--by: character 4 (U+001B)" in capsys.readouterr().err
    assert cli.main(["enter", str(job), str(file), "--by", "Sam"]) == 0
    file.write_bytes(text_of(rows_of(typed)[:4]))
    assert cli.main(["enter", str(job.parent / "lawn.toml"), str(file)]) == 0
    assert [entry.entered_by for entry in entries(job)] == ["Sam"] * 4


def test_what_cannot_be_opened_is_refused(typed: Session, job: Path, capsys: Output) -> None:
    rows = rows_of(typed)[:2]
    lock = hold(job, lambda: BEGUN)
    try:
        assert entered(job, rows) == 3
    finally:
        lock.release()
    assert cli.main(["enter", str(job), str(job.parent / "none.csv"), "--by", "Sam"]) == 2
    assert cli.main(["enter", str(job), str(job.parent), "--by", "Sam"]) == 2
    (job.parent / "other.toml").write_bytes((job.parent / "lawn.toml").read_bytes())
    assert cli.main(["enter", str(job.parent / "other.toml"), "x.csv", "--by", "Sam"]) == 2
    large = job.parent / "large.csv"
    large.write_bytes(b"x" * 2_000_001)
    assert cli.main(["enter", str(job), str(large), "--by", "Sam"]) == 2
    assert "larger than 2000000 bytes" in capsys.readouterr().err
    assert {path.name for path in job.parent.iterdir() if path.is_dir()} == {job.name}
    assert entries(job) == ()


class RefusingDisk(Disk):
    """A disk on which no file can be added to."""

    refuses = True

    def open_at_end(self, path: Path):  # type: ignore[no-untyped-def]
        file = super().open_at_end(path)
        disk = self

        def write(data: bytes) -> None:
            if disk.refuses:
                raise OSError(28, "No space left on device")
            type(file).write(file, data)

        file.write = write  # type: ignore[method-assign]
        return file


@pytest.fixture
def session_on_a_full_disk(job: Path) -> Iterator[Session]:
    opened = open_job(job, disk=RefusingDisk(), now=lambda: BEGUN + timedelta(days=1))
    yield opened
    opened.close()


def test_a_full_disk_keeps_nothing_and_the_same_call_can_be_made_again(
    session_on_a_full_disk: Session, typed: Session
) -> None:
    session = session_on_a_full_disk
    listed = parse(text_of(rows_of(typed)), "list")
    with pytest.raises(CouldNotWrite):
        session.answer_all(listed, "list", WRITER)
    assert session.job.state.entries == ()
    session._disk.refuses = False  # type: ignore[attr-defined]
    session.answer_all(listed, "list", WRITER)
    assert len(session.job.state.entries) == len(rows_of(typed))


def test_a_signed_job_takes_no_list(typed: Session, job: Path, capsys: Output) -> None:
    session = open_job(job, disk=Disk(), now=lambda: BEGUN)
    session.sign(signoff(), KEY)
    session.close()
    assert entered(job, rows_of(typed)[:2]) == 2
    assert "signed and is never re-opened" in capsys.readouterr().err


def test_a_row_is_taken_back_with_its_note_and_no_other_row(typed: Session, job: Path) -> None:
    rows = rows_of(typed)[:3]
    assert entered(job, [(*rows[0][:5], "all here"), *rows[1:]]) == 0
    session = open_job(job, disk=Disk(), now=lambda: BEGUN)
    session.withdraw(1, "wrong sheet")
    assert session.job.state.withdrawn == {1, 2}
    session.withdraw(4, "wrong sheet")
    assert session.job.state.withdrawn == {1, 2, 4}
    session.close()


def test_a_list_that_was_cut_short_is_entered_again_whole(
    typed: Session, job: Path, capsys: Output
) -> None:
    rows = rows_of(typed)[:9]
    assert entered(job, rows[:2]) == 0
    assert entered(job, rows) == 0
    record = job / "record.toml"
    record.write_bytes(record.read_bytes()[:-200])
    assert [entry.step for entry in entries(job)] == [row[0] for row in rows[:2]]
    capsys.readouterr()
    assert entered(job, rows) == 0
    out = capsys.readouterr().out
    assert "an unfinished list of 7 entries, which is to be entered again" in out
    assert "7 kept, 2 skipped" in out
    kept = [entry.step for entry in entries(job) if entry.type == "answer"]
    assert kept == [row[0] for row in rows]


def test_a_report_of_a_job_from_paper_holds(typed: Session, job: Path, capsys: Output) -> None:
    assert entered(job, rows_of(typed)) == 0
    session = open_job(job, disk=Disk(), now=lambda: BEGUN + timedelta(days=1))
    session.sign(signoff(), KEY)
    session.close()
    report = job / "report.toml"
    assert b"\nlist_of = " in report.read_bytes()
    assert cli.main(["check", str(job), str(report)]) == 0
    assert "no problems" in capsys.readouterr().out
