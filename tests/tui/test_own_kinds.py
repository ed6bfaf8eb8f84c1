"""Kinds of the user's own file: offered by name, copied along, and complete without that file."""

from __future__ import annotations

import json
import tomllib
from pathlib import Path

import pytest

from commission import cli
from commission.editing.edition import Edition
from commission.host import Disk
from commission.resources import samples
from commission.session import Session
from commission.site.load import load_site
from commission.tui.edit_app import EditApp
from commission.tui.screens.form import FormScreen
from commission.user.folder import config_folder
from tests import walks
from tests.tui.golden import Golden
from tests.tui.test_every_kind import answer_by_keys, sign_by_keys
from tests.tui.walking import LARGE, SMALL, Walk, play, play_in

# Invented; the garden's own kinds are "single", "valve-1in" and "pair-14".
KINDS = """\
[solenoid_kind.big-valve]
inrush_current = "0.5 A"
holding_current = "0.25 A"

[decoder_kind.double]
solenoids = 2
standby_current = "4 mA"
note = "for \\"two\\" valves"

[cable_kind.thick]
conductor = "10 AWG"
"""
Output = pytest.CaptureFixture[str]


@pytest.fixture(autouse=True)
def own_kinds() -> Path:
    """The user's file of kinds, in the folder of the test's user."""
    path = config_folder() / "kinds.toml"
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_text(KINDS, "utf-8")
    return path


async def form(walk: Walk) -> None:
    """Wait for a form."""
    await walk.until(lambda: isinstance(walk.app.screen, FormScreen), "the form")


async def new_station_by_keys(walk: Walk) -> None:
    """From the form's first line on: box, number and address as proposed, kinds by number."""
    await form(walk)
    await walk.press("enter", "enter", "enter", "2", "enter", "2", "enter", "2", "enter")
    await walk.press("Plums", "enter", "enter")


def with_own_kinds(folder: Path) -> Session:
    """A job walked to its end, but for what is found out now."""
    session = walks.begin(folder, "small-garden")
    walks.walk_to_the_end(session)
    return session


@pytest.mark.parametrize("size", [SMALL, LARGE], ids=["80x24", "120x40"])
def test_from_the_catalogue_in_a_walk_to_the_next_phase(
    tmp_path: Path,
    golden: Golden,
    size: tuple[int, int],
    monkeypatch: pytest.MonkeyPatch,
    capsys: Output,
) -> None:
    session = with_own_kinds(tmp_path)

    async def scene(walk: Walk) -> None:
        await walk.go(session.job.plan.by_id["path/A/end/B6/loop-resistance"])
        await walk.menu("The ground differs")
        await walk.choose("A station that is not drawn")
        await form(walk)
        golden.check(walk.app, "change-new-station")
        await new_station_by_keys(walk)
        await walk.press("found in the box", "enter", "enter")
        await walk.until(lambda: walk.app.screen is walk.walk, "the walk")
        while (step := session.job.next_to_do()) is not None:
            walk.walk.show_step(step)
            status = session.job.statuses[step]
            if session.job.reasons_against(status.step):
                session.skip(status.step, "the supply stays on")
                walk.walk.refresh_job()
            else:
                await answer_by_keys(walk, status.step, walks.good_answer)
        await sign_by_keys(walk)

    play(session, scene, size)
    report = session.job.folder / "report.toml"
    made = tomllib.loads(report.read_text("utf-8"))
    assert made["inputs"]["decoder_kind"]["double"]["standby_current_a"] == 0.004
    assert "with the data of double and big-valve" in made["change"][0]["after"]
    assert 'note = "for \\"two\\" valves"' in made["change"][0]["redraws"]

    monkeypatch.setenv("COMMISSION_HOME", str(tmp_path / "another computer"))
    capsys.readouterr()
    cli.main(["review", "--json", str(report)])
    (told,) = json.loads(capsys.readouterr().out)["reports"]
    assert told["state"] == "sound"
    assert {one["kind"] for one in told["findings"]} == {"practice", "unknown key"}
    after = tmp_path / "next.toml"
    assert cli.main(["new", str(after), "--from", str(report), "--yes"]) == 0
    assert cli.main(["check", str(after)]) == 0
    assert "# amperes when idle - as it was taken on site" in after.read_text("utf-8")
    site = load_site(after)
    (station,) = [one for one in site.station if one.number == 7]
    assert (station.decoder, station.waters, len(station.solenoid)) == ("double", "Plums", 2)
    assert site.solenoid_kind["big-valve"].inrush_current_a == 0.5
    assert site == session.job.site


@pytest.mark.parametrize("ends", ["\n", "\r\n"], ids=["lf", "crlf"])
def test_copied_into_an_edited_file(tmp_path: Path, ends: str, own_kinds: Path) -> None:
    path = tmp_path / "garden.toml"
    before = samples()["small-garden"].read_text("utf-8").replace("\n", ends)
    path.write_bytes(before.encode())
    edition = Edition(path, Disk(), walks.clock())

    async def scene(walk: Walk) -> None:
        await walk.press("down", "enter")  # box B1
        await walk.choose("A new station")
        await new_station_by_keys(walk)
        await walk.press("enter")
        await walk.shows("1 change not written yet")
        await walk.press("enter")
        await walk.choose("Another cable")
        await form(walk)
        assert "From your kinds.toml, copied along: thick." in walk.text
        await walk.press("enter", "2", "enter", "enter")
        await walk.shows("pair-14 -> thick")
        await walk.menu("Write 2 changes")

    play_in(EditApp(edition), scene)
    edition.close()
    own_kinds.unlink()
    assert cli.main(["check", str(path)]) == 0
    site = load_site(path)
    assert site.decoder_kind["double"].note == 'for "two" valves'
    assert [one.cable for one in site.path[0].segment if one.to_box == "B1"] == [("thick",) * 2]
    text = path.read_bytes().decode()
    line = f'standby_current = "4 mA"        # amperes when idle - your kinds.toml{ends}'
    assert f"[decoder_kind.double]{ends}solenoids = 2" in text
    assert line in text
    assert [one for one in before.splitlines() if one.lstrip().startswith("#")] == [
        one for one in text.splitlines() if one.lstrip().startswith("#")
    ]


def test_what_the_site_has_by_that_name_counts(tmp_path: Path, own_kinds: Path) -> None:
    own_kinds.write_text('[decoder_kind.single]\nstandby_current = "9 mA"\n', "utf-8")
    session = walks.begin(tmp_path, "small-garden")

    async def scene(walk: Walk) -> None:
        await walk.menu("The ground differs")
        await walk.choose("A station that is not drawn")
        await form(walk)
        assert "1 single" in walk.text
        assert "2 single" not in walk.text
        assert "The site's single is another than in your kinds.toml." in walk.text
        await walk.finish(reason="seen")
        await walk.until(lambda: walk.app.screen is walk.walk, "the walk")

    play(session, scene, LARGE)
    assert "decoder_kind" not in session.job.state.entries[-1].redraws
    # Six decoders of 2.5 mA are drawn, and one more of them was found.
    found = session.job.site.decoder_kind["single"].standby_current_a
    assert found * len(session.job.site.station) == pytest.approx(7 * 2.5e-3)


def test_a_file_of_kinds_that_is_wrong_is_told_in_the_form(tmp_path: Path, own_kinds: Path) -> None:
    own_kinds.write_text("[decoder_kind.double]\nstandby_current = 4\n", "utf-8")
    session = walks.begin(tmp_path, "small-garden")

    async def scene(walk: Walk) -> None:
        await walk.menu("The ground differs")
        await walk.choose("A station that is not drawn")
        await form(walk)
        assert "Your kinds.toml is not offered" in walk.text
        assert "1 single" in walk.text
        await walk.back()

    play(session, scene, LARGE)


def test_another_decoder_and_cable_from_the_catalogue_in_a_walk(tmp_path: Path) -> None:
    session = walks.begin(tmp_path, "small-garden")

    async def scene(walk: Walk) -> None:
        await walk.menu("The ground differs")
        await walk.choose("Another address, decoder")
        await form(walk)
        await walk.press("3", "enter", "enter", "2", "enter", "enter", "2", *["enter"] * 4)
        await walk.press("read on its label", "enter", "enter")
        await walk.until(lambda: walk.app.screen is walk.walk, "the walk")
        await walk.menu("The ground differs")
        await walk.choose("More cable")
        await form(walk)
        await walk.press("5", "enter", "20 ft", "enter", "2", *["enter"] * 4)
        await walk.press("dug up", "enter", "enter")
        await walk.until(lambda: walk.app.screen is walk.walk, "the walk")

    play(session, scene)
    site = session.job.site
    (station,) = [one for one in site.station if one.number == 3]
    assert (station.decoder, len(station.solenoid)) == ("double", 2)
    (added,) = [one for one in site.path[0].segment if one.to_box == "B7"]
    assert (added.from_box, added.cable) == ("B4", ("thick", "thick"))
    assert site.cable_kind["thick"].conductor == "10 AWG"
    told = [entry.after for entry in session.job.state.entries if entry.redraws]
    assert told == [
        "decoder double, solenoids 2, with the data of double",
        "box B7, 20 ft on, with the data of thick",
    ]
