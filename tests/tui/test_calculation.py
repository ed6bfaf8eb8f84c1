"""How an expected value came about, on the screen, on the sheet and in the report."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import pytest

from commission.commands.expect_sheet import text
from commission.report.sections import expectation_tables
from commission.session import Session
from commission.tui.screens.calculation import calculation
from tests.tui.walking import LARGE, Walk, play
from tests.walks import answer, begin, first, walk_until


@pytest.fixture
def session(tmp_path: Path) -> Iterator[Session]:
    found = begin(tmp_path, "small-garden")
    yield found
    found.close()


# Two rods of 8 ft x 5/8 in, 12 ft apart, in 55 ohm m, by hand: R1 = 55/(2 pi 2.4384) x (ln(4 x
# 2.4384/0.0079375) - 1) = 3.5899 x 6.1138 = 21.948 ohm; x = 4.8768/3.6576 = 1.3333, asinh x -
# sqrt(1 + 1/x²) + 1/x = 1.0986 - 1.25 + 0.75 = 0.5986; R = (21.948 + 2.149)/2 = 12.05 ohm.
SHOWN = (
    "12.0 ohm", "55.0 ohm m, ±30 %", "length 8.00 ft, diameter 0.625 in, spacing 12.0 ft",
    "ln(4L/a)", "Dwight", "may or may not be met", "1 rod more of the same kind",
    "locate buried services", "auxiliary (250.54)", "local code decides",
)  # fmt: skip


@pytest.mark.parametrize("words", SHOWN)
def test_the_limit_of_the_earth_shows_what_the_electrodes_should_give(
    session: Session, words: str
) -> None:
    step = first(session, lambda step: step.item.compare == "earth-resistance")
    limit = session.job.expectation(step)
    assert limit is not None
    shown = calculation(step, limit).plain
    assert "at most 10.0 ohm" in shown
    assert words in shown
    assert words in " ".join(text(session.job.sheet).split())


def test_the_doubt_in_a_temperature_is_no_temperature(session: Session) -> None:
    """±8 K, rectangular: u = 8 K/sqrt(3) = 4.619 K, in degrees Fahrenheit x 9/5 = 8.314."""
    step = first(session, lambda step: step.item.compare == "soil-temperature")
    soil = session.job.expectation(step)
    assert soil is not None
    assert "together u = 8.3 °F; range" in calculation(step, soil).plain


def test_the_report_has_the_estimate_beside_the_limit(session: Session) -> None:
    walk_until(session, first(session, lambda step: step.item.compare == "earth-resistance"))
    (limit,) = (one for one in expectation_tables(session.job) if one["name"] == "earth-resistance")
    assert limit["value_ohm"] == 10.0
    assert limit["estimate"]["value_ohm"] == pytest.approx(12.05, abs=0.005)
    assert limit["estimate"]["low_ohm"] < 10 < limit["estimate"]["high_ohm"]
    assert len(limit["estimate"]["budget"]) == 2


def test_the_range_of_what_is_told_at_best_is_explained(session: Session) -> None:
    step = first(session, lambda step: step.item.compare == "earth-resistance")
    limit = session.job.expectation(step)
    assert limit is not None
    assert limit.estimate is not None
    assert "range = ± 2u" in calculation(step, limit).plain
    lifted = replace(limit.estimate, high=40.0)
    shown = calculation(step, replace(limit, estimate=lifted)).plain
    assert "to what the best of them gives alone" in shown
    assert "range = ± 2u" not in shown


def test_any_calculation_can_be_read_and_its_step_gone_to(session: Session) -> None:
    """From a step without one to the next that has one, to the one after, and to that step."""
    job = session.job
    computed = [s.step for s in job.statuses.values() if job.expectation(s.step) is not None]
    assert job.expectation(job.plan.steps[0]) is None

    async def scene(walk: Walk) -> None:
        walk.walk.show_step(job.plan.steps[0].id)
        await walk.press("ctrl+g")
        await walk.shows(f"Calculation 1 of {len(computed)}")
        await walk.shows(computed[0].title)
        await walk.press("right")
        await walk.shows(f"Calculation 2 of {len(computed)}")
        await walk.press("left", "left")
        await walk.shows(f"Calculation {len(computed)} of {len(computed)}")
        await walk.press("escape")
        assert walk.walk.step_id == job.plan.steps[0].id
        await walk.press("ctrl+g")
        await walk.press("right", "enter")
        assert walk.walk.step_id == computed[1].id

    play(session, scene)


def test_what_was_read_stands_below_the_calculation(session: Session) -> None:
    loop = first(session, lambda step: step.item.compare == "loop-resistance")
    walk_until(session, loop)
    answer(session, loop, "11.6")

    async def scene(walk: Walk) -> None:
        await walk.go(loop)
        await walk.press("ctrl+g")
        await walk.shows("Read      11.6  x fail  9.3 ohm above the range")

    play(session, scene, LARGE)
