"""The earth of a job, measured in each of the ways that a checklist offers."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest

from commission.checklist.plan import Step
from commission.session import Session
from tests.walks import answer, begin, first, status, walk_until

# By hand, for a point electrode of 8 ohm (IEEE Std 81): 8 + 1/(1 - p) - 1/p - 1 at 20, 40, 60 %.
SLOPE = {"slope-20": "3.25 ohm", "slope-40": "6.1667 ohm", "slope-60": "7.8333 ohm"}


@pytest.fixture
def session(tmp_path: Path) -> Iterator[Session]:
    """A job that stands at the choice of how its earth is measured."""
    found = begin(tmp_path, "small-garden")
    walk_until(found, item(found, "earth-method"))
    yield found
    found.close()


def item(session: Session, name: str) -> Step:
    return first(session, lambda step: step.item.id == name)


def measure(session: Session, name: str, text: str) -> tuple[str, str]:
    """Answer one item; its verdict and what was found."""
    answer(session, item(session, name), text)
    found = status(session, item(session, name))
    return found.verdict, found.finding


def test_the_current_probe_stands_five_times_the_electrodes_size_away(session: Session) -> None:
    """Two rods of 8 ft, 12 ft apart: 60 ft at least (IEEE Std 81 practice)."""
    measure(session, "earth-method", "fall of potential")
    limit = session.job.expectation(item(session, "probe-distance"))
    assert limit is not None
    assert limit.value == pytest.approx(60 * 0.3048)
    verdict, finding = measure(session, "probe-distance", "50 ft")
    assert verdict == "fail"
    assert "use the slope method" in finding
    assert measure(session, "probe-distance", "65 ft")[0] == "pass"


def test_readings_that_never_agree_lead_to_the_slope_method(session: Session) -> None:
    measure(session, "earth-method", "fall of potential")
    walk_until(session, item(session, "earth-near"))
    measure(session, "earth-near", "6 ohm")
    measure(session, "earth-resistance", "8 ohm")
    verdict, finding = measure(session, "earth-far", "9.5 ohm")
    assert verdict == "marginal"
    assert "choose the slope method" in finding
    measure(session, "earth-method", "slope method")
    assert item(session, "earth-far").id not in session.job.statuses
    assert not list(session.job.undecided())
    measure(session, "slope-distance", "60 ft")
    found = [measure(session, name, text) for name, text in SLOPE.items()]
    assert [verdict for verdict, _finding in found] == ["recorded", "recorded", "pass"]
    assert "8.00 ohm with the probe at 61.8 %" in found[-1][1]


def test_readings_taken_again_in_their_order_leave_no_false_doubt(session: Session) -> None:
    """Within 5 % of their mean (IEEE Std 81): 6, 8 and 9.5 ohm are not, 7.9, 8 and 8.1 ohm are."""
    measure(session, "earth-method", "fall of potential")
    walk_until(session, item(session, "earth-near"))
    for name, text in (("earth-near", "6 ohm"), ("earth-resistance", "8 ohm")):
        measure(session, name, text)
    assert measure(session, "earth-far", "9.5 ohm")[0] == "marginal"
    verdict, finding = measure(session, "earth-near", "7.9 ohm")
    assert verdict == "recorded"
    assert finding.startswith("recorded; judged once 'Earth, probe at 72 %' is read again")
    assert [one.step.item.id for one in session.job.undecided()] == ["earth-far"]
    measure(session, "earth-resistance", "8 ohm")
    assert measure(session, "earth-far", "8.1 ohm")[0] == "pass"
    assert not list(session.job.undecided())
    assert measure(session, "earth-near", "6 ohm")[0] == "marginal"


def test_a_slope_reading_taken_again_is_judged_with_the_other_two(session: Session) -> None:
    measure(session, "earth-method", "slope method")
    for name, text in SLOPE.items():
        measure(session, name, text)
    assert measure(session, "slope-40", "3.3 ohm")[0] == "marginal"
    assert measure(session, "slope-40", SLOPE["slope-40"])[0] == "pass"


def test_a_slope_reading_reopens_the_electrodes_connection(session: Session) -> None:
    measure(session, "earth-method", "slope method")
    measure(session, "electrode-off", "yes")
    for name in ("earth-reconnected", "earth-continuity"):
        answer(session, item(session, name), "yes" if name == "earth-reconnected" else "0.1 ohm")
    on = session.job.plan.switching_on[0]
    assert not any("Electrode connected" in why for why in session.job.reasons_against(on))
    measure(session, "slope-20", SLOPE["slope-20"])
    assert any("Electrode connected" in why for why in session.job.reasons_against(on))


def test_a_clamp_passes_as_an_upper_bound_and_a_metal_loop_is_suspected(session: Session) -> None:
    measure(session, "earth-method", "clamp")
    verdict, finding = measure(session, "earth-clamp", "7.5 ohm")
    assert (verdict, finding.startswith("an upper bound")) == ("pass", True)
    assert measure(session, "earth-clamp", "0.4 ohm")[0] == "marginal"


def test_a_failed_earth_says_how_many_rods_more(session: Session) -> None:
    """Two rods of 14.5 ohm are 25 ohm each; four give 25/4 x 1.36 = 8.5 ohm (IEEE Std 142)."""
    measure(session, "earth-method", "fall of potential")
    walk_until(session, item(session, "earth-resistance"))
    verdict, finding = measure(session, "earth-resistance", "14.5 ohm")
    assert verdict == "fail"
    assert "2 rods more of the same kind" in finding
    assert "buried services" in finding
