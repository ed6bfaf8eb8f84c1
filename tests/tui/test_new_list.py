"""A new site from a list, by forms: how it was understood, its supply by plates, and the file."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from commission import cli
from commission.authoring.draft import Kinds
from commission.authoring.station_list import parse
from commission.commands import open as open_command
from commission.host import Disk
from commission.problems import InputRefused
from commission.site.load import load_site
from commission.tui import new_app
from commission.tui.new_app import NewApp
from commission.tui.new_listed import Listed, Offered
from commission.tui.new_questions import Questions
from tests.tui.golden import Golden
from tests.tui.test_new import supplied
from tests.tui.walking import LARGE, SMALL, Walk, play_in

LIST = """\
Zone;Code;Terminals;Run;Valve box;Fed from;Cable length (m);Wire;Coils;Area
1;101;1;A;A1;output;40;2.5 mm²;1;Herb beds
2;102;1;A;A2;A1;55,5;2.5 mm²;2;Lawn
3;201;North;B;B1;output;120;14 AWG;1;Orchard
"""
# The same site, typed with an editor. 27 V with nothing connected over 24 V rated are 12.5 % more.
BY_HAND = """\
kind = "commission site"
format = 1
[site]
name = "Corner garden"
units = "SI"
frequency = "50 Hz"
[controller]
description = "Two-wire controller"
[earth]
limit = "10 ohm"
conductor = "16 mm²"
[supply]
nominal_voltage = "240 V"
[[output]]
id = "1"
rated_voltage = "24 V"
rated_current = "2.5 A"
regulation = "12.5 %"
stations_at_once = 2
[[output]]
id = "North"
rated_voltage = "25 V"
rating = "40 VA"
open_circuit_voltage = "26 V"
source_resistance = "0.8 ohm"
stations_at_once = 2
[solenoid_kind.coil]
inrush_current = "0.37 A"
holding_current = "0.19 A"
min_voltage = "20 V"
[decoder_kind.for-one]
standby_current = "3 mA"
[decoder_kind.for-two]
solenoids = 2
standby_current = "3 mA"
[cable_kind.metric]
conductor = "2.5 mm²"
[cable_kind.gauge]
conductor = "14 AWG"
[[path]]
id = "A"
output = "1"
cable = "metric"
length_by = "drawing"
segment = [
    { from = "output", to = "A1", length = "40 m" },
    { from = "A1", to = "A2", length = "55.5 m" },
]
[[path]]
id = "B"
output = "North"
cable = "gauge"
length_by = "drawing"
segment = [{ from = "output", to = "B1", length = "120 m" }]
[[station]]
id = "S1"
number = 1
address = 101
path = "A"
box = "A1"
decoder = "for-one"
solenoid = [{ id = "V1", kind = "coil" }]
[[station]]
id = "S2"
number = 2
address = 102
path = "A"
box = "A2"
decoder = "for-two"
solenoid = [{ id = "V2a", kind = "coil" }, { id = "V2b", kind = "coil" }]
[[station]]
id = "S3"
number = 3
address = 201
path = "B"
box = "B1"
decoder = "for-one"
solenoid = [{ id = "V3", kind = "coil" }]
"""
Output = pytest.CaptureFixture[str]
sizes = pytest.mark.parametrize("size", [SMALL, LARGE], ids=["80x24", "120x40"])


def app_of(path: Path, text: str = LIST, own: Kinds | None = None) -> NewApp:
    """The forms for a list that measures in metres."""
    own, listed = own or Kinds(), parse(text.encode("utf-8"), "list.csv")
    return NewApp(path, Listed(listed, own, Offered("Corner garden", "SI")), Disk())


def expected_of(path: Path, capsys: Output) -> object:
    """Every number that is expected of a site."""
    capsys.readouterr()
    assert cli.main(["expect", str(path), "--json"]) == 0
    return json.loads(capsys.readouterr().out)


@sizes
def test_a_list_and_the_plates_give_what_a_file_by_hand_gives(
    tmp_path: Path, golden: Golden, size: tuple[int, int], capsys: Output
) -> None:
    path = tmp_path / "garden.toml"

    async def scene(walk: Walk) -> None:
        await walk.shows("How the list was understood")
        golden.check(walk.app, "new-from-a-list")
        await walk.press("enter", "enter", "2", *["enter"] * 5)
        await walk.shows("The supply, and the transformer of output 1")
        await supplied(walk, (0, "240 V"), (3, "2.5 A"), (4, "27 V"), (6, "2"))
        await walk.shows("The transformer of output North")
        await supplied(walk, (0, "25 V"), (1, "40 VA"), (2, "26 V"), (3, "0.8 ohm"))
        await walk.shows("Output North, the most that may run: pass")
        golden.check(walk.app, "new-from-a-list-comes-to")
        assert "the transformer" not in walk.text
        await walk.press("1", "enter")

    play_in(app_of(path), scene, size)
    by_hand = tmp_path / "by-hand.toml"
    by_hand.write_text(BY_HAND, "utf-8")
    assert expected_of(path, capsys) == expected_of(by_hand, capsys)
    assert load_site(path).output == load_site(by_hand).output


def test_options_give_the_same(tmp_path: Path, capsys: Output) -> None:
    given, by_hand, path = (tmp_path / name for name in ("list.csv", "hand.toml", "garden.toml"))
    given.write_text(LIST, "utf-8")
    by_hand.write_text(BY_HAND, "utf-8")
    words = ["--mains", "240 V", "--transformer", "24 V; 2.5 A; 27 V"]
    words += ["--transformer", "25 V; 40 VA; 26 V; 0.8 ohm", "--at-once", "2", "--yes"]
    new = ["new", str(path), "--from", str(given), "--name", "Corner garden", *words]
    assert cli.main(new) == 0
    assert "the transformer" not in capsys.readouterr().out
    assert expected_of(path, capsys) == expected_of(by_hand, capsys)


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (["--transformer", "240 V"], "--transformer: an output has 1 to 50 V a.c."),
        (["--transformer", "24 V; 60 VA; 12 %; 1 ohm; 5"], "set apart by semicolons"),
        (["--transformer", "24 V"] * 3, "more of them than outputs, 2"),
        (["--mains", "24 V"], "--mains: mains have 50 to 500 V"),
        (["--mains", "230 V; 16 Hz"], "--mains: mains have 50 Hz or 60 Hz"),
    ],
)
def test_an_option_that_cannot_be_meant_is_refused(
    tmp_path: Path, capsys: Output, words: list[str], said: str
) -> None:
    given, path = tmp_path / "list.csv", tmp_path / "garden.toml"
    given.write_text(LIST, "utf-8")
    assert cli.main(["new", str(path), "--from", str(given), "--yes", *words]) == 2
    assert said in capsys.readouterr().err
    assert not path.exists()


def test_where_nothing_is_known_of_it_that_is_said_before_and_in_the_file(tmp_path: Path) -> None:
    path = tmp_path / "garden.toml"

    async def scene(walk: Walk) -> None:
        await walk.shows("How the list was understood")
        await walk.press(*["enter"] * 7)
        await supplied(walk)
        await walk.shows("the transformer: its voltage, rating and regulation")
        assert "usual data stand in" in walk.text
        await walk.press("1", "enter")

    play_in(app_of(path), scene)
    text = path.read_text("utf-8")
    assert "LOOK AGAIN" in text
    assert "- the transformer: its voltage, rating and regulation" in text


def test_a_cable_is_asked_for_only_where_a_row_names_none(tmp_path: Path) -> None:
    path = tmp_path / "garden.toml"

    async def scene(walk: Walk) -> None:
        await walk.shows("Cable, where the list names none")
        await walk.press(*["enter"] * 3)
        await walk.shows(" 2.5 mm²")
        await walk.press("5 mm²", *["enter"] * 4, "enter")
        await walk.shows("2.5, 4, 6")
        await walk.press(*["backspace"] * 6, "4 mm²", *["enter"] * 5)
        await supplied(walk)
        await walk.shows("What it comes to")
        await walk.press("1", "enter")

    text = LIST.replace("2.5 mm²;2;Lawn", ";2;Lawn")
    play_in(app_of(path, text), scene)
    site = load_site(path)
    (cable,) = (one.cable for one in site.path[0].segment if one.to_box == "A2")
    assert cable
    assert site.cable_kind[cable[0]].conductor == "4 mm²"
    assert "4 mm²" in path.read_text("utf-8")

    asked = [line.key for line in app_of(path)._questions.lines()]
    assert "cable" not in asked


def test_a_decoder_that_is_too_small_for_a_row_is_told_in_the_form(tmp_path: Path) -> None:
    path = tmp_path / "garden.toml"
    own = Kinds(decoder={"small": {"standby_current": "2 mA"}})

    async def scene(walk: Walk) -> None:
        await walk.shows("How the list was understood")
        await walk.press(*["enter"] * 5, "2", "enter", "enter")
        await walk.shows("2 solenoids on a decoder for 1")
        assert not path.exists()
        await walk.press("escape", "enter")

    play_in(app_of(path, own=own), scene)


def test_everything_wrong_in_a_list_is_told_before_any_form() -> None:
    with pytest.raises(InputRefused) as refused:
        app_of(Path("garden.toml"), LIST.replace("55,5", "far").replace("201", "two"))
    assert [one.line for one in refused.value.problems] == [3, 4]


def test_in_a_terminal_the_forms_ask(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Unless the options say it all."""
    given, path = tmp_path / "list.csv", tmp_path / "garden.toml"
    given.write_text(LIST, "utf-8")
    asked: list[tuple[Path, list[str]]] = []

    def ask(path: Path, questions: Questions, _disk: Disk) -> None:
        asked.append((path, [line.value for line in questions.lines()]))

    monkeypatch.setattr(open_command, "has_terminal", lambda: True)
    monkeypatch.setattr(new_app, "ask", ask)
    new = ["new", str(path), "--from", str(given)]
    assert cli.main([*new, "--name", "Corner garden", "--at-once", "3"]) == 0
    usual = "usual data, to be replaced"
    assert asked == [(path, ["Corner garden", "SI", "3", "", usual, usual])]
    assert not path.exists()
    assert cli.main([*new, "--yes"]) == 0
    assert len(asked) == 1
    assert path.exists()
