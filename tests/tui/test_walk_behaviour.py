"""What can be done at a step: read, skip, note, test again, defects, taking back, who saw it."""

from __future__ import annotations

import re
from collections.abc import Callable
from pathlib import Path

import pytest

from commission.checklist.plan import Step
from commission.session import Session
from commission.tui.app import CommissionApp
from commission.tui.screens.walk import WalkScreen
from commission.tui.theme import NIGHT, SUN
from tests.tui.walking import LARGE, Walk, play
from tests.walks import (
    OBSERVER,
    WRITER,
    answer,
    begin,
    first,
    good_answer,
    status,
    typed,
    walk_until,
)

SAMPLE = "small-garden"


def at(folder: Path, wanted: Callable[[Step], bool]) -> Session:
    """A new job standing at the first step that is as wanted, all before it in order."""
    session = begin(folder, SAMPLE)
    walk_until(session, first(session, wanted))
    return session


def loop(step: Step) -> bool:
    """Whether a step measures a loop."""
    return step.item.compare == "loop-resistance"


def confirmation(step: Step) -> bool:
    """Whether a step asks for yes or no, now."""
    return step.item.answer == "confirm" and not step.item.hidden_later


def loop_reading(session: Session, times: float = 1.0) -> str:
    """What is expected of the first loop, as it is typed, so many times."""
    step = first(session, loop)
    expectation = session.job.expectation(step)
    assert expectation is not None
    return typed(expectation.value * times, step)


def test_any_step_can_be_read_at_any_time_and_nothing_is_kept(tmp_path: Path) -> None:
    session = begin(tmp_path, SAMPLE)

    async def scene(walk: Walk) -> None:
        ids = list(session.job.statuses)
        for step_id in (ids[-1], ids[0], ids[len(ids) // 2]):
            await walk.go(session.job.plan.by_id[step_id])
            await walk.shows(f"step {ids.index(step_id) + 1} of {len(ids)} ")
        await walk.press("pagedown")
        await walk.shows(f"step {len(ids) // 2 + 2} of")
        await walk.press("pageup", "pageup")
        await walk.shows(f"step {len(ids) // 2} of")
        await walk.press("ctrl+l", "end", "enter")
        await walk.shows(f"step {len(ids)} of")
        assert walk.kept() == []

    play(session, scene)


@pytest.mark.parametrize(
    ("line", "kind"),
    [("Skip this step", "skip"), ("Not applicable here", "not-applicable")],
    ids=["skip", "not-applicable"],
)
def test_a_step_is_left_out_only_with_a_reason(tmp_path: Path, line: str, kind: str) -> None:
    session = at(tmp_path, confirmation)
    step = first(session, confirmation)
    before = len(session.job.state.entries)

    async def scene(walk: Walk) -> None:
        await walk.menu(line)
        await walk.finish(reason="  ")
        await walk.shows("write the reason in a few words")
        assert len(walk.kept()) == before
        await walk.finish(reason="no radio on this site")
        await walk.shows(f"entry {before + 1}")
        assert walk.kept()[-1] == (kind, "no radio on this site")
        assert walk.walk.step_id != step.id

    play(session, scene)


def test_a_note_is_kept_and_what_was_half_typed_stays(tmp_path: Path) -> None:
    session = at(tmp_path, loop)

    async def scene(walk: Walk) -> None:
        await walk.press("2.2")
        await walk.menu("Add a note")
        await walk.finish(text="leads nulled twice")
        await walk.shows("note: leads nulled twice")
        assert walk.kept()[-1] == ("note", "leads nulled twice")
        assert walk.typed == "2.2"

    play(session, scene)


def test_a_retest_keeps_the_history_and_closes_the_defect(tmp_path: Path) -> None:
    session = at(tmp_path, loop)
    bad, good, step = loop_reading(session, 3), loop_reading(session), first(session, loop)

    async def scene(walk: Walk) -> None:
        await walk.press(bad, "enter")
        await walk.shows("Test again now")
        await walk.choose("Raise a defect")
        await walk.shows("What is to be done")
        await walk.finish(action="remake the joint")
        await walk.shows("Open defect D1")
        await walk.press(good, "enter")
        await walk.until(lambda: walk.walk.step_id != step.id, "the next step")
        assert not session.job.open_defects
        await walk.go(step)
        await walk.shows("+ pass")
        await walk.shows("x fail")
        texts = [entry.text for entry in session.job.state.history[step.id]]
        assert bad in texts
        assert good in texts

    play(session, scene)


def test_a_defect_without_a_measurement_closes_by_a_second_look(tmp_path: Path) -> None:
    session = at(tmp_path, confirmation)
    session.raise_defect(first(session, confirmation), "danger", "pump house", "no lock", "lock it")

    async def scene(walk: Walk) -> None:
        await walk.menu("Close a defect after a second look")
        await walk.shows("pump house: no lock")
        await walk.finish(seen="")
        await walk.shows("write in a few words what was seen")
        assert session.job.open_defects
        await walk.finish(seen="a lock hangs there now")
        await walk.until(lambda: not session.job.open_defects, "the defect closed")

    play(session, scene)


def test_a_defect_of_a_measured_step_closes_only_by_a_retest(tmp_path: Path) -> None:
    session = at(tmp_path, loop)
    session.raise_defect(first(session, loop), "does not work", "box B2", "bad joint", "remake")

    async def scene(walk: Walk) -> None:
        await walk.menu("Close a defect after a second look")
        await walk.finish(seen="looks good")
        await walk.shows("closes when a retest of Loop resistance passes")
        assert session.job.open_defects

    play(session, scene)


def test_an_entry_taken_back_stays_in_the_history(tmp_path: Path) -> None:
    session = at(tmp_path, loop)
    good, step = loop_reading(session), first(session, loop)

    async def scene(walk: Walk) -> None:
        await walk.press(good, "enter")
        await walk.until(lambda: walk.walk.step_id != step.id, "the next step")
        await walk.go(step)
        await walk.menu("Take back an entry")
        await walk.finish(reason="read at the wrong box")
        await walk.shows("withdrawn")
        assert status(session, step).state == "open"
        assert any(entry.text == good for entry in session.job.state.entries)

    play(session, scene)


def test_what_will_be_hidden_asks_who_saw_it_and_for_a_photo(tmp_path: Path) -> None:
    def hidden(step: Step) -> bool:
        return step.item.hidden_later

    session = at(tmp_path, hidden)
    step = first(session, hidden)

    async def scene(walk: Walk) -> None:
        await walk.press("1", "enter")
        await walk.shows("This will be hidden later")
        await walk.finish(observed_by="Kim Invented")
        await walk.shows("write the photo's number")
        assert status(session, step).state == "open"
        await walk.finish(file=str(tmp_path / "no-such.jpg"))
        await walk.shows("can't be read")
        assert status(session, step).state == "open"
        await walk.finish(photo="IMG 7", file="")
        await walk.until(lambda: status(session, step).state == "answered", "the answer kept")
        entry = status(session, step).entry
        assert entry is not None
        assert (entry.photo, entry.observed_by, entry.entered_by) == (
            "IMG 7", "Kim Invented", WRITER,
        )  # fmt: skip

    play(session, scene)


def test_a_marginal_result_handed_over_is_a_named_exception(tmp_path: Path) -> None:
    session = at(tmp_path, lambda step: step.item.id == "earth-resistance")

    async def scene(walk: Walk) -> None:
        step_id = walk.walk.step_id
        await walk.press("9.98", "enter")
        await walk.shows("MARGINAL")
        await walk.choose("named exception")
        await walk.finish(reason="the owner adds a rod in spring")
        await walk.until(lambda: step_id in session.job.state.decisions, "the decision")
        assert walk.walk.step_id != step_id
        await walk.go(session.job.plan.by_id[step_id])
        await walk.shows("accepted as an exception: the owner adds a rod in spring")
        assert "note:" not in walk.text

    play(session, scene)


def test_escape_never_discards_what_was_typed_in_a_form(tmp_path: Path) -> None:
    session = at(tmp_path, loop)

    async def scene(walk: Walk) -> None:
        await walk.menu("Add a note")
        await walk.press("water in box B2", "escape", "escape", "escape")
        await walk.shows("water in box B2")
        await walk.press("home", "enter")
        await walk.until(lambda: walk.kept()[-1] == ("note", "water in box B2"), "the note")

    play(session, scene)


def test_what_is_far_off_is_kept_when_confirmed_by_a_second_enter(tmp_path: Path) -> None:
    session = at(tmp_path, loop)
    far = loop_reading(session, 50)
    before = len(session.job.state.entries)

    async def scene(walk: Walk) -> None:
        await walk.press(far, "enter")
        await walk.shows("Is it meant so?")
        assert len(walk.kept()) == before
        await walk.press("enter")
        await walk.shows("Test again now")
        assert walk.kept()[-1] == ("answer", far)

    play(session, scene)


def test_corrections_typed_ahead_keep_their_turn(tmp_path: Path) -> None:
    async def scene(walk: Walk) -> None:
        await walk.press("2.29", "backspace", "4", "left", "left", "delete", "3", "home", "1")
        await walk.until(lambda: walk.typed == "12.34", "12.34")

    play(at(tmp_path, loop), scene)


def test_keys_typed_ahead_in_one_burst_never_mix_entries(tmp_path: Path) -> None:
    def number(step: Step) -> bool:
        return step.item.id == "soil-temperature"

    session = at(tmp_path, number)
    before = len(session.job.state.entries)

    async def scene(walk: Walk) -> None:
        walk.send("59", "enter", "2", "enter")
        await walk.until(lambda: len(walk.kept()) == before + 2, "both answers")
        assert walk.kept()[-2:] == [("answer", "59"), ("answer", "moist")]
        assert walk.typed == ""

    play(session, scene)


def test_the_colours_change_and_everything_stays_on_the_screen(tmp_path: Path) -> None:
    async def scene(walk: Walk) -> None:
        assert walk.app.theme == SUN.name
        await walk.press("2.2")
        before = walk.text
        await walk.press("ctrl+t")
        assert walk.app.theme == NIGHT.name
        assert walk.text == before

    play(at(tmp_path, loop), scene)


def test_a_small_window_asks_for_more_room_and_gives_everything_back(tmp_path: Path) -> None:
    async def scene(walk: Walk) -> None:
        await walk.shows("at least 60")
        only = " ".join(walk.text.split())
        words = "Please make the window at least 60 columns by 16 lines. What you typed is kept."
        assert only == f"PRACTICE | More room, please {words}"
        await walk.press("9")
        await walk.pilot.resize_terminal(80, 24)
        await walk.shows("Loop resistance")
        await walk.press("2.2")
        assert walk.typed == "2.2"
        await walk.pilot.resize_terminal(80, 12)
        await walk.shows("at least 60")
        await walk.pilot.resize_terminal(60, 16)
        await walk.shows("2.2")
        await walk.press("4")
        assert walk.typed == "2.24"

    play(at(tmp_path, loop), scene, (40, 12))


def test_the_readings_name_those_who_took_them(tmp_path: Path) -> None:
    session = at(tmp_path, loop)
    good = loop_reading(session)

    async def scene(walk: Walk) -> None:
        await walk.menu("People and instrument")
        await walk.finish(entered_by="Kim Invented", observed_by="", instrument="none")
        await walk.press(good, "enter")
        await walk.until(lambda: walk.kept()[-1] == ("answer", good), "the answer")
        entry = session.job.state.entries[-1]
        assert (entry.entered_by, entry.observed_by) == ("Kim Invented", "Kim Invented")
        assert entry.instrument == ""
        assert session.job.state.entries[0].observed_by == OBSERVER

    play(session, scene)


def test_no_key_is_a_function_key_or_held_with_alt() -> None:
    keys = [binding.key for binding in (*WalkScreen.BINDINGS, *CommissionApp.BINDINGS)]  # type: ignore[union-attr]
    assert "escape" in keys
    for key in keys:
        assert not re.search(r"\bf\d+\b|\balt\b", key)


def test_a_step_longer_than_its_place_says_so_and_is_shown_whole(tmp_path: Path) -> None:
    session = begin(tmp_path, SAMPLE)
    supply_on = first(session, lambda step: step.item.supply == "on")
    last = session.job.reasons_against(supply_on)[-1]

    async def scene(walk: Walk) -> None:
        assert "more text" not in walk.text
        await walk.go(supply_on)
        await walk.shows("more text: Ctrl+R")
        assert last not in " ".join(walk.text.split())
        await walk.press("ctrl+r")
        await walk.until(lambda: walk.app.screen is not walk.walk, "the whole text")
        await walk.press("end")
        await walk.until(lambda: last in " ".join(walk.text.split()), last)
        await walk.press("escape")
        await walk.go(session.job.statuses[next(iter(session.job.statuses))].step)
        await walk.until(lambda: "more text" not in walk.text, "the hint gone")

    play(session, scene)


def test_a_half_typed_entry_waits_where_it_was_left(tmp_path: Path) -> None:
    session = begin(tmp_path, SAMPLE)

    async def scene(walk: Walk) -> None:
        await walk.press("half a name", "pagedown", "pagedown", "other words", "pageup", "pageup")
        await walk.shows("half a name")
        assert "other words" not in walk.text
        await walk.press("pagedown", "pagedown")
        await walk.shows("other words")
        assert walk.kept() == []

    play(session, scene)


def test_a_stations_questions_follow_from_its_answers(tmp_path: Path) -> None:
    session = at(tmp_path, lambda step: step.item.sign == "valve")
    valve = first(session, lambda step: step.item.sign == "valve")
    before = set(session.job.statuses)
    wrong = next(one.say for one in valve.item.choice if one.verdict == "fail")

    async def scene(walk: Walk) -> None:
        await walk.press(wrong, "enter")
        await walk.shows("FAIL")
        await walk.choose("Go on")
        new = [one.step for key, one in session.job.statuses.items() if key not in before]
        assert new
        assert {step.target for step in new} == {valve.target}
        await walk.until(lambda: walk.walk.step_id == new[0].id, "the first of the new questions")

    play(session, scene)


def test_a_defect_raised_by_mistake_is_taken_back_from_a_step_without_an_answer(
    tmp_path: Path,
) -> None:
    session = at(tmp_path, loop)
    step = first(session, loop)

    async def scene(walk: Walk) -> None:
        await walk.menu("Raise a defect")
        await walk.finish(text="lid is cracked", action="bring a new lid")
        await walk.shows("Open defect D1")
        await walk.menu("Take back an entry")
        await walk.shows("Take back: defect D1 opened: lid is cracked")
        await walk.finish(reason="it was the neighbour's lid")
        await walk.until(lambda: not session.job.open_defects, "the defect taken back")
        await walk.shows("withdrawn")
        assert "Open defect" not in walk.text
        assert status(session, step).state == "open"
        assert session.job.state.defects["D1"].state == "withdrawn"

    play(session, scene)


def test_every_entry_of_a_step_can_be_taken_back_the_newest_first(tmp_path: Path) -> None:
    session = at(tmp_path, loop)
    step, bad = first(session, loop), loop_reading(session, 3)
    photo = tmp_path / "joint.jpg"
    photo.write_bytes(b"not really a picture")
    session.answer(step, bad, confirmed=True)
    session.note(step, "leads nulled twice")
    session.raise_defect(step, "does not work", "box B2", "bad joint", "remake it")
    session.attach(step, photo)
    session.change_drawing(step, "B2", "8 m", "12 m", "measured by tape")
    session.accept_exception(step, "the owner knows")
    words = [
        "exception: the owner knows",
        "drawing: B2: 8 m as drawn, 12 m as found",
        "attached: joint.jpg",
        "defect D1 opened: bad joint",
        "note: leads nulled twice",
        bad,
    ]

    async def scene(walk: Walk) -> None:
        await walk.go(step)
        await walk.menu("Take back an entry")
        await walk.shows("Which entry?")
        places = [walk.text.index(one) for one in words]
        assert places == sorted(places)
        await walk.choose("note: leads nulled twice")
        await walk.finish(reason="it was once")
        await walk.until(lambda: not session.job.state.notes[step.id][:-1], "the note taken back")
        for number, one in enumerate(w for w in words if w != "note: leads nulled twice"):
            await walk.menu("Take back an entry")
            if number < 4:
                await walk.choose(one)
            await walk.finish(reason="all of it")
        state = session.job.state
        assert step.id not in {**state.latest, **state.notes, **state.decisions}
        assert step.id not in state.attachments
        assert state.defects["D1"].state == "withdrawn"
        await walk.menu("Take back an entry")
        await walk.shows("nothing to take back")

    play(session, scene, LARGE)


def test_a_station_is_sound_only_so_far_until_all_of_it_was_looked_at(tmp_path: Path) -> None:
    session = at(tmp_path, lambda step: step.item.sign == "others")
    others = first(session, lambda step: step.item.sign == "others")
    last = [s for s in session.job.plan.steps if s.item.sign and s.target == others.target][-1]

    async def scene(walk: Walk) -> None:
        await walk.shows("So far: sound")
        assert "Likely" not in walk.text
        walk_until(session, last)
        answer(session, last, good_answer(session, last))
        walk.walk.refresh_job()
        await walk.go(others)
        await walk.shows("Likely: sound")

    play(session, scene)


def test_after_isolating_again_what_counts_no_more_is_marked_and_found(tmp_path: Path) -> None:
    """Ctrl+N goes through it in order, the switching on at its end included."""
    session = begin(tmp_path, SAMPLE)
    walk_until(session, first(session, lambda step: step.item.compare == "standby-current"))
    isolate = first(session, lambda step: step.item.supply == "off")
    bridge = first(session, lambda step: step.item.id == "bridge-off")
    answer(session, isolate, "yes")
    stale = [step for step, one in session.job.statuses.items() if one.again]
    assert bridge.id in stale
    assert [step for step in stale if session.job.plan.by_id[step].item.supply == "on"]

    async def scene(walk: Walk) -> None:
        await walk.go(isolate)
        for step_id in stale:
            await walk.press("ctrl+n")
            await walk.until(lambda step_id=step_id: walk.walk.step_id == step_id)  # type: ignore[misc]
            await walk.shows("To be done again")
        await walk.go(bridge)
        await walk.shows("the supply was isolated after it")
        await walk.shows(f"~ {bridge.title}")

    play(session, scene, LARGE)


def test_a_box_of_the_picture_is_gone_to_and_branches_fold(tmp_path: Path) -> None:
    session = at(tmp_path, loop)
    here = first(session, loop).target.box

    async def scene(walk: Walk) -> None:
        await walk.press("2.2")
        await walk.menu("The paths as a picture")
        await walk.shows("terminals of output 1")
        await walk.shows(f"· {here}")
        await walk.press("escape")
        assert walk.walk.entry.value == "2.2"  # what was half-typed stays
        await walk.menu("The paths as a picture")
        await walk.shows("terminals of output 1")
        await walk.press("home", "left")
        await walk.shows("... 6 boxes")
        await walk.press("right", "down", "enter")
        await walk.until(lambda: walk.walk.status.step.target.box == "B1", "box B1")

    play(session, scene)
