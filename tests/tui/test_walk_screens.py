"""Golden screens of the main moments of a walk, as text a reviewer can read.

`pytest tests/tui --renew` writes them anew into tests/tui/golden; read the difference then.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import pytest

from commission.checklist.plan import Step
from commission.host import Disk
from commission.opening import open_job
from commission.resources import samples
from commission.session import Session
from tests.tui.golden import Golden
from tests.tui.walking import LARGE, SMALL, Scene, Walk, play
from tests.walks import (
    KEY,
    answer,
    bad_answer,
    begin,
    clock,
    first,
    signoff,
    walk_to_the_end,
    walk_until,
)

SAMPLE = "small-garden"
pytestmark = pytest.mark.parametrize("size", [SMALL, LARGE], ids=["80x24", "120x40"])


class Stage:
    """Plays scenes on fresh jobs of the sample and compares the screen at their end."""

    def __init__(self, folder: Path, golden: Golden, size: tuple[int, int]) -> None:
        self._folder = folder
        self._golden = golden
        self._size = size

    def begin(self) -> Session:
        """A new job with people and meter named."""
        return begin(self._folder, SAMPLE)

    def at(self, wanted: Callable[[Step], bool]) -> Session:
        """A new job standing at the first step that is as wanted, all before it in order."""
        session = self.begin()
        walk_until(session, first(session, wanted))
        return session

    def look(self, walk: Walk, name: str) -> None:
        """Compare what stands on the screen in the middle of a scene."""
        self._golden.check(walk.app, name)

    def play(self, name: str, session: Session, scene: Scene) -> None:
        """Play a scene, then compare what stands on the screen."""

        async def whole(walk: Walk) -> None:
            await scene(walk)
            self._golden.check(walk.app, name)

        play(session, whole, self._size)


@pytest.fixture
def stage(tmp_path: Path, golden: Golden, size: tuple[int, int]) -> Stage:
    """Where the scenes are played."""
    return Stage(tmp_path, golden, size)


async def nothing(walk: Walk) -> None:
    """Look only."""
    await walk.shows(walk.walk.status.step.title)


def item(name: str) -> Callable[[Step], bool]:
    """Steps made from an item of the checklist."""
    return lambda step: step.item.id == name


def compared(name: str) -> Callable[[Step], bool]:
    """Steps compared with an expectation or a limit."""
    return lambda step: step.item.compare == name


def expected_in_ohm(walk: Walk) -> float:
    """What is expected at the step on the screen."""
    expectation = walk.session.job.expectation(walk.walk.status.step)
    assert expectation is not None
    return expectation.value


def test_people_are_asked_first(stage: Stage, tmp_path: Path) -> None:
    site = tmp_path / f"{SAMPLE}.toml"
    site.write_bytes(samples()[SAMPLE].read_bytes())

    async def scene(walk: Walk) -> None:
        await walk.shows("Who enters the readings here")

    stage.play("people-first", open_job(site, disk=Disk(), now=clock()), scene)


def test_a_confirmation(stage: Stage) -> None:
    stage.play("confirmation", stage.at(item("radio")), nothing)


def test_a_confirmation_with_a_caution_is_hidden_later(stage: Stage) -> None:
    async def scene(walk: Walk) -> None:
        await walk.shows("CAUTION")
        await walk.press("1", "enter")
        await walk.shows("This will be hidden later")
        await walk.fill(photo="IMG 0412")

    stage.play("hidden-later", stage.at(lambda s: s.item.hidden_later and bool(s.caution)), scene)


def test_a_step_with_a_caution(stage: Stage) -> None:
    session = stage.at(lambda s: s.item.hidden_later and bool(s.caution))
    stage.play("caution", session, nothing)


def test_a_loop_before_typing(stage: Stage) -> None:
    stage.play("loop-before-typing", stage.at(compared("loop-resistance")), nothing)


def test_typing_a_value_that_passes(stage: Stage) -> None:
    async def scene(walk: Walk) -> None:
        await walk.press(f"{expected_in_ohm(walk):.2f}")
        await walk.shows("+ pass")

    stage.play("typing-a-pass", stage.at(compared("loop-resistance")), scene)


def test_typing_a_value_that_fails(stage: Stage) -> None:
    async def scene(walk: Walk) -> None:
        await walk.press(f"{expected_in_ohm(walk) * 3:.1f}")
        await walk.shows("x fail")

    stage.play("typing-a-fail", stage.at(compared("loop-resistance")), scene)


async def keep_a_fail(walk: Walk) -> None:
    """Type three times what is expected, and keep it."""
    await walk.press(f"{expected_in_ohm(walk) * 3:.1f}", "enter")
    await walk.shows("Test again now")


def test_a_decision_after_a_fail(stage: Stage) -> None:
    stage.play("decision-after-a-fail", stage.at(compared("loop-resistance")), keep_a_fail)


def test_raising_a_defect(stage: Stage) -> None:
    async def scene(walk: Walk) -> None:
        await keep_a_fail(walk)
        await walk.choose("Raise a defect")
        await walk.shows("What is to be done")
        await walk.fill(action="remake the joint")

    stage.play("raising-a-defect", stage.at(compared("loop-resistance")), scene)


def test_a_marginal_limit_demands_a_decision(stage: Stage) -> None:
    async def scene(walk: Walk) -> None:
        await walk.press("9.98", "enter")
        await walk.shows("MARGINAL")

    stage.play("marginal-limit", stage.at(item("earth-resistance")), scene)


def test_supply_on_is_refused_with_its_reasons(stage: Stage) -> None:
    session = stage.at(compared("loop-resistance"))

    async def scene(walk: Walk) -> None:
        await walk.go(first(session, lambda step: step.item.supply == "on"))
        await walk.shows("Not yet:")
        await walk.press("1", "enter")
        await walk.shows("not done")
        assert walk.typed == "1"

    stage.play("supply-on-refused", session, scene)


def test_all_of_a_long_step(stage: Stage) -> None:
    session = stage.at(compared("loop-resistance"))

    async def scene(walk: Walk) -> None:
        await walk.go(first(session, lambda step: step.item.supply == "on"))
        await walk.press("ctrl+r")
        await walk.shows("PgDn scroll")
        await walk.press("end")

    stage.play("all-of-a-long-step", session, scene)


def test_a_step_large_before_typing(stage: Stage) -> None:
    async def scene(walk: Walk) -> None:
        await walk.press("ctrl+o")
        await walk.shows("Expected, from - to, ohm")

    stage.play("large-before-typing", stage.at(compared("loop-resistance")), scene)


def test_a_step_large_with_its_reading(stage: Stage) -> None:
    async def scene(walk: Walk) -> None:
        await walk.press("ctrl+o")
        await walk.press("2.24")
        await walk.shows("+ pass")
        stage.look(walk, "large-pass")
        await walk.press(*["backspace"] * 4, "11.6")
        await walk.shows("x fail")
        assert walk.text.count("█") > 50

    stage.play("large-fail", stage.at(compared("loop-resistance")), scene)


def test_a_station_large(stage: Stage) -> None:
    session = stage.at(lambda step: step.item.sign == "valve")

    async def scene(walk: Walk) -> None:
        await walk.press("ctrl+o")
        await walk.shows("Valve opens")
        await walk.shows("█")

    stage.play("large-station", session, scene)


def test_large_goes_with_every_step_and_back(stage: Stage) -> None:
    session = stage.at(compared("loop-resistance"))

    async def scene(walk: Walk) -> None:
        before = walk.text
        await walk.press("ctrl+o")
        await walk.shows("Expected, from - to")
        await walk.press("pagedown")
        await walk.shows("end B4 (Hedge box): Loop, leads changed over")
        await walk.press("pageup", "ctrl+o")
        await walk.until(lambda: walk.text == before, "the walk as it was")
        await walk.press("ctrl+o")
        await walk.press("ctrl+l")
        await walk.shows("Enter to the step")

    stage.play("list-from-large", session, scene)


def test_the_list_of_steps(stage: Stage) -> None:
    async def scene(walk: Walk) -> None:
        await walk.press("ctrl+l")
        await walk.press("down")

    stage.play("list", stage.at(compared("loop-resistance")), scene)


def test_the_calculation(stage: Stage) -> None:
    async def scene(walk: Walk) -> None:
        await walk.press("ctrl+g")
        await walk.shows("Formula")

    stage.play("calculation", stage.at(compared("loop-resistance")), scene)


def test_the_menu(stage: Stage) -> None:
    async def scene(walk: Walk) -> None:
        await walk.press("escape")
        await walk.shows("Raise a defect")

    stage.play("menu", stage.at(compared("loop-resistance")), scene)


def test_the_help(stage: Stage) -> None:
    async def scene(walk: Walk) -> None:
        await walk.menu("Keys and help")
        await walk.shows("Readings are typed as read")

    stage.play("help", stage.at(item("radio")), scene)


def test_the_paths_as_a_picture(stage: Stage) -> None:
    async def scene(walk: Walk) -> None:
        await keep_a_fail(walk)
        await walk.press("escape")
        await walk.menu("The paths as a picture")
        await walk.shows("terminals of output 1")

    stage.play("picture", stage.at(compared("loop-resistance")), scene)


def test_the_overview(stage: Stage) -> None:
    async def scene(walk: Walk) -> None:
        await keep_a_fail(walk)
        await walk.press("escape")
        await walk.menu("What is done, failed, open")
        await walk.shows("Not signed yet; 76 points against it")

    stage.play("overview", stage.at(compared("loop-resistance")), scene)


def test_the_overview_has_a_list_for_each_question(stage: Stage) -> None:
    session = stage.at(compared("loop-resistance"))
    loop = first(session, compared("loop-resistance"))
    answer(session, loop, "11.6")
    session.raise_defect(loop, "does not work", "box B3", "joint under water", "make it anew")

    async def scene(walk: Walk) -> None:
        await walk.menu("What is done, failed, open")
        for key, view in (("2", "open"), ("3", "failed"), ("5", "defects")):
            await walk.press(key)
            await walk.shows(f"[{key} {view}")
            stage.look(walk, f"overview-{view}")
        await walk.press("right")
        await walk.shows("[6 against")

    stage.play("overview-against", session, scene)


def test_the_overview_of_what_is_marginal(stage: Stage) -> None:
    session = stage.at(item("earth-resistance"))
    answer(session, first(session, item("earth-resistance")), "9.98")

    async def scene(walk: Walk) -> None:
        await walk.menu("What is done, failed, open")
        await walk.press("4")
        await walk.shows("[4 marginal 1")

    stage.play("overview-marginal", session, scene)


def test_which_entry_to_take_back_and_why_one_is_accepted(stage: Stage) -> None:
    session = stage.at(compared("loop-resistance"))
    for reading in ("11.6", "9.5"):
        answer(session, first(session, compared("loop-resistance")), reading)

    async def scene(walk: Walk) -> None:
        await walk.go(first(session, compared("loop-resistance")))
        await walk.menu("Take back an entry")
        await walk.shows("Which entry?")
        stage.look(walk, "take-back-which")
        await walk.press("escape")
        walk.walk.actions.exception()
        await walk.shows("Why it is handed over like this")

    stage.play("dialogue-exception", session, scene)


def test_from_the_overview_to_a_step(stage: Stage) -> None:
    session = stage.at(compared("loop-resistance"))
    failed = first(session, compared("loop-resistance"))
    answer(session, failed, "11.6")

    async def scene(walk: Walk) -> None:
        await walk.press("pagedown", "pagedown")
        await walk.menu("What is done, failed, open")
        await walk.press("right", "right", "enter")
        await walk.until(lambda: walk.app.screen is walk.walk, "the walk")
        assert walk.walk.step_id == failed.id
        await walk.menu("What is done, failed, open")
        await walk.press("4")
        await walk.shows("None.")
        await walk.press("escape")
        assert walk.walk.step_id == failed.id

    stage.play("from-the-overview-to-a-step", session, scene)


VIEWS = ("worst-set", "station", "nothing-running", "loops", "stations")


def test_the_profile(stage: Stage) -> None:
    session = stage.at(compared("loop-resistance"))
    answer(session, first(session, compared("loop-resistance")), "11.6")
    walk_to_the_end(session)
    voltages = [step for step in session.job.plan.steps if step.item.compare == "station-voltage"]
    answer(session, voltages[2], "22.1")

    async def scene(walk: Walk) -> None:
        await walk.go(voltages[2])
        await walk.menu("The profile")
        await walk.shows("[2 station]")
        for number, view in enumerate(VIEWS, start=1):
            await walk.press(str(number))
            await walk.shows(f"[{number} {view.replace('-', ' ')}]")
            stage.look(walk, f"profile-{view}")
        await walk.press("2", "right")
        await walk.shows("Station 4 running")
        await walk.press("left", "left")
        await walk.shows("Station 2 running")

    stage.play("profile-another-station", session, scene)


DIALOGUES = {
    "undo": "Undo the last answer",
    "note": "Add a note",
    "skip": "Skip this step",
    "not-applicable": "Not applicable here",
    "second-look": "Close a defect after a second look",
    "drawing": "The ground differs from the drawing",
    "photo": "Attach a photo or document",
    "people": "People and instrument",
    "instrument": "New instrument, or its data",
}


def test_the_dialogues_of_the_menu(stage: Stage) -> None:
    session = stage.at(compared("loop-resistance"))
    step = session.job.statuses[session.job.resume_at()].step
    session.raise_defect(step, "to be improved", "box B2", "lid is cracked", "bring a new lid")

    async def scene(walk: Walk) -> None:
        for name, words in DIALOGUES.items():
            await walk.menu(words)
            await walk.until(lambda: walk.app.screen is not walk.walk, words)
            await walk.pilot.pause()
            stage.look(walk, f"dialogue-{name}")
            await walk.back()
        await walk.press("ctrl+r")
        await walk.shows("PgDn scroll")

    stage.play("whole-text", session, scene)


def test_a_station_with_its_likely_cause(stage: Stage) -> None:
    session = stage.at(lambda step: step.item.sign == "valve")
    valve = first(session, lambda step: step.item.sign == "valve")
    answer(session, valve, bad_answer(valve))

    async def scene(walk: Walk) -> None:
        await walk.go(valve)
        await walk.shows("Likely:")

    stage.play("likely-cause", session, scene)


def test_a_reading_beyond_tenfold_is_asked_back(stage: Stage) -> None:
    async def scene(walk: Walk) -> None:
        await walk.press(f"{expected_in_ohm(walk) * 100:.0f}", "enter")
        await walk.shows("Is it meant so?")
        assert walk.kept()[-1][1] != walk.typed

    stage.play("asked-back", stage.at(compared("loop-resistance")), scene)


def with_exceptions(session: Session) -> None:
    """Everything in order but for one skipped step and an open defect."""
    skipped = first(session, item("instruments"))
    walk_until(session, skipped)
    session.skip(skipped, "the certificates are in the other car")
    loop = first(session, compared("loop-resistance"))
    walk_until(session, loop)
    session.raise_defect(loop, "to be improved", "box B2", "lid is cracked", "bring a new lid")
    expected = session.job.expectation(loop)
    assert expected is not None
    answer(session, loop, f"{expected.value * 3:.1f}")
    walk_to_the_end(session)


def test_signing_with_exceptions(stage: Stage) -> None:
    session = stage.begin()
    with_exceptions(session)

    async def scene(walk: Walk) -> None:
        await walk.menu("Sign and save the report")
        await walk.shows("Name (PgUp")

    stage.play("signing-with-exceptions", session, scene)


def test_the_last_lines_of_signing(stage: Stage) -> None:
    session = stage.begin()
    with_exceptions(session)

    async def scene(walk: Walk) -> None:
        await walk.menu("Sign and save the report")
        await walk.shows("Name (PgUp")
        await walk.press("pagedown", "pagedown", "pagedown")
        await walk.shows("exceptions above, and sign?")

    stage.play("signing-last-lines", session, scene)


def test_signed(stage: Stage, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("commission.tui.screens.sign.own_key", lambda _passphrase: KEY)
    session = stage.begin()
    with_exceptions(session)
    monkeypatch.chdir(tmp_path)  # the report's path is the same every time
    session.job = replace(session.job, folder=session.job.folder.relative_to(tmp_path))

    async def scene(walk: Walk) -> None:
        await walk.menu("Sign and save the report")
        await walk.shows("Name (PgUp")
        await walk.finish(company="Example Irrigation (invented)", licence="L-1", accept="yes")
        await walk.shows("Signed: nothing can be added")
        assert "Saved on disk" not in walk.text
        assert (session.job.folder / "report.toml").exists()

    stage.play("signed", session, scene)


def test_the_owners_receipt(stage: Stage, monkeypatch: pytest.MonkeyPatch) -> None:
    """The digest is told whole; here it is none, for every run has another."""
    words = f"I received this report with the SHA-256 {'0' * 64}."
    monkeypatch.setattr("commission.tui.screens.receipt.received_statement", lambda _: words)
    session = stage.begin()
    with_exceptions(session)
    session.sign(signoff(), KEY)

    async def scene(walk: Walk) -> None:
        await walk.menu("Owner's receipt")
        await walk.shows("Name")

    stage.play("receipt", session, scene)
