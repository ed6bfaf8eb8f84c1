"""Forms: a refusal stands at the line it is about and leads there; what was kept is said."""

from __future__ import annotations

from pathlib import Path

import pytest

from commission.checklist.plan import Step
from commission.tui.screens.form import MenuScreen
from commission.tui.widgets.pick_input import PickInput
from tests.tui.test_walk_behaviour import at, loop
from tests.tui.walking import LARGE, SMALL, Walk, play
from tests.walks import begin, first, status

INSTRUMENT = {"id": "tester", "make": "invented tester"}


def stands_in(walk: Walk, key: str) -> bool:
    """Whether the cursor stands in a line of the form on the screen."""
    focused = walk.app.screen.focused
    return focused is not None and focused.id == f"line-{key}"


def below(walk: Walk, label: str, words: str) -> bool:
    """Whether words stand on the screen at most four lines below a label."""
    lines = walk.text.splitlines()
    places = [number for number, line in enumerate(lines) if label in line]
    return bool(places) and any(words in line for line in lines[places[0] : places[0] + 5])


@pytest.mark.parametrize(
    ("key", "text", "label", "words"),
    [
        ("make", "", "Make and model", "write its make and model"),
        ("due", "30 June", "Calibration due", "write the date as 2027-06-30, not '30 June'"),
        ("voltage", "1 % + 3", "Accuracy, a.c. voltage", "'1 % + 3': write the accuracy like"),
        ("current", "to 4 A: 1 % + 3 x 1 V", "Accuracy, a.c. current", "not a unit"),
        ("id", "a b", "Short name", "an id has 1 to 16 of"),
    ],
)
def test_a_refused_line_of_an_instrument_is_named_and_gone_to(
    tmp_path: Path, key: str, text: str, label: str, words: str
) -> None:
    session = at(tmp_path, loop)

    async def scene(walk: Walk) -> None:
        await walk.menu("New instrument")
        await walk.finish(**{**INSTRUMENT, key: text})
        await walk.until(lambda: stands_in(walk, key), f"the line {key}")
        await walk.until(lambda: below(walk, label, words), words)
        await walk.finish(**{**INSTRUMENT, key: INSTRUMENT.get(key, "")})
        name = INSTRUMENT["id"]
        await walk.shows(f"Instrument {name} is kept for you, and used from now on")
        assert session.crew.instrument_name == name

    play(session, scene, SMALL)


def test_a_thermometer_has_an_accuracy(tmp_path: Path) -> None:
    def soil(step: Step) -> bool:
        return step.item.compare == "soil-temperature"

    session = at(tmp_path, soil)

    async def scene(walk: Walk) -> None:
        await walk.press("15 °C")
        await walk.shows("no accuracy of meter is known here")
        await walk.menu("New instrument")
        await walk.finish(**INSTRUMENT, temperature="to 140 °F: 1 % + 2 x 0.9 °F")
        await walk.until(lambda: "no accuracy" not in walk.text, "an accuracy")
        await walk.press("enter")
        await walk.until(
            lambda: status(session, first(session, soil)).state == "answered", "the answer"
        )

    play(session, scene)
    entry = status(session, first(session, soil)).entry
    assert entry is not None
    # 0.9 °F are half a kelvin: a step of the display is a difference, not a temperature.
    assert entry.instrument_resolution == pytest.approx(0.5)
    assert entry.instrument_percent == 1.0


def test_the_first_line_still_to_be_written_is_gone_to(tmp_path: Path) -> None:
    session = at(tmp_path, loop)

    async def scene(walk: Walk) -> None:
        await walk.menu("The ground differs")
        await walk.choose("Something else")
        await walk.finish(subject="box B2")
        await walk.until(lambda: stands_in(walk, "after"), "the line")
        assert below(walk, "As found", "write what was found")
        await walk.finish(after="12 m")
        await walk.until(lambda: stands_in(walk, "reason"), "the line")
        assert "write what was found" not in walk.text

    play(session, scene)


def test_the_keys_named_are_those_of_the_line_at_hand(tmp_path: Path) -> None:
    async def scene(walk: Walk) -> None:
        await walk.menu("Raise a defect")
        await walk.shows("Up before")
        await walk.press("enter")
        await walk.until(lambda: stands_in(walk, "severity"), "the choices")
        await walk.shows("Arrows pick")
        assert "Up before" not in walk.text
        await walk.press("shift+tab")
        await walk.until(lambda: stands_in(walk, "text"), "the line before")

    play(at(tmp_path, loop), scene)


@pytest.mark.parametrize("twice", [("escape",) * 3, ("enter", "enter"), ("ctrl+f", "ctrl+f")])
def test_keys_typed_twice_leave_a_dialogue_once(tmp_path: Path, twice: tuple[str, ...]) -> None:
    looks = ("picture", "profile", "overview", "calculation", "whole", "help", "menu")

    async def scene(walk: Walk) -> None:
        for look in looks:
            getattr(walk.walk.actions, look)()
            await walk.until(lambda: walk.app.screen is not walk.walk, look)
            walk.send(*twice)
            await walk.pilot.pause()
            await walk.until(lambda: walk.app.screen_stack[0] is walk.walk, "the walk")
            await walk.home()
            await walk.until(lambda: walk.app.screen is walk.walk, "the walk alone")
        assert walk.app.failure is None

    play(begin(tmp_path, "small-garden"), scene)


def test_an_answer_that_is_none_of_the_choices_is_refused_by_the_form(tmp_path: Path) -> None:
    session = at(tmp_path, loop)
    count = len(session.job.state.entries)

    async def scene(walk: Walk) -> None:
        await walk.menu("Raise a defect")
        await walk.finish(text="cut", severity="huge")
        await walk.until(lambda: stands_in(walk, "severity"), "the line")
        assert below(walk, "How bad", "'huge' is none of those offered")
        await walk.finish(severity="")
        await walk.until(lambda: below(walk, "How bad", "take one of those below"), "the line")
        await walk.back()

    play(session, scene)
    assert len(session.job.state.entries) == count


def test_a_refusal_about_no_line_is_read_at_the_first_and_not_kept_again_blindly(
    tmp_path: Path,
) -> None:
    session = at(tmp_path, loop)

    async def scene(walk: Walk) -> None:
        await walk.menu("The ground differs")
        await walk.choose("A box that is not there")
        await walk.finish(box="B2", reason="seen")
        await walk.until(lambda: stands_in(walk, "box"), "the first line")
        await walk.shows("move or delete its stations first")
        await walk.press("enter")
        assert stands_in(walk, "reason")
        await walk.shows("move or delete its stations first")

    play(session, scene)


def test_a_form_shows_what_is_drawn_at_the_box_that_its_first_line_names(tmp_path: Path) -> None:
    """The garden's cables: 75 ft by drawing to B6, 160 ft by wheel to B5, 95 ft to B4."""
    session = at(tmp_path, loop)

    def lines(walk: Walk) -> tuple[str, ...]:
        keys = ("box", "length", "by")
        return tuple(walk.app.screen.query_one(f"#line-{k}", PickInput).value for k in keys)

    async def scene(walk: Walk) -> None:
        await walk.menu("The ground differs")
        await walk.press("1", "enter")
        await walk.until(lambda: lines(walk)[1:] == ("95 ft", "wheel"), "of the box at hand")
        await walk.press("6", "enter")
        await walk.until(lambda: lines(walk) == ("6", "75 ft", "drawing"), "of B6")
        await walk.press("shift+tab", "5", "enter")
        await walk.until(lambda: lines(walk) == ("5", "160 ft", "wheel"), "of B5")
        walk.send("shift+tab", "2", "enter", "170 ft")  # typed ahead, it replaces what follows
        await walk.until(lambda: lines(walk) == ("2", "170 ft", "wheel"), "typed ahead")
        await walk.press("shift+tab", "4", "enter")
        await walk.until(lambda: lines(walk) == ("4", "170 ft", "wheel"), "what was typed stays")
        await walk.press("enter", "enter", "trench measured", "enter", "enter")
        await walk.until(lambda: walk.app.screen is walk.walk, "the walk")

    play(session, scene, LARGE)
    entry = session.job.state.entries[-1]
    assert (entry.subject, entry.before, entry.after) == (
        "path A, cable B3 to B4", "95 ft", "170 ft",
    )  # fmt: skip


def test_a_list_stays_in_view_below_a_text_too_long_for_the_window(tmp_path: Path) -> None:
    text = "\n".join(f"line {number}" for number in range(1, 41))

    async def scene(walk: Walk) -> None:
        walk.app.push_screen(MenuScreen("Long", [("take", "Take it"), ("leave", "Leave it")], text))
        await walk.shows("2  Leave it")
        await walk.shows("PgUp PgDn text")
        await walk.shows("  line 1\n")
        assert "line 40" not in walk.text
        await walk.press("pagedown", "pagedown", "pagedown")
        await walk.shows("line 40")
        assert "1  Take it" in walk.text

    play(begin(tmp_path, "small-garden"), scene)
