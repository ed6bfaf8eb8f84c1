"""Whether two readings agree, against GTC, in which a shared gain is one uncertain number."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest
from GTC import type_b, ureal  # type: ignore[import-untyped]

from commission.job import Job
from commission.report.second import SecondReading, second_reading
from commission.user.instruments import Instrument
from tests import walks
from tests.report.years import OTHER_METER, Answer, walked

CONDUCTOR = "controller/earth-continuity"  # compared as it is read: no soil, no expectation
PERCENT, COUNTS, COUNT_OHM = 0.5, 2, 0.01  # of both meters, at this resistance


def both(folder: Path, readings: tuple[str, str], meter: Instrument = walks.METER) -> SecondReading:
    """What an installer and an inspector read at the earthing conductor."""
    jobs: list[Job] = []
    for name, text, used in (("a", readings[0], walks.METER), ("b", readings[1], meter)):
        answers: dict[str, Answer] = {CONDUCTOR: text}
        jobs.append(walked(folder / name, answers, meter=used))
    found = second_reading(jobs[0], jobs[1], jobs[1].plan.by_id[CONDUCTOR])
    assert found is not None
    return found


def by_gtc(first: float, second: float, *, one_meter: bool) -> float:
    """|E_n| by GTC: rectangular gain and counts, the gain one number where one meter read both."""
    gains = [ureal(0, type_b.uniform(PERCENT / 100)) for _ in range(1 if one_meter else 2)]
    counts = [ureal(0, type_b.uniform(COUNTS * COUNT_OHM)) for _ in range(2)]
    read = [first * (1 + gains[0]) + counts[0], second * (1 + gains[-1]) + counts[1]]
    difference = read[1] - read[0]
    return abs(float(difference.x)) / (2 * float(difference.u))


@pytest.mark.parametrize("readings", [(0.40, 0.43), (0.40, 0.48), (0.90, 0.70)])
@pytest.mark.parametrize("one_meter", [True, False])
def test_e_n_is_that_of_gtc(tmp_path: Path, readings: tuple[float, float], one_meter: bool) -> None:
    typed = (f"{readings[0]:.2f} ohm", f"{readings[1]:.2f} ohm")
    found = both(tmp_path, typed, walks.METER if one_meter else OTHER_METER)
    expected = by_gtc(*readings, one_meter=one_meter)
    assert found.e_n == pytest.approx(expected, rel=1e-9)
    assert found.agrees is (expected <= 1)


def test_without_a_serial_nothing_cancels(tmp_path: Path) -> None:
    nameless = replace(walks.METER, serial="")
    found = both(tmp_path, ("0.40 ohm", "0.48 ohm"), nameless)
    assert found.e_n == pytest.approx(by_gtc(0.40, 0.48, one_meter=False), rel=1e-9)


def test_what_was_only_seen_agrees_by_its_verdict(tmp_path: Path) -> None:
    """A valve that opened for one and not for the other; a text says nothing."""
    good = walked(tmp_path / "a")
    valve = next(step for step in good.plan.steps if step.item.id == "valve")
    bad = walked(tmp_path / "b", {valve.id: walks.bad_answer(valve)})
    differ = second_reading(good, bad, valve)
    same = second_reading(good, good, valve)
    assert differ is not None
    assert same is not None
    assert (differ.agrees, differ.e_n) == (False, None)
    assert (same.agrees, same.e_n) == (True, None)


def test_nothing_is_said_of_what_one_alone_did(tmp_path: Path) -> None:
    pressure = "job/static-pressure"
    whole = walked(tmp_path / "a")
    skipped = walked(tmp_path / "b", {pressure: None})
    step = whole.plan.by_id[pressure]
    assert second_reading(whole, skipped, step) is None
    assert second_reading(skipped, whole, step) is None
