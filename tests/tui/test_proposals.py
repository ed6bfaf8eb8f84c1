"""What is known already is asked once: proposed, to be kept with Enter or typed over."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

from commission.checklist.plan import Step
from commission.crew import Hands
from commission.host import Disk
from commission.opening import open_job
from commission.resources import samples
from commission.session import Session
from commission.tui.widgets.pick_input import PickInput
from commission.user.instruments import remember_instrument
from commission.user.people import Person, remember_person
from tests.tui.test_walk_behaviour import at
from tests.tui.walking import Walk, play
from tests.walks import METER, OBSERVER, WRITER, begin, clock, first


def item(name: str) -> Callable[[Step], bool]:
    """Steps made from an item of the checklist."""
    return lambda step: step.item.id == name


def new_job(folder: Path, name: str) -> Session:
    """A new job in a folder of its own, nobody named yet."""
    (folder / name).mkdir()
    site = folder / name / "small-garden.toml"
    site.write_bytes(samples()["small-garden"].read_bytes())
    return open_job(site, disk=Disk(), now=clock())


def test_a_new_job_proposes_the_people_and_the_instrument_used_last(tmp_path: Path) -> None:
    remember_instrument(METER)
    earlier = new_job(tmp_path, "earlier")
    earlier.crew.take(Hands(observed_by=OBSERVER, entered_by=WRITER, instrument=METER))
    earlier.close()
    session = new_job(tmp_path, "later")

    async def scene(walk: Walk) -> None:
        await walk.shows("Who enters the readings here")
        for words in (WRITER, OBSERVER, METER.id):
            assert words in walk.text
        assert not session.crew.anyone_named  # proposed, not taken
        await walk.press("enter", "enter", "enter", "enter")
        await walk.shows("step 1 of")
        hands = session.crew.hands
        assert (hands.entered_by, hands.observed_by) == (WRITER, OBSERVER)
        assert hands.instrument == METER

    play(session, scene)


def test_an_instrument_that_is_not_known_any_more_is_not_proposed(tmp_path: Path) -> None:
    earlier = new_job(tmp_path, "earlier")
    earlier.crew.take(Hands(observed_by=OBSERVER, entered_by=WRITER, instrument=METER))
    earlier.close()

    async def scene(walk: Walk) -> None:
        await walk.shows(WRITER)
        assert walk.app.screen.query_one("#line-instrument", PickInput).value == "none"

    play(new_job(tmp_path, "later"), scene)


def test_the_people_step_proposes_who_is_at_work_and_enter_keeps_it(tmp_path: Path) -> None:
    remember_instrument(METER)
    remember_person(Person(WRITER, role="installer"))
    session = at(tmp_path, item("people"))
    proposed = f"{OBSERVER} watches, {WRITER} (installer) writes"

    async def scene(walk: Walk) -> None:
        await walk.shows(proposed)
        await walk.press("pagedown", "pageup")
        await walk.menu("People and instrument")
        await walk.finish(observed_by="Kim Invented")
        await walk.shows(f"Kim Invented watches, {WRITER} (installer) writes")
        await walk.press("enter")
        await walk.until(lambda: bool(walk.kept()), "the answer")
        assert walk.kept() == [
            ("answer", f"Kim Invented watches, {WRITER} (installer) writes"),
        ]

    play(session, scene)


def test_typing_replaces_a_choice_that_was_walked_to(tmp_path: Path) -> None:
    session = at(tmp_path, item("isolate"))

    async def scene(walk: Walk) -> None:
        await walk.press("down", "down")
        assert walk.typed == "no"
        await walk.press("1")
        assert walk.typed == "1"
        await walk.press("enter")
        await walk.until(lambda: ("answer", "yes") in walk.kept(), "the answer")

    play(session, scene)


def test_typing_replaces_what_is_proposed(tmp_path: Path) -> None:
    session = at(tmp_path, item("people"))

    async def scene(walk: Walk) -> None:
        await walk.shows(f"{OBSERVER} watches")
        await walk.press("three of us", "pagedown", "pageup")
        assert walk.typed == "three of us"
        await walk.press("enter")
        await walk.until(lambda: walk.kept() == [("answer", "three of us")], "the answer")

    play(session, scene)


def test_what_is_only_proposed_is_no_half_typed_entry(tmp_path: Path) -> None:
    session = at(tmp_path, item("people"))

    async def scene(walk: Walk) -> None:
        await walk.shows(f"{OBSERVER} watches")
        walk.walk.keep_draft()
        assert session.draft() == ("", "")

    play(session, scene)


def test_names_and_instrument_stand_where_they_are_to_be_confirmed(tmp_path: Path) -> None:
    session = at(tmp_path, item("who-watches"))

    async def scene(walk: Walk) -> None:
        await walk.shows(f"{OBSERVER} watches, {WRITER} writes")
        assert walk.walk.typed == ""
        await walk.go(first(session, item("instruments")))
        await walk.shows("meter, invented meter, serial A-17, calibration due 2032-01-31")

    play(session, scene)


def test_the_licence_is_asked_once(tmp_path: Path) -> None:
    licence = item("licence")
    session = at(tmp_path, licence)

    async def scene(walk: Walk) -> None:
        assert walk.walk.typed == ""  # nothing is known yet
        await walk.press("IR-0001", "enter")
        await walk.menu("Sign and save the report")
        await walk.until(lambda: bool(walk.app.screen.query("#line-licence")), "the form")
        assert walk.app.screen.query_one("#line-licence", PickInput).value == "IR-0001"

    play(session, scene)
    remember_person(Person(WRITER, licence="IR-0001"))
    folder = tmp_path / "next"
    folder.mkdir()

    async def next_time(walk: Walk) -> None:
        assert walk.typed == "IR-0001"

    play(at(folder, licence), next_time)


def test_typing_replaces_a_proposal_after_something_was_looked_at(tmp_path: Path) -> None:
    session = begin(tmp_path, "small-garden")  # its first step proposes who watches and writes

    async def scene(walk: Walk) -> None:
        for look in ("The profile", "What is done", "The paths as a picture"):
            await walk.menu(look)
            await walk.press("escape")
            await walk.until(lambda: walk.app.screen is walk.walk, "the walk")
        await walk.press("ctrl+o")
        await walk.press("ctrl+o")
        assert walk.walk.typed == ""
        await walk.press("Pat")
        assert walk.typed == "Pat"

    play(session, scene)
