"""A site file edited by keys: the drawing, what a change does, taking back, writing, leaving."""

from __future__ import annotations

import sys
from collections.abc import Awaitable, Callable
from pathlib import Path

import pytest

from commission.editing.edition import Edition
from commission.host import Disk
from commission.resources import samples
from commission.site.changes.kinds import Length
from commission.site.load import load_site
from commission.tui.edit_app import EditApp
from commission.tui.screens.form import FormScreen
from tests.jobs import user_env
from tests.terminal import Terminal
from tests.tui.golden import Golden
from tests.tui.walking import LARGE, SMALL, Walk, play_in
from tests.walks import clock

sizes = pytest.mark.parametrize("size", [SMALL, LARGE], ids=["80x24", "120x40"])
Scene = Callable[[Walk], Awaitable[None]]


@pytest.fixture
def garden(tmp_path: Path) -> Path:
    path = tmp_path / "garden.toml"
    path.write_bytes(samples()["small-garden"].read_bytes())
    return path


def edit(path: Path, scene: Scene, size: tuple[int, int] = SMALL) -> EditApp:
    """Play a scene in a program of its own."""
    edition = Edition(path, Disk(), clock())
    app = EditApp(edition)
    try:
        play_in(app, scene, size)
    finally:
        edition.close()
    return app


async def at(walk: Walk, place: str, what: str) -> None:
    """Go to a station or box, and open one of the forms that are offered there."""
    await walk.press("escape")
    await walk.choose("Go to a station")
    await walk.finish(place=place)
    await walk.press("enter")
    await walk.shows("Change at")
    await walk.choose(what)
    await walk.until(lambda: isinstance(walk.app.screen, FormScreen), "the form")


async def lengthened(walk: Walk, length: str = "295 ft") -> None:
    """Give the cable to box B4 another length, and wait for what that does."""
    await walk.press("escape")
    await walk.choose("Go to a station")
    await walk.finish(place="b4")
    await walk.press("enter")
    await walk.shows("Change at B4")
    await walk.press("1", "enter")
    await walk.shows("Length, with its unit")
    await walk.finish(length=length)
    await walk.shows("changed")


async def leaving(walk: Walk) -> None:
    """Change a length, and leave without writing it."""
    await walk.shows("no value changed")
    await lengthened(walk)
    walk.app.action_leave()
    await walk.shows("not in garden.toml yet")
    await walk.choose("Leave; keep them")


@sizes
def test_a_change_and_what_it_does(garden: Path, golden: Golden, size: tuple[int, int]) -> None:
    before = garden.read_bytes()

    async def scene(walk: Walk) -> None:
        await walk.shows("no value changed")
        golden.check(walk.app, "edit-first")
        await walk.press("down", "enter")
        await walk.shows("Change at B1")
        golden.check(walk.app, "edit-offered")
        await walk.press("escape")
        await lengthened(walk)
        await walk.shows("2.22 ohm -> 3.21 ohm")
        golden.check(walk.app, "edit-changed")
        await walk.press("tab", "enter")
        await walk.shows("An expected value")
        golden.check(walk.app, "edit-value")
        await walk.press("escape", "tab", "escape")
        await walk.shows("Take back")
        golden.check(walk.app, "edit-menu")
        await walk.choose("Take back")
        await walk.shows("as it is on disk")
        await walk.menu("Do again")
        await walk.shows("1 change not written yet")
        await walk.press("ctrl+q")
        await walk.shows("not in garden.toml yet")
        golden.check(walk.app, "edit-leaving")
        assert garden.read_bytes() == before
        await walk.choose("Write into garden.toml, and leave")

    edit(garden, scene, size)
    site = load_site(garden)
    assert [s.length_m for s in site.path[0].segment if s.to_box == "B4"] == [
        pytest.approx(295 * 0.3048)
    ]
    comments = [line for line in before.decode().splitlines() if line.startswith("#")]
    assert [line for line in garden.read_text().splitlines() if line.startswith("#")] == comments


def test_every_kind_of_change_by_keys(garden: Path) -> None:
    """Move, rename, delete, a new box in the middle, a new end, a new station, another cable."""

    async def made(walk: Walk, place: str, what: str, **lines: str) -> None:
        await at(walk, place, what)
        await walk.finish(**lines)
        await walk.until(lambda: len(walk.app.screen_stack) == 1, walk.text)

    async def scene(walk: Walk) -> None:
        await made(walk, "B2", "in the middle", id="B7", first="60 ft", second="80 ft")
        await made(walk, "B6", "More cable", id="B8", length="55 ft")
        await made(walk, "B8", "A new station", number="7", id="S7", address="107")
        await made(walk, "3", "Move the station", box="B7")
        await made(walk, "Orchard box", "Another label", label="Pear tree box")
        await made(walk, "B5", "Another cable", cable="12 AWG")
        await made(walk, "6", "Delete the station")
        await made(walk, "B3", "Another length", length="10 m")
        await walk.menu("All changes since the file")
        await walk.shows("8  path A, cable B2 to B3: 120 ft -> 10 m")
        await walk.press("escape")
        await walk.menu("Write 8 changes into garden.toml")
        await walk.shows("as it is on disk")
        for back in range(1, 9):  # each is a change of the file again
            await walk.menu("Take back")
            await walk.shows(f"{back} change")
        await walk.press("ctrl+q")
        await walk.choose("Leave; keep them")

    edit(garden, scene)
    site = load_site(garden)
    boxes = {segment.to_box: segment.from_box for segment in site.path[0].segment}
    assert (boxes["B7"], boxes["B2"], boxes["B8"]) == ("B1", "B7", "B6")
    stations = {station.id: station.box for station in site.station}
    assert stations["S3"] == "B7"
    assert stations["S7"] == "B8"
    assert "S6" not in stations
    assert "12-AWG" in site.cable_kind
    labels = {box.id: box.label for box in site.path[0].box}
    assert labels["B6"] == "Pear tree box"


@sizes
def test_a_box_that_goes_leaves_one_cable_as_the_form_says(
    garden: Path, golden: Golden, size: tuple[int, int]
) -> None:
    text = garden.read_text("utf-8")
    station, more = text.index('[[station]]\nid = "S5"'), text.index('[[station]]\nid = "S6"')
    garden.write_text(text[:station] + text[more:], encoding="utf-8")

    async def scene(walk: Walk) -> None:
        await walk.shows("no value changed")
        await walk.press("escape")
        await walk.choose("Go to a station")
        await walk.finish(place="b5")
        await walk.press("enter")
        await walk.shows("Change at B5")
        await walk.choose("Delete the box")
        await walk.shows("weaker of both ways")
        golden.check(walk.app, "edit-delete-box")
        await walk.finish()
        await walk.shows("not there; one cable of 235")
        await walk.shows("1 changed; 6 too little to show")
        golden.check(walk.app, "edit-box-deleted")

    edit(garden, scene, size)


@sizes
def test_what_was_not_written_is_offered_again(
    garden: Path, golden: Golden, size: tuple[int, int]
) -> None:
    async def coming_back(walk: Walk) -> None:
        await walk.shows("Changes that were not written")
        golden.check(walk.app, "edit-left")
        await walk.press("escape")  # nothing is dropped by a key too many
        await walk.shows("Changes that were not written")
        await walk.press("1", "enter")
        await walk.shows("1 change not written yet")
        await walk.shows("2.22 ohm -> 3.21 ohm")

    before = garden.read_bytes()
    edit(garden, leaving, size)
    edit(garden, coming_back, size)
    assert garden.read_bytes() == before


@sizes
def test_a_file_that_another_program_changed(
    garden: Path, golden: Golden, size: tuple[int, int]
) -> None:
    other = garden.read_text("utf-8").replace('"140 ft"', '"150 ft"') + "# mine\n"

    async def scene(walk: Walk) -> None:
        await walk.shows("no value changed")
        await lengthened(walk)
        garden.write_text(other, encoding="utf-8")
        await walk.menu("Write 1 change")
        await walk.shows("The file is another by now")
        golden.check(walk.app, "edit-file-changed")
        await walk.choose("Back")
        assert garden.read_text("utf-8") == other
        await walk.menu("Write 1 change")
        await walk.choose("Write this one")
        await walk.shows("is kept in")

    edit(garden, scene, size)
    (kept,) = garden.parent.glob("garden.other-*.toml")
    assert kept.read_text("utf-8") == other
    assert "295 ft" in garden.read_text("utf-8")


@sizes
def test_going_on_says_first_what_of_another_programs_change_goes(
    garden: Path, golden: Golden, size: tuple[int, int]
) -> None:
    other = garden.read_text("utf-8").replace('"140 ft"', '"150 ft"')

    async def coming_back(walk: Walk) -> None:
        await walk.shows("cable to B2, length: 150 ft -> 140 ft")
        golden.check(walk.app, "edit-left-of-another")
        await walk.choose("put them beside it")
        await walk.shows("Put beside the file")

    edit(garden, leaving, size)
    garden.write_text(other, encoding="utf-8")
    edit(garden, coming_back, size)
    assert garden.read_text("utf-8") == other


def test_a_file_that_is_gone_is_written_again_from_what_was_kept(
    garden: Path, tmp_path: Path
) -> None:
    """The real command: at first it is left as it is, then gone on with, and written."""
    command = [sys.executable, "-m", "commission", "edit", str(garden)]
    env = user_env(tmp_path)

    def opened() -> Terminal:
        return Terminal(command, env=env, cwd=tmp_path)

    terminal = opened()
    terminal.wait_for("no value changed")
    terminal.press("down", "enter")
    terminal.wait_for("Change at B1")
    terminal.press("1", "enter")
    terminal.wait_for("Length, with its unit")
    terminal.press("enter", *["backspace"] * 6, "91 ft", "enter", "enter", "enter")
    terminal.wait_for("1 change not written yet")
    terminal.kill()
    garden.unlink()

    terminal = opened()
    terminal.wait_for("Leave; all stays as it is")
    assert "working-copy.toml" in "".join(line.strip() for line in terminal.lines)
    terminal.press("ctrl+q")  # as good as to leave it all as it is
    assert terminal.wait_end() == 0
    terminal = opened()
    terminal.wait_for("Leave; all stays as it is")
    terminal.press("2", "enter")
    assert terminal.wait_end() == 0
    assert not garden.exists()

    garden.write_text("[[pa", encoding="utf-8")
    terminal = opened()
    terminal.wait_for("is not valid TOML")
    terminal.press("1", "enter")
    terminal.wait_for("1 change not written yet")
    terminal.press("esc")
    terminal.wait_for("Write 1 change")
    terminal.press("1", "enter")
    terminal.wait_for("The file is another by now")
    terminal.press("2", "enter")
    terminal.wait_for("is kept in")
    terminal.press("enter")
    terminal.wait_for("as it is on disk")
    terminal.press("ctrl+q")
    assert terminal.wait_end() == 0
    assert '"91 ft"' in garden.read_text("utf-8")
    (kept,) = garden.parent.glob("garden.other-*.toml")
    assert kept.read_text("utf-8") == "[[pa"


def test_what_is_refused_keeps_what_was_typed(garden: Path) -> None:
    async def scene(walk: Walk) -> None:
        await walk.shows("no value changed")
        await walk.press("down", "enter")
        await walk.shows("Change at B1")
        await walk.press("1", "enter")
        await walk.shows("Length, with its unit")
        await walk.finish(length="many")
        await walk.shows("does not start with a number")
        await walk.finish(length="85 ft")
        await walk.shows("this is drawn so already")
        await walk.finish(length="85 ft", by="tape")
        await walk.shows("85 ft by tape")

    edit(garden, scene)


def test_each_function_of_the_menu_keeps_its_number(garden: Path) -> None:
    numbers = [
        "1  Write", "2  Take back", "3  Do again", "4  Go to a station",
        "5  All changes since the file", "6  Leave",
    ]  # fmt: skip

    async def in_menu(walk: Walk, *words: str) -> None:
        await walk.press("escape")
        await walk.shows("6  Leave")
        assert all(one in walk.text for one in (*numbers, *words)), walk.text

    async def scene(walk: Walk) -> None:
        nothing = "Write: nothing yet", "Take back: nothing yet", "Do again: nothing yet"
        await in_menu(walk, *nothing)
        for number in ("1", "2", "3"):
            await walk.press(number, "enter")
            await walk.shows("as it is on disk")
            await walk.press("escape")
        await walk.press("escape")
        await lengthened(walk)
        await in_menu(walk, "Write 1 change", "Take back: path A", "Do again: nothing yet")
        await walk.press("2", "enter")
        await walk.shows("as it is on disk")
        await in_menu(walk, "Write: nothing yet", "Take back: nothing yet", "Do again: path A")
        await walk.press("3", "enter")
        await walk.shows("1 change not written yet")

    edit(garden, scene)


@pytest.mark.parametrize(
    ("place", "what", "lines", "key", "words"),
    [
        ("B4", "Another length", {"length": "0.0001 m"}, "length", "a cable has 4 in to 65600 ft"),
        ("B4", "Another length", {"length": "9 km", "by": "feet"}, "by", "none of those offered"),
        ("B4", "Another length", {"length": "90 km"}, "length", "a cable has 4 in to 65600 ft"),
        ("B4", "Another cable", {"cable": "24 AWG"}, "cable", "take a kind by its number"),
        ("B4", "in the middle", {"first": "1 ft", "second": "1"}, "second", "a unit is missing"),
        ("B4", "More cable", {"length": "9 m", "id": "b3"}, "id", "there is a box b3 already"),
        ("B4", "A new station", {"number": "3"}, "number", "there is a station 3 in box B3"),
        ("B4", "A new station", {"address": "103"}, "address", "station 3 in box B3 has this"),
        ("B4", "A new station", {"count": "2"}, "count", "switches 1 at most"),
        ("B4", "A new station", {"id": "s1"}, "id", "another station has this id"),
        ("3", "Address, decoder", {"address": "104"}, "address", "station 4 in box B4 has this"),
        ("3", "Address, decoder", {"number": "4"}, "number", "there is a station 4 in box B4"),
        ("3", "Address, decoder", {"decoder": "x"}, "decoder", "none of those offered"),
        ("3", "Its address swapped", {"other": "3"}, "other", "there is no other station 3"),
        ("3", "Move the station", {"box": "B3"}, "box", "it is drawn there already"),
    ],
)
def test_what_cannot_be_is_said_at_its_line(
    garden: Path, place: str, what: str, lines: dict[str, str], key: str, words: str
) -> None:
    async def scene(walk: Walk) -> None:
        await at(walk, place, what)
        await walk.finish(**lines)
        await walk.shows(words)
        focused = walk.app.screen.focused
        assert focused is not None
        assert focused.id == f"line-{key}"

    edit(garden, scene, LARGE)


def test_a_station_and_a_box_made_another_by_keys(garden: Path) -> None:
    async def scene(walk: Walk) -> None:
        await at(walk, "3", "Address, decoder")
        for words in ("203", "", "", "", "33", "Plums", "Rose bed"):
            await walk.press("enter", *([words] if words else []))
        await walk.press("enter", "enter")
        await walk.shows("station 3: number 3, address 103, waters Roses")
        await at(walk, "B3", "where the box lies")
        await walk.finish(location="By the pond")
        await walk.menu("Write 2 changes")
        await walk.shows("as it is on disk")

    edit(garden, scene, LARGE)
    site = load_site(garden)
    (station,) = [one for one in site.station if one.id == "S3"]
    found = station.number, station.address, station.waters, station.label, station.decoder
    assert found == (33, 203, "Plums", "Rose bed", "single")
    places = {box.id: box.location for box in site.path[0].box}
    assert places["B3"] == "By the pond"


def test_all_since_the_file_and_the_last_change_are_told_apart(garden: Path) -> None:
    async def scene(walk: Walk) -> None:
        await walk.shows("no value changed")
        await lengthened(walk)
        await lengthened(walk, "95 ft")
        await walk.shows("3.21 ohm -> 2.22 ohm")
        await walk.press("2")
        await walk.until(lambda: "3.21 ohm" not in walk.text and "changed" in walk.text)
        assert "[2 all since the file]" in walk.text

    edit(garden, scene)


def test_a_large_site_is_drawn_line_by_line_and_a_search_is_given_up(tmp_path: Path) -> None:
    """A change made while the values of the one before are looked for ends that search."""
    path = tmp_path / "large.toml"
    path.write_bytes(samples()["sixty-boxes"].read_bytes())
    edition = Edition(path, Disk(), clock())
    first = edition.version.site.path[0].segment[3].to_box
    for n in range(1, 6):
        edition.change(Length(edition.version.site.path[0].id, first, f"{100 + n} ft"))
    edition.write()
    app = EditApp(edition)

    async def scene(walk: Walk) -> None:
        for _ in range(4):
            await walk.menu("Take back")
        await walk.menu("Do again")
        await walk.shows("changed")
        assert "102 ft" in edition.version.text

    play_in(app, scene)
    edition.close()


def test_hostile_labels_stay_text(garden: Path) -> None:
    """What is typed as a label is drawn as it is: no markup, nothing that steers the terminal."""
    labels = ("[@click=app.leave]x[/]", "a[/]b", "$fail [bold]", "\u05d0\u05d1 \u6f22\u5b57")

    async def scene(walk: Walk) -> None:
        for place, label in zip(("B1", "B2", "B3", "2"), labels, strict=True):
            await walk.press("escape")
            await walk.choose("Go to a station")
            await walk.finish(place=place)
            await walk.press("enter")
            await walk.shows("Change at")
            await walk.choose("label")
            await walk.until(lambda: isinstance(walk.app.screen, FormScreen), "the form")
            await walk.finish(label=label)
            await walk.shows(f"label {label}" if label.isascii() else label[:2])
        for label in labels[:3]:
            assert label in walk.text
        await walk.menu("Take back")
        await walk.menu("All changes since the file")
        await walk.shows(f"box B3: label not told -> label {labels[2]}")

    edit(garden, scene, LARGE)


def test_a_change_survives_a_dead_battery(garden: Path, tmp_path: Path) -> None:
    """The real program in a terminal, ended by SIGKILL as soon as it says that a change counts."""
    before, command = garden.read_bytes(), [sys.executable, "-m", "commission", "edit", str(garden)]
    env = user_env(tmp_path)
    for changes in (1, 2):
        terminal = Terminal(command, env=env, cwd=tmp_path)
        try:
            if changes == 1:
                terminal.wait_for("no value changed")
            else:
                terminal.wait_for("Changes that were not written")
                terminal.press("1", "enter")
                terminal.wait_for("1 change not written yet")
            terminal.press("down", "enter")
            terminal.wait_for("Change at B1")
            terminal.press("1", "enter")
            terminal.wait_for("Length, with its unit")
            # The box and how it was taken stay as offered; the length is typed anew.
            terminal.press(
                "enter", *["backspace"] * 6, f"{90 + changes} ft", "enter", "enter", "enter"
            )
            terminal.wait_for(f"{changes} change{'s' if changes == 2 else ''} not written yet")
        finally:
            terminal.kill()
    assert garden.read_bytes() == before
    terminal = Terminal(command, env=env, cwd=tmp_path)
    try:
        terminal.wait_for("2 changes kept")
        terminal.press("1", "enter")
        terminal.wait_for("2 changes not written yet")
        terminal.press("esc")
        terminal.wait_for("Write 2 changes into garden.toml")
        terminal.press("1", "enter")
        terminal.wait_for("as it is on disk")
        terminal.press("ctrl+q")
        assert terminal.wait_end() == 0
    finally:
        if not terminal.ended:
            terminal.kill()
    assert '"92 ft"' in garden.read_text("utf-8")
