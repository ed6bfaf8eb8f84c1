"""Every kind of job by keys, from an empty folder to a signed report, on sites made on the way."""

from __future__ import annotations

import io
import json
import sys
from collections.abc import Callable
from datetime import datetime, timedelta
from functools import partial
from hashlib import sha256
from pathlib import Path
from typing import Any

import pytest
from textual.screen import Screen

from commission import cli
from commission.authoring.draft import Kinds
from commission.authoring.station_list import parse
from commission.checklist.plan import Step
from commission.editing.edition import Edition
from commission.host import Disk
from commission.opening import open_job
from commission.session import Session
from commission.site.load import load_site
from commission.tui.edit_app import EditApp
from commission.tui.new_answers import Evenly
from commission.tui.new_app import NewApp
from commission.tui.new_listed import Listed, Offered
from commission.tui.screens.form import FormScreen
from commission.tui.widgets.pick_input import PickInput
from commission.user.instruments import remember_instrument
from tests.survey.ground import grounds, shown
from tests.tui.walking import SMALL, Walk, play, play_in
from tests.walks import METER, OBSERVER, START, WRITER, first_open, good_answer

INSPECTOR = "Ines Look"  # invented
LIST = b"""\
Zone;Path;Valve box;From;Length (ft);Wire;Area
1;A;A1;output;120;14 AWG;Herb beds
2;A;A2;A1;90;14 AWG;Lawn
"""
Output = pytest.CaptureFixture[str]


class Site:
    """An empty folder that a site and its jobs come to stand in, and days that pass."""

    def __init__(self, folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
        self.folder = folder
        self.file = folder / "garden.toml"
        self.now = START
        self._monkeypatch = monkeypatch

    def clock(self) -> datetime:
        """Ten seconds later at every look."""
        self.now += timedelta(seconds=10)
        return self.now

    def at_computer_of(self, name: str) -> None:
        """Sit at the computer of somebody, where the key and the instruments are theirs."""
        self._monkeypatch.setenv("COMMISSION_HOME", str(self.folder / "computers" / name))
        remember_instrument(METER)

    def list_taken_in(self, bundle: str = "") -> None:
        """Let the site file be made from an estimator's list by the forms, on new or old cable."""
        listed = Listed(parse(LIST, "list.csv"), Kinds(), Offered("Corner garden", "US"))

        async def scene(walk: Walk) -> None:
            await walk.shows("How the list was understood")
            await fill_by_keys(walk, bundle=bundle)
            await walk.shows("Rated volts of the two-wire output")
            await fill_by_keys(walk)
            await walk.shows("The farthest end is A2 on path A: 210 ft of cable")
            await walk.press("1", "enter")

        play_in(NewApp(self.file, listed, Disk()), scene, SMALL)

    def station_drawn(self) -> None:
        """Draw cable, a box and a station behind box A2 by keys, and write it into the file."""

        async def change(walk: Walk, place: str, what: str, **lines: str) -> None:
            await walk.menu("Go to a station")
            await walk.shows("Go there")
            await fill_by_keys(walk, place=place)
            await walk.press("enter")
            await walk.shows("Change at")
            await walk.choose(what)
            await walk.until(lambda: isinstance(walk.app.screen, FormScreen), "the form")
            await fill_by_keys(walk, **lines)

        async def scene(walk: Walk) -> None:
            await walk.shows("no value changed")
            await change(walk, "A2", "More cable", id="A3", length="60 ft")
            await change(walk, "A3", "A new station")
            await walk.shows("2 changes not written yet")
            await walk.menu("Write 2 changes")
            await walk.shows("as it is on disk")
            await walk.press("ctrl+q")

        edition = Edition(self.file, Disk(), self.clock)
        try:
            play_in(EditApp(edition), scene, SMALL)
        finally:
            edition.close()

    def opened(self, target: Path, kind: str) -> Session:
        """Open a job another day, nobody named yet."""
        self.now += timedelta(days=1)
        return open_job(target, kind=kind, disk=Disk(), now=self.clock)

    def walked(self, target: Path, kind: str, who: str = WRITER) -> Path:
        """Walk a job of a kind to its end by keys, and sign it; returns the report."""
        session = self.opened(target, kind)

        async def scene(walk: Walk) -> None:
            await name_people(walk, who)
            while (step := first_open(session)) is not None:
                await answer_by_keys(walk, step, good_answer)
            await walk.shows("Every step has been gone through")
            await sign_by_keys(walk)

        play(session, scene, SMALL)
        assert session.job.header.job_kind == kind
        return session.job.folder / "report.toml"


@pytest.fixture
def site(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Site:
    """An empty folder, at the installer's computer."""
    made = Site(tmp_path / "site", monkeypatch)
    made.folder.mkdir()
    made.at_computer_of(WRITER)
    return made


async def fill_by_keys(walk: Walk, **texts: str) -> None:
    """Go through the form on the screen by Enter, and type into its empty lines."""
    form = walk.app.screen
    while isinstance(line := form.focused, PickInput):
        text = texts.get((line.id or "").removeprefix("line-"), "")
        walk.send(*([] if line.value else [text]), "enter")
        await walk.soon(partial(moved_on, form, line), "the next line")
    walk.send("enter")
    await walk.until(lambda: walk.app.screen is not form, "the end of the form")


def moved_on(form: Screen[Any], line: PickInput) -> bool:
    """Whether another place of a form has the cursor."""
    return form.focused not in (None, line)


async def name_people(walk: Walk, who: str) -> None:
    """Fill in the form that a new job begins with."""
    await walk.shows("Who enters the readings here")
    await walk.press(who, "enter", OBSERVER, "enter", METER.id, "enter", "enter")
    await walk.shows("step 1 of")


async def answer_by_keys(walk: Walk, step: Step, reading: Callable[[Session, Step], str]) -> None:
    """Keep what is proposed at the step on the screen, or type what was read."""
    session = walk.session
    before = len(session.job.state.entries)
    await walk.soon(lambda: walk.walk.step_id == step.id, step.title)
    walk.send(*([] if walk.typed else [reading(session, step)]), "enter")
    if step.item.hidden_later:
        await walk.shows("This will be hidden later")
        await fill_by_keys(walk, photo="photo 12")
    await walk.soon(lambda: len(session.job.state.entries) > before, f"an answer to {step.id}")


async def sign_by_keys(walk: Walk) -> None:
    """Sign through the menu, keeping what the form proposes."""
    await walk.menu("Sign and save the report")
    await fill_by_keys(
        walk,
        company="Example Irrigation (invented)",
        licence="L-1",
        decision="countersign",
        accept="yes",
    )
    await walk.until(lambda: walk.session.job.signed, "the signed report")


def known(monkeypatch: pytest.MonkeyPatch, report: Path, *numbers: int) -> None:
    """Take in the keys of a report's sign-offs, their fingerprints heard."""
    for number in numbers:
        monkeypatch.setattr(sys, "stdin", io.StringIO("yes\n"))
        assert cli.main(["signers", "--know", str(report), "--number", str(number)]) == 0


def reviewed(capsys: Output, report: Path) -> dict[str, Any]:
    """What `commission review` tells of a report in which it finds nothing."""
    capsys.readouterr()
    code = cli.main(["review", "--json", str(report)])
    (told,) = json.loads(capsys.readouterr().out)["reports"]
    assert (code, told["findings"]) == (0, [])
    assert told["state"] == "sound"
    return dict(told)


def test_new_then_added_inspected_and_checked_again(
    site: Site, monkeypatch: pytest.MonkeyPatch, capsys: Output
) -> None:
    site.list_taken_in()
    new = site.walked(site.file, "new")
    known(monkeypatch, new, 1)
    assert reviewed(capsys, new)["verdict"] == "accepted"

    site.station_drawn()
    added = site.walked(new, "added")
    told = reviewed(capsys, added)
    assert (told["job_kind"], told["verdict"]) == ("added stations", "accepted")
    assert told["follows"] == sha256(new.read_bytes()).hexdigest()

    site.at_computer_of(INSPECTOR)
    inspected = site.walked(added, "inspection", INSPECTOR)
    assert inspected.read_bytes().startswith(added.read_bytes())
    known(monkeypatch, inspected, 1, 2)
    told = reviewed(capsys, inspected)
    assert [one["signs_as"] for one in told["signoffs"]] == ["installer", "inspector"]
    assert told["signoffs"][1]["decision"] == "countersigned"
    assert told["signoffs"][1]["name"] == INSPECTOR

    site.at_computer_of(WRITER)
    known(monkeypatch, inspected, 2)
    again = site.walked(inspected, "recheck")
    told = reviewed(capsys, again)
    assert (told["job_kind"], told["verdict"]) == ("periodic recheck", "accepted")
    assert told["follows"] == sha256(inspected.read_bytes()).hexdigest()


def test_converted_from_the_old_bundle_on(
    site: Site, monkeypatch: pytest.MonkeyPatch, capsys: Output
) -> None:
    """A survey writes the site file with its pairs; the job on that file is signed."""
    site.list_taken_in("white, red, blue")
    session = site.opened(site.file, "converted")
    ground = grounds(session)
    ground["A2"].breaks["red"] = 0.5

    def read(session: Session, step: Step) -> str:
        surveyed = step.id.startswith("bundle/") and step.item.answer == "measure"
        return shown(ground[step.target.box], step) if surveyed else good_answer(session, step)

    async def scene(walk: Walk) -> None:
        await name_people(walk, WRITER)
        begun = False
        while (step := first_open(session)) is not None:
            if begun and not step.id.startswith("bundle/"):
                break
            begun = step.id.startswith("bundle/")
            await answer_by_keys(walk, step, read)
        await walk.menu("The old bundle")
        await walk.choose("Write the site file")
        await fill_by_keys(walk)
        await walk.shows("Written:")

    play(session, scene, SMALL)
    (paired,) = site.folder.glob("*-pairs.toml")
    pairs = [pair.conductors for pair in load_site(paired).pair]
    assert pairs == [("white", "red"), ("white", "blue")]
    report = site.walked(paired, "converted")
    known(monkeypatch, report, 1)
    told = reviewed(capsys, report)
    assert (told["job_kind"], told["verdict"]) == ("converted cable", "accepted")


def test_a_site_made_by_the_form(
    site: Site, monkeypatch: pytest.MonkeyPatch, capsys: Output
) -> None:
    async def scene(walk: Walk) -> None:
        await walk.shows("Name of the site")
        for line in ("Corner garden", "", "", "1", "", "2", "100 ft"):
            await walk.press(*([line] if line else []), "enter")
        await walk.press(*["enter"] * 6)
        await walk.shows("Rated volts of the two-wire output")
        await walk.press(*["enter"] * 7)
        await walk.shows("The farthest end is A2 on path A: 200 ft of cable")
        await walk.press("1", "enter")

    play_in(NewApp(site.file, Evenly(Kinds()), Disk()), scene, SMALL)
    report = site.walked(site.file, "new")
    known(monkeypatch, report, 1)
    told = reviewed(capsys, report)
    assert (told["site"], told["verdict"]) == ("Corner garden", "accepted")
