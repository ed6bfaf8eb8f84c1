"""The survey of an old bundle by keys: one reading after the other, then the pair."""

from __future__ import annotations

from pathlib import Path

import pytest

from commission.site.load import load_site
from tests.survey.ground import grounds, open_steps, shown, survey
from tests.survey.test_survey import at_survey
from tests.tui.golden import Golden
from tests.tui.walking import LARGE, SMALL, Walk, play

sizes = pytest.mark.parametrize("size", [SMALL, LARGE], ids=["80x24", "120x40"])


@sizes
def test_what_was_found_in_each_section(
    tmp_path: Path, golden: Golden, size: tuple[int, int]
) -> None:
    session = at_survey(tmp_path)
    survey(session, grounds(session))

    async def scene(walk: Walk) -> None:
        await walk.menu("The old bundle")
        await walk.shows("Write the site file")
        golden.check(walk.app, "old-bundle")
        await walk.choose("Read what was found")
        await walk.shows("white and red, loop")
        golden.check(walk.app, "old-bundle-found")
        await walk.press("escape")

    play(session, scene, size)


@sizes
def test_the_walk_asks_for_one_reading_after_the_other_and_names_the_pair(
    tmp_path: Path, golden: Golden, size: tuple[int, int]
) -> None:
    session = at_survey(tmp_path)
    ground = grounds(session)
    ground["G1"].leaks["white"] = 0.4, 800.0

    async def scene(walk: Walk) -> None:
        for step in open_steps(session):
            await walk.shows(step.title)
            if step.item.id == "pair":
                break
            if step.id == "bundle/G/G1/loop/red/blue":
                golden.check(walk.app, "survey-loop")
            text = shown(ground["G1"], step)
            await walk.press(text, "enter")
            await walk.shows(f"entry {len(session.job.state.entries)}")
        golden.check(walk.app, "survey-pair")
        await walk.press("y", "enter")
        await walk.shows("From box G1 to box G2")

    play(session, scene, size)


def test_the_site_file_is_written_by_keys(tmp_path: Path) -> None:
    session = at_survey(tmp_path)
    survey(session, grounds(session))
    new = tmp_path / "with-pairs.toml"

    async def scene(walk: Walk) -> None:
        await walk.menu("The old bundle")
        await walk.choose("Read what was found")
        await walk.shows("white and red, loop")
        await walk.press("escape")
        await walk.menu("The old bundle")
        await walk.choose("Write the site file")
        await walk.shows("This job goes on as it began")
        await walk.finish(file=str(new))
        await walk.shows("Written:")
        await walk.menu("The old bundle")
        await walk.choose("Write the site file")
        await walk.finish(file=str(new))
        await walk.shows("is there already")

    play(session, scene, SMALL)
    assert len(load_site(new).pair) == 3
