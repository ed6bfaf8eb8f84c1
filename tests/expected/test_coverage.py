"""Stated ranges and probabilities against simulated sites; the whole study has 10,000 of them.

`python -m tests.coverage_of_intervals` prints it. Here a few hundred, most from a fixed random
state, some from a new one each time.
"""

from __future__ import annotations

from random import Random, SystemRandom

import pytest

from commission.expected.loops import loop_expectation
from commission.expected.model import on_test_day
from commission.expected.sheet import Sheet
from tests.coverage_of_intervals import (
    MIN_PASSED_TRUE,
    Count,
    at_most,
    groups,
    passed,
    statements,
    study,
)
from tests.expected.random_sites import random_site
from tests.expected.real_site import RealSite

NEVER = 1e-6  # less probable than a test may fail by chance


class Middle(Random):
    """Draws the middle of every interval: the site exactly as drawn."""

    def uniform(self, a: float, b: float) -> float:
        return (a + b) / 2


@pytest.mark.parametrize("state", range(12))
def test_a_site_as_drawn_is_solved_alike_by_other_means(state: int) -> None:
    """Loops by plain sums, networks by numpy's dense nodal analysis: equal where nothing errs."""
    site = random_site(Random(state))
    sheet, real, output = Sheet(site), RealSite(site, Middle()), site.output[0]
    for path in site.path:
        for end in sheet.drawing.trees[path.id].ends():
            expected = loop_expectation(sheet.drawing, path.id, end).value
            assert real.loop_ohm(path, end) == pytest.approx(expected, rel=1e-9)
    day = on_test_day(sheet.drawing, output.id, None)
    together = [sheet.drawing.stations[one] for one in sheet.worst_sets[output.id]]
    for running in ((), (together[-1],), tuple(together)):
        solved, solution = real.solve(output, running), day.solve(running, "holding")
        for place, volt in solved.node_v.items():
            assert volt == pytest.approx(solution.node_v[day.nodes[place]], rel=1e-9)
        for path_id, ampere in solved.path_a.items():
            assert abs(ampere) == pytest.approx(day.path_current_a(solution, path_id), rel=1e-9)
    coils_v = day.coil_voltages_v(together, "inrush")
    inrush = real.solve(output, together, inrush=True).coil_v
    assert {key: abs(v) for key, v in inrush.items()} == pytest.approx(coils_v, rel=1e-9)


@pytest.mark.parametrize(
    ("sites", "state"),
    [(240, 20310504), pytest.param(60, None, id="60-new")],
)
def test_stated_ranges_hold_as_often_as_they_say(sites: int, state: int | None) -> None:
    state = SystemRandom().getrandbits(32) if state is None else state
    found = study(sites, state)
    assert len({name for name, _ruled in found.counts}) == 8
    wrong = [key for key, count in found.counts.items() if not count.holds(NEVER)]
    assert not wrong, f"random state {state}: {found.counts}"


def test_verdicts_come_true_as_often_as_they_say() -> None:
    found = statements(16, 20310504)
    assert all(group.holds(k=4.0) for group in groups(found))
    count, true = passed(found)
    assert at_most(true, count, MIN_PASSED_TRUE) >= NEVER


@pytest.mark.parametrize(
    ("ruled", "by_k2", "by_distribution", "holds"),
    [
        (False, 950, 950, True),
        (False, 900, 950, False),
        (False, 950, 890, False),
        (False, 999, 950, False),
        (True, 999, 950, True),
        (True, 950, 999, False),
    ],
)
def test_what_the_study_accepts(ruled: bool, by_k2: int, by_distribution: int, holds: bool) -> None:
    """Of 1,000 ranges; by 95 in 100 and by what is too few or too many for chance."""
    assert Count(ruled, 1000, by_k2, by_distribution).holds() is holds


def test_probability_of_at_most_so_many() -> None:
    """Two throws of a coin: none with 1/4, at most one with 3/4, at most two surely."""
    assert [at_most(k, 2, 0.5) for k in range(3)] == pytest.approx([0.25, 0.75, 1.0])
