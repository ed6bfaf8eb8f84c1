"""The form of a new site: questions, what they come to, the file; by keys, as golden screens."""

from __future__ import annotations

from pathlib import Path

import pytest

from commission.authoring.draft import Kinds
from commission.host import Disk
from commission.site.load import load_site
from commission.tui import new_app
from commission.tui.new_app import NewApp, Written
from tests.tui.golden import Golden
from tests.tui.walking import LARGE, SMALL, Walk, play_in

sizes = pytest.mark.parametrize("size", [SMALL, LARGE], ids=["80x24", "120x40"])


async def answered(walk: Walk, spacing: str) -> None:
    """Fill the form in from its first line to that of the spacing."""
    for line in ("Corner garden", "", "", "2", "", "6", spacing):
        await walk.press(*([line] if line else []), "enter")


@sizes
def test_a_site_from_a_few_answers(tmp_path: Path, golden: Golden, size: tuple[int, int]) -> None:
    path = tmp_path / "garden.toml"

    async def scene(walk: Walk) -> None:
        await walk.shows("Name of the site")
        golden.check(walk.app, "new-questions")
        await answered(walk, "far")
        await walk.press(*["enter"] * 5)
        await walk.shows("does not start with a number")
        assert not path.exists()
        await walk.press(*["backspace"] * 3)
        await walk.press("150 ft")
        await walk.press(*["enter"] * 6)
        await walk.shows("The farthest end is A6 on path A: 900 ft of cable")
        golden.check(walk.app, "new-comes-to")
        await walk.press("1", "enter")

    app = NewApp(path, Kinds(), Disk())
    play_in(app, scene, size)
    assert app.return_value == Written(path)
    assert len(load_site(path).station) == 12


def test_going_back_keeps_the_answers_and_writes_nothing(tmp_path: Path) -> None:
    path = tmp_path / "garden.toml"

    async def scene(walk: Walk) -> None:
        await answered(walk, "45 m")
        await walk.press(*["enter"] * 5)
        await walk.shows("What it comes to")
        await walk.press("2", "enter")
        await walk.shows("Corner garden")
        await walk.press("escape", "enter")

    app = NewApp(path, Kinds(), Disk())
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
        await walk.press(*["enter"] * 5)
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

    app = NewApp(path, Kinds(), Disk())
    play_in(app, scene, size)
    assert app.return_value is not None
    assert app.return_value.kept is not None
    assert app.return_value.kept.read_text("utf-8") == "mine"
    assert len(load_site(path).station) == 12
    assert len(list(tmp_path.iterdir())) == 2
