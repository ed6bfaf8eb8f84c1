"""The form of a new site: questions, what they come to, the file; by keys, as golden screens."""

from __future__ import annotations

import threading
from collections.abc import Iterator
from pathlib import Path

import pytest

from commission.authoring.draft import Kinds, usual_supply
from commission.expected.sheet import Sheet
from commission.host import Disk
from commission.site.load import load_site
from commission.tui import new_app
from commission.tui.new_answers import USUAL, Evenly
from commission.tui.new_app import NewApp, Written
from commission.tui.screens.form import LineRefused
from commission.tui.widgets.pick_input import PickInput
from tests.tui.golden import Golden
from tests.tui.walking import LARGE, SMALL, Walk, play_in

sizes = pytest.mark.parametrize("size", [SMALL, LARGE], ids=["80x24", "120x40"])


async def answered(walk: Walk, spacing: str) -> None:
    """Fill the form in from its first line to that of the spacing."""
    for line in ("Corner garden", "", "", "2", "", "6", spacing):
        await walk.press(*([line] if line else []), "enter")


async def supplied(walk: Walk, *typed: tuple[int, str]) -> None:
    """Go through the form of a supply, another answer in the lines that are named by number."""
    await walk.shows("Rated volts of the two-wire output")
    lines = len(walk.app.screen.query(PickInput))
    for line in range(lines):
        await walk.press(*dict(typed).get(line, ""), "enter")
    await walk.press("enter")


@sizes
def test_a_site_from_a_few_answers(tmp_path: Path, golden: Golden, size: tuple[int, int]) -> None:
    path = tmp_path / "garden.toml"

    async def scene(walk: Walk) -> None:
        await walk.shows("Name of the site")
        golden.check(walk.app, "new-questions")
        await answered(walk, "far")
        await walk.press(*["enter"] * 6)
        await walk.shows("does not start with a number")
        assert not path.exists()
        await walk.press(*["backspace"] * 3)
        await walk.press("150 ft")
        await walk.press(*["enter"] * 7)
        await walk.shows("The supply, and the transformer")
        golden.check(walk.app, "new-supply")
        await supplied(walk)
        await walk.shows("the most that may run: pass")
        golden.check(walk.app, "new-comes-to")
        await walk.press("1", "enter")

    app = NewApp(path, Evenly(Kinds()), Disk())
    play_in(app, scene, size)
    assert app.return_value == Written(path)
    assert len(load_site(path).station) == 12


def test_going_back_keeps_the_answers_and_writes_nothing(tmp_path: Path) -> None:
    path = tmp_path / "garden.toml"

    async def scene(walk: Walk) -> None:
        await answered(walk, "45 m")
        await walk.press(*["enter"] * 6)
        await supplied(walk)
        await walk.shows("What it comes to")
        await walk.press("2", "enter")
        await walk.shows("Corner garden")
        await walk.press("escape", "enter")

    app = NewApp(path, Evenly(Kinds()), Disk())
    play_in(app, scene)
    assert app.return_value is None
    assert not path.exists()


@sizes
def test_a_file_that_is_there_stays_unless_somebody_says_otherwise(
    tmp_path: Path, golden: Golden, size: tuple[int, int], monkeypatch: pytest.MonkeyPatch
) -> None:
    """It came while the form was open; left as it is first, then kept beside the new one."""
    path = tmp_path / "garden.toml"
    monkeypatch.setattr(
        new_app,
        "kept_name",
        lambda path, _disk, _at: path.with_name("garden.before-2031-05-04T10-31.toml"),
    )

    async def scene(walk: Walk) -> None:
        await answered(walk, "45 m")
        await walk.press(*["enter"] * 6)
        await supplied(walk)
        await walk.shows("What it comes to")
        path.write_text("mine", "utf-8")
        await walk.press("1", "enter")
        await walk.shows("garden.toml is there already")
        golden.check(walk.app, "new-file-is-there")
        await walk.press("enter")
        await walk.shows("What it comes to")
        assert path.read_text("utf-8") == "mine"
        await walk.press("1", "enter")
        await walk.shows("garden.toml is there already")
        await walk.press("2", "enter")

    app = NewApp(path, Evenly(Kinds()), Disk())
    play_in(app, scene, size)
    assert app.return_value is not None
    assert app.return_value.kept is not None
    assert app.return_value.kept.read_text("utf-8") == "mine"
    assert len(load_site(path).station) == 12
    assert len(list(tmp_path.iterdir())) == 2


def test_each_output_has_a_transformer_of_its_own(tmp_path: Path) -> None:
    """Two outputs: 27 V open circuit over 24 V rated is 12.5 %; 0.8 ohm stated behind 26 V."""
    path = tmp_path / "garden.toml"

    async def scene(walk: Walk) -> None:
        for line in ("Corner garden", "2", "2", "1", "", "3", "45 m"):
            await walk.press(*([line] if line else []), "enter")
        await walk.press(*["enter"] * 6)
        await walk.shows("The supply, and the transformer of output 1")
        assert "230 V" in walk.text
        await supplied(walk, (2, "240 V"))
        await walk.shows("an output has 1 to 50 V a.c.")
        await walk.press(*["backspace"] * 5, "24 V", "enter", "2.5 A", "enter", "27 V", "enter")
        await walk.press("enter", "2", "enter", "enter")
        await walk.shows("The transformer of output 2")
        assert "27 V" in walk.text
        await supplied(walk, (0, "25 V"), (1, "40 VA"), (2, "26 V"), (3, "0.8 ohm"))
        await walk.shows("Longest loop of path B, dead: ")
        await walk.press("1", "enter")

    play_in(NewApp(path, Evenly(Kinds()), Disk()), scene)
    one, other = load_site(path).output
    assert (one.rated_voltage_v, one.rated_current_a, one.rating_va) == (24.0, 2.5, None)
    assert one.regulation == pytest.approx(0.125)
    assert (other.rated_voltage_v, other.rating_va, other.regulation) == (25.0, 40.0, None)
    assert (other.open_circuit_voltage_v, other.source_resistance_ohm) == (26.0, 0.8)
    assert 'regulation = "12.5 %"' in path.read_text("utf-8")


SOUND = {
    "name": "Garden", "units": "US", "outputs": "2", "paths": "1", "cable": "14 AWG", "boxes": "3",
    "spacing": "45 m", "stations": "1", "at_once": "1", "bundle": "", "solenoid": USUAL,
    "decoder": USUAL,
}  # fmt: skip


@pytest.mark.parametrize(
    ("key", "answer"),
    [
        ("name", "x" * 61), ("name", "a\u202eb"), ("units", "metric"), ("solenoid", "none-such"),
        ("decoder", "none-such"), ("cable", "24 AWG"), ("cable", "3 mm²"), ("cable", "14"),
        ("spacing", "0 m"), ("spacing", "21 km"), ("spacing", "45"), ("at_once", "51"),
        ("outputs", "0"), ("outputs", "1_0"), ("paths", "٣"), ("boxes", "1001"), ("boxes", "999"),
        ("stations", "2.5"), ("paths", "1 1 1"), ("boxes", "2 2 2"), ("boxes", "2 0"),
        ("bundle", "red"), ("bundle", "red, blue, red"),
        ("bundle", "red thick, blue"), ("bundle", "red, blue to A9"), ("bundle", "rot/weiß, blue"),
        ("bundle", "1,2,3"),
    ],
)  # fmt: skip
def test_an_answer_that_cannot_be_meant_is_refused_at_its_line(key: str, answer: str) -> None:
    """999 boxes are too many on three outputs: 2,000 stations are the most."""
    app = NewApp(Path("garden.toml"), Evenly(Kinds()), Disk())
    app.keep_answers(SOUND)
    spoilt = SOUND | {key: answer} | ({"outputs": "3"} if answer == "999" else {})

    def kept() -> None:
        for line in Evenly(Kinds()).lines():  # as the form does before it asks the program
            line.refuse(spoilt[line.key])
        app.keep_answers(spoilt)

    with pytest.raises(LineRefused) as refused:
        kept()
    assert refused.value.key == key


def test_outputs_and_paths_may_differ() -> None:
    """Two outputs with two paths and one, of 5, 6 and 3 boxes."""
    questions = Evenly(Kinds())
    spoken = SOUND | {"outputs": "2", "paths": "2, 1", "boxes": "5 6 3", "stations": "1"}
    questions.keep(spoken | {"bundle": ""})
    draft = questions.draft(usual_supply("SI", 2))
    assert [(one.id, one.output, len(one.segments)) for one in draft.paths] == [
        ("A", "1", 5), ("B", "1", 6), ("C", "2", 3),
    ]  # fmt: skip
    assert [one.path for one in draft.stations] == ["A"] * 5 + ["B"] * 6 + ["C"] * 3


def test_what_takes_its_time_keeps_nobody_from_going_on(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The voltages of a large site: the file is written, or answers are mended, meanwhile."""
    never = threading.Event()

    def endless(_sheet: Sheet) -> Iterator[str]:
        never.wait()
        yield "far too late"

    monkeypatch.setattr(new_app, "at_work", endless)
    path = tmp_path / "garden.toml"

    async def scene(walk: Walk) -> None:
        await answered(walk, "45 m")
        await walk.press(*["enter"] * 6)
        await supplied(walk)
        await walk.shows("being worked out")
        await walk.press("2", "enter")
        await walk.shows("Corner garden")
        await walk.press(*["enter"] * 13)
        await supplied(walk)
        await walk.shows("being worked out")
        await walk.press("1", "enter")

    play_in(NewApp(path, Evenly(Kinds()), Disk()), scene)
    assert len(load_site(path).station) == 12
    never.set()


def test_a_failure_there_is_the_programs(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def wrong(_sheet: Sheet) -> Iterator[str]:
        raise RuntimeError("a mistake of the program")
        yield

    monkeypatch.setattr(new_app, "at_work", wrong)
    app = NewApp(tmp_path / "garden.toml", Evenly(Kinds()), Disk())

    async def scene(walk: Walk) -> None:
        await answered(walk, "45 m")
        await walk.press(*["enter"] * 6)
        await supplied(walk)
        await walk.soon(lambda: app.failure is not None, "the failure")

    with pytest.raises(RuntimeError, match="a mistake"):
        play_in(app, scene)
    assert isinstance(app.failure, RuntimeError)
