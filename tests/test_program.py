"""The real program in a real terminal, by keys alone: from a site file to a signed report."""

from __future__ import annotations

import os
import random
import time
import tomllib
from collections.abc import Iterator
from pathlib import Path

import pytest

from commission.user.instruments import remember_instrument
from tests.conftest import SEED
from tests.jobs import Program
from tests.walks import METER, OBSERVER, WRITER, first_open, good_answer


@pytest.fixture
def program(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[Program]:
    """A program on the small sample, its meter known to the user."""
    monkeypatch.setenv("COMMISSION_HOME", str(tmp_path / "user"))
    remember_instrument(METER)
    running = Program(tmp_path, "small-garden")
    yield running
    running.close()


def test_a_whole_commissioning_by_keys(program: Program) -> None:
    program.start()
    program.name_people()
    failed = ""
    while (step := first_open(program.mirror)) is not None:
        if not failed and step.item.compare == "loop-resistance":
            failed = step.id
            fail_repair_and_retest(program)
        else:
            program.answer_next()
    terminal = program.running
    terminal.wait_for("Every step has been gone through")
    sign(program)
    report = tomllib.loads((program.job_on_disk().folder / "report.toml").read_text("utf-8"))
    assert report["kind"] == "commission report"
    assert report["verdict"] == "accepted"
    assert report["signoff"][-1]["name"] == WRITER
    history = report["history"]
    mirrored = program.mirror.job.state.entries
    assert [(e["type"], e.get("step"), e.get("text")) for e in history] == [
        (e.type, e.step or None, e.text or None) for e in mirrored
    ]
    assert {e["observed_by"] for e in history} == {OBSERVER}
    terminal.press("ctrl+q")
    assert terminal.wait_end() == 0


def fail_repair_and_retest(program: Program) -> None:
    """A loop far too high, a defect raised from it, and a retest that closes it."""
    terminal, mirror = program.running, program.mirror
    step_id = program.await_step()
    step = mirror.job.plan.by_id[step_id]
    expected = mirror.job.expectation(step)
    assert expected is not None
    bad = f"{expected.value * 2:.2f}"
    terminal.press(bad)
    terminal.wait_for("x fail")
    terminal.press("enter")
    terminal.wait_for("Raise a defect")
    mirror.answer(step, bad, confirmed=True)
    words = mirror.job.statuses[step_id].finding
    terminal.press("2", "enter")
    terminal.wait_for("What is to be done")
    terminal.press("enter", "enter", "enter", "remake the joint", "enter", "enter")
    terminal.wait_for("Open defect D1")
    mirror.raise_defect(step, "does not work", step.target.label, words, "remake the joint")
    good = f"{expected.value:.2f}"
    terminal.press(good)
    terminal.wait_for("+ pass")
    terminal.press("enter")
    mirror.answer(step, good, confirmed=True)
    terminal.wait_for(f"entry {len(mirror.job.state.entries)}")
    assert not mirror.job.open_defects


def sign(program: Program) -> None:
    """Sign through the menu."""
    terminal = program.running
    terminal.press("esc")
    terminal.wait_for("Sign and save the report")
    terminal.press("up", "up", "enter")  # the last but one: up from the first goes to the last
    terminal.wait_for("Licence or certificate number")
    terminal.press("enter", "enter", "Example Irrigation", "enter", "L-1", "enter", "enter")
    terminal.press("enter", "yes", "enter", "enter")  # the key without a passphrase, then accepted
    terminal.wait_for("Signed and saved: accepted")
    path = program.job_on_disk().folder / "report.toml"
    signed = tomllib.loads(path.read_text("utf-8"))
    terminal.wait_for(signed["signoff"][-1]["fingerprint"])
    assert str(path) in "".join(terminal.text.split())  # it may go on in the next line


def test_kill_at_any_moment_keeps_every_confirmed_answer(program: Program) -> None:
    seed = int(os.environ[SEED])
    program.start()
    program.name_people()
    for number in range(12):
        for _ in range((seed + number) % 3 + 1):
            program.answer_next()
        program.await_step()
        program.running.press("half-typed")
        if number % 2:
            program.running.wait_for("half-typed")
        program.running.kill()
        kept = program.job_on_disk().state.entries
        confirmed = program.mirror.job.state.entries
        assert [(e.type, e.step, e.text) for e in kept] == [
            (e.type, e.step, e.text) for e in confirmed
        ]
        program.start()
        program.await_step()  # stands at the same place
    program.running.kill()


def test_kill_in_the_middle_of_an_answer_keeps_it_whole_or_not_at_all(program: Program) -> None:
    moments = random.Random(int(os.environ[SEED]))
    program.start()
    program.name_people()
    for _ in range(15):
        for _ in range(moments.randrange(2)):
            program.answer_next()
        step = program.mirror.job.plan.by_id[program.await_step()]
        if step.item.hidden_later:
            program.answer_next()
            continue
        text = good_answer(program.mirror, step)
        program.running.press(text, "enter")
        program.running.feed(moments.uniform(0.0, 0.02))
        time.sleep(moments.uniform(0.0, 0.02))
        program.running.kill()
        entries = program.job_on_disk().state.entries
        kept = [(e.type, e.step, e.text) for e in entries if e.type != "recovery"]
        confirmed = [(e.type, e.step, e.text) for e in program.mirror.job.state.entries]
        if len(kept) > len(confirmed):
            program.mirror.answer(step, text, confirmed=True)
            confirmed.append(("answer", step.id, text))
        assert kept == confirmed
        program.start()
        if not kept:
            program.name_people()  # nobody is in the record yet: asked again
        program.await_step()
    program.running.kill()
