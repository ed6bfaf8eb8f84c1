"""Tests of a search as steps: their ids, their safety order, and that a record brings them back."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest

from commission.host import Disk
from commission.locate.readings import FieldTest
from commission.opening import read_job
from commission.problems import StepRefused
from commission.report.again import job_of, made_again
from commission.report.reading import parse_report
from commission.report.rejudged import entry_findings
from commission.search.found import found
from commission.search.steps import field_test, id_of
from commission.search.symptoms import symptoms
from commission.session import Session
from tests import walks
from tests.search.faulty import dead, loops, walked

LOOP = FieldTest("loop", "A", "B3")
TESTS = [
    LOOP,
    FieldTest("unbridged", "A"),
    FieldTest("side", "A", "B2", beyond="B3"),
    FieldTest("current", "A"),
    FieldTest("current", "A", station="S2"),
    FieldTest("voltage", "A", "B3", "S4"),
    FieldTest("earth", "A", station="S4", conductor="second"),
    FieldTest("insulation", "A", "B2", conductor="first", beyond="B5"),
    FieldTest("indicator", "A", "B3", "S3"),
]


@pytest.fixture
def joint(tmp_path: Path) -> Iterator[Session]:
    """3 ohm too much on the way to B4, found with the supply still off."""
    session = walked(tmp_path, loops("B4", ohm=3.0), until="people-clear")
    yield session
    session.close()


def step_of(session: Session, step_id: str) -> str:
    """The state of the supply in which a step may be answered, "" for any."""
    return session.job.plan.by_id[step_id].needs or ""


@pytest.mark.parametrize("test", TESTS, ids=id_of)
def test_an_id_says_its_test(joint: Session, test: FieldTest) -> None:
    step_id = id_of(test)
    assert field_test(step_id, joint.job.site) == test
    joint.take_up(test)
    assert step_id in joint.job.statuses
    dead_kinds = ("loop", "unbridged", "side", "insulation")
    assert step_of(joint, step_id) == ("off" if test.kind in dead_kinds else "on")


@pytest.mark.parametrize(
    "step_id",
    [
        "search/A/B99/loop",
        "search/Z/B3/loop",
        "search/A/B3/water/S3",
        "search/A/B3/loop/S3",
        "search/A/B3/voltage/S99",
        "search/A/B3/side///B99",
        "search/A/B3/loop/",
        "search/A/B3",
        "path/A/B3/loop",
    ],
)
def test_other_ids_are_no_test(joint: Session, step_id: str) -> None:
    assert field_test(step_id, joint.job.site) is None


def test_a_test_taken_up_and_not_made_is_let_go(joint: Session) -> None:
    before = dict(joint.job.plan.by_id)
    joint.take_up(LOOP)
    joint.take_up(FieldTest("voltage", "A", "B3", "S4"))
    assert id_of(LOOP) not in joint.job.plan.by_id
    assert set(before) | {"search/A/B3/voltage/S4"} == set(joint.job.plan.by_id)
    reasons = joint.job.reasons_against(joint.job.plan.by_id["controller/supply-on"])
    assert not any("Bridge" in reason for reason in reasons)


def test_a_bridge_of_the_search_holds_the_supply_off_until_it_is_recorded_off(
    joint: Session,
) -> None:
    step = joint.take_up(LOOP)
    assert step.id == "search/A/B3/loop/bridge-on"
    walks.answer(joint, step, "yes")
    loop = joint.job.plan.by_id[id_of(LOOP)]
    walks.answer(joint, loop, "4.73 ohm")
    reopened = read_job(joint.job.folder, Disk())
    for job in (joint.job, reopened):
        reasons = job.reasons_against(job.plan.by_id["controller/supply-on"])
        assert any(reason.endswith("Bridge removed: not done") for reason in reasons)
        assert any("Unbridged reading again: to be done again" in one for one in reasons)
        assert any("Conductors put back: to be done again" in one for one in reasons)
    at, order = loop.id, []
    while (at := joint.job.next_to_do(at) or "") not in ("", "controller/people-clear"):
        order.append(at)
        again = joint.job.plan.by_id[at]
        walks.answer(joint, again, walks.good_answer(joint, again))
    assert order == ["search/A/B3/loop/bridge-off", "path/A/unbridged-again", "path/A/put-back"]
    walks.walk_to_the_end(joint)
    assert joint.job.supply == "on"


def test_a_bridge_that_was_put_on_is_not_forgotten_by_opening_again(joint: Session) -> None:
    walks.answer(joint, joint.take_up(LOOP), "yes")
    reopened = read_job(joint.job.folder, Disk())
    assert reopened.statuses["search/A/B3/loop/bridge-off"].state == "open"


def test_a_live_test_waits_for_the_supply(joint: Session) -> None:
    step = joint.take_up(FieldTest("voltage", "A", "B3", "S4"))
    with pytest.raises(StepRefused, match="must be switched on first"):
        walks.answer(joint, step, "27.1 V")


def test_a_dead_test_waits_until_the_path_is_proved_dead(tmp_path: Path) -> None:
    session = walked(tmp_path, {})
    step = session.take_up(LOOP)
    with pytest.raises(StepRefused, match="must be isolated first"):
        walks.answer(session, step, "yes")
    walks.answer(session, session.job.plan.by_id["controller/isolate"], "yes")
    loop = session.job.plan.by_id[id_of(LOOP)]
    with pytest.raises(StepRefused, match="dead first again"):
        walks.answer(session, loop, "1.7")
    session.close()


def test_the_result_decides_and_its_box_is_open(joint: Session) -> None:
    (before,) = found(joint.job)
    assert before.suggestion is not None
    assert before.suggestion.test == LOOP
    assert not before.is_wrong or not before.posterior.sure  # type: ignore[union-attr]
    walks.answer(joint, joint.take_up(LOOP), "yes")
    drawn = 2 * 345 * 0.3048 * 0.00829  # 14 AWG, 8.29 ohm/km at 20 °C (B258): about 1.74 ohm
    walks.answer(joint, joint.job.plan.by_id[id_of(LOOP)], f"{drawn + 3.0:.2f} ohm")
    (after,) = found(joint.job)
    assert after.posterior is not None
    assert after.posterior.sure
    assert after.posterior.best[0] == {("segment", "A", "B3")}
    assert "B3" in symptoms(joint.job, "1").open_boxes


def test_a_signed_report_with_a_search_is_made_again_from_itself(tmp_path: Path) -> None:
    session = walked(tmp_path, dead("S3"))
    walks.answer(session, session.take_up(FieldTest("voltage", "A", "B3")), "27.3 V")
    walks.answer(session, session.take_up(FieldTest("indicator", "A", "B3", "S3")), "dark")
    session.sign(walks.signoff(), walks.KEY)
    session.close()
    path = session.job.folder / "report.toml"
    content = path.read_bytes()
    assert b"search/A/B3/voltage" in content
    report = parse_report(content, path.name)
    job = job_of(report, path.name)
    assert list(entry_findings(job, path.name)) == []
    assert made_again(report, content, path.name, job).state == "same"
