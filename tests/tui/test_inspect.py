"""An inspection by keys: what the report says, the sample, signing beside it, and the receipt."""

from __future__ import annotations

import hashlib
import tomllib
from pathlib import Path

import pytest

from commission.crew import Hands
from commission.host import Disk
from commission.opening import open_job
from commission.report.examined import report_problems
from commission.session import Session
from commission.user.seen_reports import load_seen
from commission.user.signing_key import key_file
from tests import walks
from tests.report.test_inspection import INES, LOOP, begun, installed
from tests.tui.walking import LARGE, Walk, play

WIDE = (160, 40)
FORM = {"company": "Example Inspections (invented)", "licence": "IN-0002", "accept": "yes"}


def at_loop(folder: Path, meter: bool = False) -> Session:
    """An inspection that stands at the loop of the longest end; with the installer's own meter?"""
    session = begun(folder)
    if meter:
        session.crew.take(Hands(observed_by=INES, entered_by=INES, instrument=walks.METER))
    walks.walk_until(session, session.job.plan.by_id[LOOP])
    return session


def test_a_step_shows_what_the_report_says_and_whether_it_agrees(tmp_path: Path) -> None:
    session = at_loop(tmp_path)
    step = session.job.plan.by_id[LOOP]
    assert session.job.earlier is not None
    then = session.job.earlier.state.latest[LOOP]

    async def scene(walk: Walk) -> None:
        await walk.shows("In the report")
        for words in (then.text, walks.OBSERVER, walks.METER.serial):
            assert words in walk.text
        await walk.press(*then.text.split()[0])
        await walk.shows("|E_n| 0.00, agrees with the report")
        await walk.press("ctrl+a", *["delete"] * 12)
        await walk.press("9")
        await walk.shows("does not agree with the report")
        assert session.job.state.latest.get(step.id) is None  # nothing was kept by looking

    play(session, scene, WIDE)


def test_a_kept_reading_stands_beside_the_report_s(tmp_path: Path) -> None:
    session = at_loop(tmp_path)
    step = session.job.plan.by_id[LOOP]
    walks.answer(session, step, walks.good_answer(session, step))

    async def scene(walk: Walk) -> None:
        await walk.go(step)
        await walk.shows("|E_n| 0.00, agrees with the report")

    play(session, scene, WIDE)


def test_the_sample_is_proposed_with_its_reason_and_enter_keeps_it(tmp_path: Path) -> None:
    session = begun(tmp_path)
    steps = [s for s in session.job.plan.steps if s.item.id == "end-sampled"]
    longest = next(step for step in steps if step.target.box == "B6")
    other = next(step for step in steps if step.target.box != "B6")
    walks.walk_until(session, longest if steps[0] is longest else other)

    async def scene(walk: Walk) -> None:
        await walk.go(longest)
        await walk.shows("Proposed: repeat: longest end. Enter keeps it")
        assert walk.typed == "repeat"
        await walk.press("enter")
        await walk.until(lambda: longest.id in session.job.state.latest, "the answer")
        assert session.job.state.latest[longest.id].text == "repeat"
        await walk.go(other)
        await walk.shows("Proposed: not in the sample. Enter keeps it")
        await walk.press("1", "enter")  # typing replaces what is proposed
        await walk.until(lambda: other.id in session.job.state.latest, "the answer")
        assert session.job.state.latest[other.id].text == "repeat"

    play(session, scene, WIDE)


def test_the_report_and_the_sample_are_proposed_as_text(tmp_path: Path) -> None:
    session = begun(tmp_path)
    by_item = {step.item.id: step for step in session.job.plan.steps}

    async def scene(walk: Walk) -> None:
        await walk.go(by_item["report-inspected"])
        assert hashlib.sha256(installed()).hexdigest() in walk.typed
        await walk.go(by_item["sample"])
        assert walk.typed == session.sample.words
        assert "ends B6 of path A; stations" in walk.typed

    play(session, scene, LARGE)


@pytest.mark.parametrize("decision", ["countersign", "refuse"])
def test_an_inspector_countersigns_or_refuses_with_reasons(tmp_path: Path, decision: str) -> None:
    session = begun(tmp_path)
    path = session.job.folder / "report.toml"

    async def scene(walk: Walk) -> None:
        await walk.menu("Sign and save the report")
        await walk.shows("Beside the report")
        await walk.finish(decision=decision, **FORM)
        if decision == "refuse":
            await walk.shows("write the reasons why you refuse")
            assert not path.exists()
            await walk.finish(reasons="nothing was tested")
        await walk.shows("Key that signed")
        assert f"Signed and saved: {decision}" in walk.text

    play(session, scene, WIDE)
    content = path.read_bytes()
    assert content.startswith(installed())
    assert report_problems(content, "report.toml") == []
    block = tomllib.loads(content.decode("utf-8"))["signoff"][1]
    assert (block["signs_as"], block["role"], block["name"]) == ("inspector", "inspector", INES)
    assert block["decision"] == {"countersign": "countersigned", "refuse": "refused"}[decision]
    (seen,) = load_seen().values()  # a cut one will be told from it here
    assert [one.signoffs for one in seen.version] == [1, 2]
    assert seen.longest.sha256 == hashlib.sha256(content).hexdigest()


def test_the_installers_own_key_is_refused_in_the_form(tmp_path: Path) -> None:
    """The key of this user signed the report: the inspector cannot use it."""
    first = walks.begin(tmp_path, "small-garden")

    async def signing(walk: Walk) -> None:
        await walk.menu("Sign and save the report")
        await walk.finish(**FORM)
        await walk.shows("Key that signed")

    play(first, signing, WIDE)
    assert key_file().exists()
    session = open_job(first.job.folder, kind="inspection", disk=Disk(), now=walks.clock())
    session.crew.take(Hands(observed_by=INES, entered_by=INES))

    async def scene(walk: Walk) -> None:
        await walk.menu("Sign and save the report")
        await walk.finish(decision="countersign", **FORM)
        await walk.shows("signs with a key of their own, on a computer")

    play(session, scene, WIDE)
    assert not (session.job.folder / "report.toml").exists()


def test_the_owner_signs_the_receipt_of_a_signed_job(tmp_path: Path) -> None:
    session = walks.begin(tmp_path, "small-garden")
    session.sign(walks.signoff(), walks.KEY)
    session.close()
    path = session.job.folder / "report.toml"
    before = path.read_bytes()
    reading = open_job(session.job.folder, disk=Disk(), now=walks.clock())

    async def scene(walk: Walk) -> None:
        await walk.menu("Owner's receipt")
        await walk.shows("this very file was received")
        await walk.finish(name="Olga Owner", accept="no")
        await walk.shows("to sign, or choose Back")
        assert path.read_bytes() == before
        await walk.finish(accept="yes")
        await walk.shows("Receipt signed and saved")
        digest = hashlib.sha256(path.read_bytes()).hexdigest()
        assert digest in "".join(line.strip() for line in walk.text.splitlines())

    play(reading, scene, WIDE)
    content = path.read_bytes()
    assert content.startswith(before)
    assert report_problems(content, "report.toml") == []
    block = tomllib.loads(content.decode("utf-8"))["signoff"][1]
    assert hashlib.sha256(before).hexdigest() in block["statement"]
    assert (block["signs_as"], block["name"]) == ("owner", "Olga Owner")
