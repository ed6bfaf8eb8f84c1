"""The report of whole jobs, walked without a screen, read with tomllib and compared."""

from __future__ import annotations

import errno
import hashlib
import os
import tomllib
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest

from commission.expected.sheet import Sheet
from commission.host import Disk
from commission.job import Job
from commission.opening import open_job
from commission.problems import CouldNotWrite, InputRefused, StepRefused
from commission.report.document import (
    HEADINGS,
    draft_text,
    report_bytes,
    report_document,
    write_signed,
)
from commission.report.examined import report_problems
from commission.report.inputs import inputs_table, site_of_inputs
from commission.report.layout import toml_text
from commission.report.seal import as_text, sealed
from commission.resources import samples
from commission.session import Session
from tests import walks
from tests.report.sealing import resealed

SAMPLE = "small-garden"

ENDINGS = {"resistance": "_ohm", "voltage": "_v", "current": "_a", "temperature": "_c"}


@pytest.fixture(scope="module")
def accepted(tmp_path_factory: pytest.TempPathFactory) -> Job:
    """A job in which everything was found in order, signed."""
    session = walks.begin(tmp_path_factory.mktemp("accepted"), SAMPLE)
    walks.walk_to_the_end(session)
    session.sign(walks.signoff(), walks.KEY)
    session.close()
    return session.job


@pytest.fixture
def session(tmp_path: Path) -> Iterator[Session]:
    """A job that was just begun."""
    begun = walks.begin(tmp_path, SAMPLE)
    yield begun
    begun.close()


def read(job: Job) -> dict[str, Any]:
    """The signed report of a job as it lies on disk."""
    return tomllib.loads((job.folder / "report.toml").read_text(encoding="utf-8"))


def loop_step(session: Session) -> Any:
    """The first loop resistance of a path's end."""
    return walks.first(session, lambda step: step.item.compare == "loop-resistance")


def reading_of(report: dict[str, Any], step_id: str) -> dict[str, Any]:
    """The reading of a path's end in a report."""
    return next(
        reading
        for path in report["path"]
        for end in path["end"]
        for reading in end.get("reading", [])
        if reading["step"] == step_id
    )


def test_a_sound_job_is_accepted_without_exceptions(accepted: Job) -> None:
    report = read(accepted)
    assert report["verdict"] == "accepted"
    assert report["exceptions"] == 0
    assert "exception" not in report
    assert {path["verdict"] for path in report["path"]} == {"pass"}
    assert report["earth"]["verdict"] == "pass"


def test_what_is_on_disk_is_the_document(accepted: Job) -> None:
    signoff = replace(walks.signoff(), public_key=as_text(walks.KEY.public_key))
    document, found = report_document(accepted, signoff), read(accepted)
    assert list(found) == list(document)
    signed = {key: found["signoff"][0].pop(key) for key in ("signed_bytes", "signature")}
    assert found == document
    content = (accepted.folder / "report.toml").read_bytes()
    bare = report_bytes(accepted, signoff)
    assert content.startswith(bare + b"signed_bytes = %d\n" % signed["signed_bytes"])
    assert content == sealed(bare, walks.KEY)


def test_keys_stand_in_the_order_in_which_a_person_reads(accepted: Job) -> None:
    keys = list(read(accepted))
    assert keys[:2] == ["kind", "format"]
    assert keys[-2:] == ["history", "signoff"]
    wanted = ["verdict", "site", "person", "instrument", "earth", "path", "worst_set", "register"]
    assert [key for key in keys if key in wanted] == wanted
    assert keys.index("register") < keys.index("inputs") < keys.index("record")


def test_every_heading_is_a_key_of_the_document(accepted: Job) -> None:
    possible = set(report_document(accepted, walks.signoff())) | {
        "exception", "defect", "change", "drawing", "evidence", "inspection",
    }  # fmt: skip
    assert set(HEADINGS) <= possible


def test_the_top_says_practice_draft_and_invented(accepted: Job) -> None:
    top = draft_text(accepted).splitlines()[:5]
    assert top[0].startswith("# DRAFT")
    assert top[1].startswith("# PRACTICE")
    assert "# The site and everything on it is invented." in top
    assert "DRAFT" not in (accepted.folder / "report.toml").read_text(encoding="utf-8")


def test_what_stands_against_acceptance_is_said_even_when_it_is_nothing(
    accepted: Job, session: Session
) -> None:
    text = (accepted.folder / "report.toml").read_text(encoding="utf-8")
    assert "\n\n# What stands against acceptance: nothing\n\n# The job\n" in text
    text = draft_text(session.job)
    assert "acceptance: nothing" not in text
    assert "\n# What stands against acceptance, each named\n\n[[exception]]\n" in text


def test_every_step_that_applies_is_in_the_report(accepted: Job) -> None:
    report = read(accepted)
    entries: list[int] = []

    def collect(value: Any) -> None:
        if isinstance(value, list):
            for member in value:
                collect(member)
        elif isinstance(value, dict):
            if "title" in value and "entry" in value:
                entries.append(value["entry"])
            for member in value.values():
                collect(member)

    for key in ("earth", "stage", "path", "worst_set"):
        collect(report[key])
    latest = {status.entry.number for status in accepted.statuses.values() if status.entry}
    assert set(entries) == latest
    assert len(entries) == len(accepted.statuses)


def test_the_signoff_is_what_was_signed(accepted: Job) -> None:
    signoff, signed = walks.signoff(), read(accepted)["signoff"]
    assert len(signed) == 1
    for key in ("role", "name", "company", "licence", "statement", "at"):
        assert signed[0][key] == getattr(signoff, key)
    assert signed[0]["report"] == accepted.header.job
    assert signed[0]["accepts"] == []


def test_people_and_instruments_are_those_of_the_entries(accepted: Job) -> None:
    report = read(accepted)
    count = len(accepted.state.entries)
    assert report["person"] == [
        {"name": walks.OBSERVER, "observed": count, "entered": 0},
        {"name": walks.WRITER, "observed": 0, "entered": count},
    ]
    (meter,) = report["instrument"]
    assert meter["serial"] == walks.METER.serial
    assert meter["calibration_due"] == "2032-01-31"
    assert meter["readings"] == sum(bool(e.quantity) for e in accepted.state.entries)


def test_the_expected_loop_can_be_recomputed_from_the_inputs_alone(accepted: Job) -> None:
    report = read(accepted)
    site = site_of_inputs(report["inputs"])
    assert site == accepted.site
    assert inputs_table(site) == report["inputs"]
    again = replace(accepted, site=site, sheet=Sheet(site))
    assert report_document(again)["expectation"] == report["expectation"]


def test_every_budget_adds_up_to_its_uncertainty(accepted: Job) -> None:
    """JCGM 100, 5.1.2: independent causes add as squares."""
    budgets = [e for e in read(accepted)["expectation"] if e["sides"] == "interval"]
    assert budgets
    for expectation in budgets:
        ending = ENDINGS[expectation["quantity"]]
        squares = sum(cause[f"u{ending}"] ** 2 for cause in expectation["budget"])
        assert expectation[f"u{ending}"] ** 2 == pytest.approx(squares, rel=1e-9)


def test_the_embedded_files_are_the_exact_copies(accepted: Job) -> None:
    report = read(accepted)
    for name in ("site", "checklist"):
        content = report["files"][name].encode("utf-8")
        assert content == (accepted.folder / f"{name}.toml").read_bytes()
        assert hashlib.sha256(content).hexdigest() == report["record"][f"{name}_sha256"]


def test_the_history_is_the_record_line_by_line(accepted: Job) -> None:
    record = (accepted.folder / "record.toml").read_text(encoding="utf-8")
    text = (accepted.folder / "report.toml").read_text(encoding="utf-8")
    start, end = text.index("\n[[history]]"), text.index("\n# Sign-offs")
    entries = record[record.index("\n[[entry]]") :]
    assert text[start:end].replace("[[history]]", "[[entry]]") == entries


def test_a_sound_report_has_no_problems(accepted: Job) -> None:
    content = (accepted.folder / "report.toml").read_bytes()
    assert report_problems(content, "report.toml") == []


@pytest.mark.parametrize(
    ("before", "after", "words"),
    [
        ('text = "yes"', 'text = "no"', "digest does not match"),
        ('verdict = "pass"\nprevious', 'verdict = "fail"\nprevious', "digest does not match"),
        ("job_kind =", "job_kind_ =", "not a report as this program writes it"),
        ('verdict = "accepted"', 'verdict = "perfect"', "no verdict"),
        ('kind = "commission report"', 'kind = "something"', "its kind"),
        ("format = 1", "format = 2", "format 2 is newer than this program reads"),
        ("\n[[history]]", "\n[[history", "line"),
    ],
)
def test_an_altered_report_is_found(accepted: Job, before: str, after: str, words: str) -> None:
    text = (accepted.folder / "report.toml").read_text(encoding="utf-8")
    start = text.index("# The record") if before.startswith(("text", 'verdict = "pass"')) else 0
    altered = text[:start] + text[start:].replace(before, after, 1)
    assert altered != text
    found = report_problems(altered.encode("utf-8"), "report.toml")
    assert any(words in str(problem) for problem in found), found


HOSTILE = [
    b"",
    b"\xff\xfe",
    b"[" * 5000,
    b"a" + b".a" * 10_000 + b" = 1",
    b"x = " + b"[" * 900,
    b"x = 1\n" * 10,
    b"x = 2031-13-45",
    b"x = '" + b"y" * 50_000 + b"'",
]


@pytest.mark.parametrize("content", HOSTILE)
def test_hostile_bytes_are_problems_and_nothing_else(content: bytes) -> None:
    assert report_problems(content, "report.toml")


def test_values_of_the_wrong_kind_are_problems_and_nothing_else(accepted: Job) -> None:
    """Each top-level value in turn is another kind of thing than it should be."""
    report = read(accepted)
    for key in ("verdict", "record", "files", "history", "exception"):
        for strange in (3, "text", [1, 2], {"a": {"b": 1}}, [{"number": "x", "type": 7}]):
            altered = {**report, key: strange}
            if key == "history":
                altered["record"] = {**report["record"], "entries": 1}
            content = toml_text(altered, {}).encode("utf-8")
            assert report_problems(content, "report.toml"), (key, strange)


def test_a_missing_last_entry_is_found(accepted: Job) -> None:
    text = (accepted.folder / "report.toml").read_text(encoding="utf-8")
    start, end = text.rindex("[[history]]"), text.index("\n# Sign-offs")
    found = report_problems(resealed((text[:start] + text[end:]).encode("utf-8")), "report.toml")
    assert [problem.message for problem in found] == ["the last entries are missing"]


def test_failure_defect_and_retest_are_told(session: Session) -> None:
    walks.walk_until(session, loop_step(session))
    step = loop_step(session)
    expectation = session.job.expectation(step)
    assert expectation is not None
    assert expectation.high is not None
    walks.answer(session, step, walks.typed(expectation.high * 1.5, step))
    assert walks.status(session, step).verdict == "fail"
    session.raise_defect(step, "does not work", "box B1", "bad joint", "remake the joint")
    open_report = report_document(session.job)
    assert open_report["verdict"] == "handed over with exceptions"
    assert "open defect" in {found["kind"] for found in open_report["exception"]}
    walks.answer(session, step, walks.typed(expectation.value, step))
    walks.walk_to_the_end(session)
    session.sign(walks.signoff(), walks.KEY)
    report = read(session.job)
    assert report["verdict"] == "accepted"
    (defect,) = report["defect"]
    assert defect["id"] == "D1"
    assert defect["state"] == "closed"
    assert defect["severity"] == "does not work"
    assert defect["where"] == "box B1"
    assert defect["what"] == "bad joint"
    assert defect["action"] == "remake the joint"
    assert [part["what"] for part in defect["story"]] == [
        "defect opened", "answer", "defect closed",
    ]  # fmt: skip
    reading = reading_of(report, step.id)
    assert reading["verdict"] == "pass"
    assert reading["measured_ohm"] == pytest.approx(expectation.value, abs=1e-4)
    assert reading["expected_ohm"] == expectation.value
    assert reading["low_ohm"] == expectation.low
    assert reading["high_ohm"] == expectation.high
    assert len(reading["earlier_entries"]) == 1
    assert reading["instrument"] == walks.METER.id
    assert reading["observed_by"] == walks.OBSERVER


def test_skips_marginals_and_old_instruments_are_named_and_accepted(session: Session) -> None:
    skipped = walks.first(session, lambda step: step.item.required and not step.item.clears)
    session.skip(skipped, "no access today")
    earth = walks.first(session, lambda step: step.item.compare == "earth-resistance")
    walks.walk_until(session, earth)
    session.crew.take(replace(session.crew.hands, instrument=walks.OLD_METER))
    expectation = session.job.expectation(earth)
    assert expectation is not None
    walks.answer(session, earth, walks.typed(expectation.value, earth))
    assert walks.status(session, earth).verdict == "marginal"
    session.accept_exception(earth, "the owner adds a rod next week")
    others = [s for s in session.job.plan.steps if s.item.compare == "fall-of-potential"]
    for step in others:  # as the reading at 62 %, or they would not agree
        walks.answer(session, step, walks.typed(expectation.value, step))
    session.crew.take(replace(session.crew.hands, instrument=walks.METER))
    walks.walk_to_the_end(session)
    session.sign(walks.signoff(), walks.KEY)
    report = read(session.job)
    assert report["verdict"] == "handed over with exceptions"
    named = {found["kind"]: found for found in report["exception"]}
    assert {"not tested", "marginal", "instrument past calibration"} <= set(named)
    assert "no access today" in named["not tested"]["what"]
    assert "the owner adds a rod next week" in named["marginal"]["what"]
    assert "past its calibration date" in named["instrument past calibration"]["what"]
    assert report["exceptions"] == len(report["exception"])
    assert report["signoff"][0]["accepts"] == [found["what"] for found in report["exception"]]
    old = next(one for one in report["instrument"] if one["id"] == "old-meter")
    assert "past its calibration date" in old["warning"]
    assert report["earth"]["verdict"] == "marginal"


def test_a_dead_station_is_told_with_its_likely_cause(session: Session) -> None:
    """Indicator and valve both dead: decoder, address or joint (common practice, no source)."""
    indicator = walks.first(session, lambda step: step.item.sign == "indicator")
    valve = walks.first(session, lambda step: step.item.sign == "valve")
    for step in (indicator, valve):
        walks.walk_until(session, step)
        walks.answer(session, step, walks.bad_answer(step))
    report = report_document(session.job)
    number = session.job.sheet.drawing.stations[valve.target.station].number
    station = next(s for p in report["path"] for s in p["station"] if s["number"] == number)
    assert station["verdict"] == "fail"
    assert station["likely_cause"].startswith("decoder dead")


def test_not_applicable_notes_and_evidence_are_told(session: Session, tmp_path: Path) -> None:
    picture = tmp_path / "joint.jpg"
    picture.write_bytes(b"an invented picture")
    first = walks.first(session, lambda step: step.item.answer == "confirm")
    session.not_applicable(first, "one worker only")
    session.note(first, "agreed with the owner")
    session.attach(first, picture)
    report = report_document(session.job)
    (check,) = [
        check
        for stage in report["stage"]
        for check in stage.get("checks", [])
        if check["title"] == first.title and check.get("state")
    ]
    assert check["state"] == check["verdict"] == "not applicable"
    assert check["reason"] == "one worker only"
    assert check["note"] == "agreed with the owner"
    (evidence,) = report["evidence"]
    assert evidence["sha256"] == hashlib.sha256(b"an invented picture").hexdigest()
    assert evidence["step"] == first.id
    assert (session.job.folder / evidence["file"]).read_bytes() == b"an invented picture"


def test_a_withdrawn_entry_stays_in_the_history_only(session: Session) -> None:
    first = walks.first(session, lambda step: step.item.answer == "text")
    walks.answer(session, first, "a wrong name")
    number = session.job.state.entries[-1].number
    session.withdraw(number, "typed at the wrong step")
    report = report_document(session.job)
    assert [entry["type"] for entry in report["history"]] == ["answer", "withdrawal"]
    assert report["history"][1]["refers_to"] == number
    shown = [c for stage in report["stage"] for c in stage.get("checks", [])]
    assert "a wrong name" not in {check.get("answer") for check in shown}


def test_over_range_and_hostile_text_come_back_as_typed(session: Session) -> None:
    hostile = 'a "quote" \\ [b]bold[/b] [@click=x] \'\'\' """ {name} = 1 # not a comment'
    step = walks.first(session, lambda step: step.item.answer == "confirm")
    session.note(step, hostile)
    with pytest.raises(InputRefused):
        session.note(step, "steers \u001b[2J the terminal")
    loop = loop_step(session)
    walks.walk_until(session, loop)
    walks.answer(session, loop, "OL")
    text = draft_text(session.job)
    report = tomllib.loads(text)
    assert hostile in {entry.get("text") for entry in report["history"]}
    reading = reading_of(report, loop.id)
    assert reading["measured"] == "OL"
    assert "measured_ohm" not in reading
    assert reading["measured_relation"] == "OL"
    assert reading["verdict"] == "fail"
    assert "\u001b" not in text


def test_a_bound_is_never_shown_as_a_value(session: Session) -> None:
    loop = loop_step(session)
    walks.walk_until(session, loop)
    walks.answer(session, loop, ">200 Mohm")
    reading = reading_of(report_document(session.job), loop.id)
    assert reading["measured_ohm"] == 200e6
    assert reading["measured_relation"] == ">"
    walks.answer(session, loop, "2.2 ohm")
    assert "measured_relation" not in reading_of(report_document(session.job), loop.id)


def test_a_site_file_with_other_line_ends_is_embedded_exactly(tmp_path: Path) -> None:
    site = tmp_path / "lawn.toml"
    text = samples()[SAMPLE].read_text(encoding="utf-8")
    site.write_bytes(text.replace("\n", "\r\n").encode("utf-8"))
    session = open_job(site, disk=Disk(), now=walks.clock())
    draft = tomllib.loads(draft_text(session.job))
    session.close()
    assert draft["files"]["site"].encode("utf-8") == site.read_bytes()


def test_a_signed_job_opens_for_reading_only(accepted: Job) -> None:
    session = open_job(accepted.folder, disk=Disk(), now=walks.clock())
    try:
        assert session.job.signed
        assert any("signed" in notice for notice in session.job.notices)
        with pytest.raises(StepRefused):
            session.note(next(iter(accepted.statuses.values())).step, "one more thing")
        with pytest.raises(StepRefused):
            write_signed(Disk(), session.job, walks.signoff(), walks.KEY)
    finally:
        session.close()


class LastCallFails(Disk):
    """A disk that does everything, and then says that it could not."""

    def sync_directory(self, path: Path) -> None:
        raise OSError(errno.EIO, os.strerror(errno.EIO))


def test_a_signature_refused_by_the_last_call_to_the_disk_can_be_given_again(
    session: Session,
) -> None:
    walks.walk_to_the_end(session)
    with pytest.raises(CouldNotWrite, match="then retry"):
        write_signed(LastCallFails(), session.job, walks.signoff(), walks.KEY)
    assert not (session.job.folder / "report.toml").exists()
    session.sign(walks.signoff(), walks.KEY)
    assert report_problems((session.job.folder / "report.toml").read_bytes(), "report.toml") == []


def test_exceptions_must_be_accepted_by_whoever_signs(session: Session) -> None:
    with pytest.raises(InputRefused, match="accepts the exceptions"):
        session.sign(replace(walks.signoff(), accepted_exceptions=False), walks.KEY)
    assert not (session.job.folder / "report.toml").exists()
    assert not session.job.signed
