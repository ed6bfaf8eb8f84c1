"""The survey of an old bundle in the walk: asked, decided, kept, and written as a path."""

from __future__ import annotations

import json
import re
from datetime import timedelta
from pathlib import Path

import pytest

from commission.cli import main
from commission.field_list import parse
from commission.host import Disk
from commission.opening import open_job, read_job
from commission.problems import StepRefused
from commission.resources import samples
from commission.session import Session
from commission.site.load import load_site, parse_site
from commission.survey.sections import surveyed
from tests import walks
from tests.survey.ground import SAMPLE, grounds, open_steps, shown, survey
from tests.walks import begin, walk_to_the_end, walk_until


def at_survey(folder: Path) -> Session:
    """A converted job that stands at the first section of the bundle."""
    session = begin(folder, SAMPLE, kind="converted")
    goal = next(s for s in session.job.plan.steps if s.id == "bundle/G/G1/dead")
    walk_until(session, goal)
    return session


def test_a_sound_bundle_is_asked_box_by_box(tmp_path: Path) -> None:
    session = at_survey(tmp_path)
    asked = survey(session, grounds(session))
    assert asked[:6] == [
        "bundle/G/G1/dead",
        "bundle/G/G1/insulation/white",
        "bundle/G/G1/return/white",
        "bundle/G/G1/insulation/red",
        "bundle/G/G1/loop/white/red",
        "bundle/G/G1/pair/white/red",
    ]
    found = list(surveyed(session.job.site, session.job.state.latest))
    assert [one.decision.pair for one in found] == [("white", "red")] * 3
    assert found[0].abandoned == ("blue", "black", "yellow")
    assert found[2].abandoned == ("blue", "black"), "yellow does not go to G3"
    session.close()


def test_nothing_is_read_before_the_section_is_proved_dead(tmp_path: Path) -> None:
    session = at_survey(tmp_path)
    dead = next(open_steps(session))
    session.answer(dead, "12 V", confirmed=True)
    assert not any("/insulation/" in step.id for step in session.job.plan.steps)
    session.answer(dead, "0.1 V")
    first = next(open_steps(session))
    assert first.id == "bundle/G/G1/insulation/white"
    session.answer(dead, "9 V", confirmed=True)
    assert first.id not in session.job.plan.by_id
    session.close()


def test_later_work_waits_until_every_section_is_decided(tmp_path: Path) -> None:
    session = at_survey(tmp_path)
    later = next(s for s in session.job.plan.steps if s.stage.id == "earth")
    with pytest.raises(StepRefused, match="Dead: every conductor"):
        session.answer(later, "yes")
    session.close()


def test_every_reading_is_on_disk_and_comes_back(tmp_path: Path) -> None:
    """Ended without a word at any point, the job opens with the same next reading."""
    session = at_survey(tmp_path)
    ground = grounds(session)
    for count, step in enumerate(open_steps(session)):
        text = shown(ground[step.target.box], step) if step.item.answer == "measure" else "yes"
        session.answer(step, text, confirmed=True)
        there = read_job(session.job.folder, Disk())
        assert [s.id for s in there.plan.steps] == [s.id for s in session.job.plan.steps]
        assert there.state.latest[step.id].text
        if count == 8:
            break
    session.close()


def test_what_is_wrong_is_left_out_and_the_colours_change_on_the_way(tmp_path: Path) -> None:
    session = at_survey(tmp_path)
    ground = grounds(session)
    ground["G1"].leaks["red"] = 0.4, 800.0
    ground["G2"].breaks["white"] = 0.5
    survey(session, ground)
    found = {s.segment.to_box: s for s in surveyed(session.job.site, session.job.state.latest)}
    assert found["G1"].decision.pair == ("white", "blue")
    assert found["G1"].states["red"] == "leaks"
    assert found["G2"].decision.pair == ("blue", "red"), "blue leads here already"
    assert found["G2"].states["white"] == "broken"
    assert found["G3"].decision.pair == ("white", "blue")
    session.close()


def test_a_retest_after_a_repair_changes_the_pair_and_asks_again(tmp_path: Path) -> None:
    session = at_survey(tmp_path)
    ground = grounds(session)
    for name in ("red", "blue", "black", "yellow"):
        ground["G1"].leaks[name] = 0.25, 500.0
    for step in open_steps(session):
        if step.item.id in ("murray", "none"):
            break
        session.answer(step, shown(ground["G1"], step), confirmed=True)
    # Murray, as a bridge would balance: the way back over the rest, over the way to the leak.
    ohm = ground["G1"].ohm
    ratio = (ohm["white"] + 0.75 * ohm["red"]) / (0.25 * ohm["red"])
    session.answer(step, f"{ratio:.4f}")
    none = next(s for s in session.job.plan.steps if s.item.id == "none")
    assert "by Murray it leaks 9.50 m from the terminals" in none.ask
    session.answer(none, "not yet")
    assert session.job.statuses[none.id].verdict == "fail"
    del ground["G1"].leaks["red"]
    again = session.job.plan.by_id["bundle/G/G1/insulation/red"]
    session.answer(again, shown(ground["G1"], again), confirmed=True)
    survey(session, ground)
    found = next(surveyed(session.job.site, session.job.state.latest))
    assert found.decision.pair == ("white", "red")
    assert none.id not in session.job.plan.by_id
    session.close()


def test_a_reading_that_is_skipped_leaves_its_conductor_out(tmp_path: Path) -> None:
    session = at_survey(tmp_path)
    ground = grounds(session)
    for step in open_steps(session):
        if step.id == "bundle/G/G1/insulation/red":
            session.skip(step, "its end cannot be reached")
            break
        session.answer(step, shown(ground["G1"], step), confirmed=True)
    survey(session, ground)
    found = next(surveyed(session.job.site, session.job.state.latest))
    assert found.decision.pair == ("white", "blue")
    assert found.states["red"] == "set aside"
    session.close()


def test_a_test_with_high_voltage_reopens_its_ending(tmp_path: Path) -> None:
    session = at_survey(tmp_path)
    ended = next(s for s in session.job.plan.steps if s.item.id == "insulation-ended")
    survey(session, grounds(session))
    ended = session.job.plan.by_id[ended.id]
    assert "bundle/G/G1/insulation/white" in ended.reopened_by
    session.close()


def test_the_path_is_written_with_what_was_read(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    session = at_survey(tmp_path)
    ground = grounds(session)
    ground["G1"].leaks["red"] = 0.4, 800.0
    survey(session, ground)
    session.close()
    folder, new = session.job.folder, tmp_path / "with-pairs.toml"
    assert main(["convert", str(folder), "--output", str(new)]) == 0
    said = capsys.readouterr().out
    assert "white and blue, loop" in said
    assert (
        "abandon red, black and yellow: disconnect and cap at the terminals and in box G1" in said
    )
    before = session.job.site_text
    assert new.read_text("utf-8").startswith(before.rstrip("\n")), "all above stays as it was"
    site = load_site(new)
    assert {(one.box, one.conductors) for one in site.pair} == {
        ("G1", ("white", "blue")),
        ("G2", ("white", "blue")),
        ("G3", ("white", "blue")),
    }
    assert main(["convert", str(folder), "--output", str(new)]) == 2, "never overwritten"


def test_what_is_written_gives_the_loops_that_the_ground_has(tmp_path: Path) -> None:
    session = at_survey(tmp_path)
    ground = grounds(session)
    for one in ground.values():  # older and thinner than drawn, within what a sound one may have
        one.ohm = {name: ohm * 1.04 for name, ohm in one.ohm.items()}
    survey(session, ground)
    session.close()
    new = tmp_path / "with-pairs.toml"
    assert main(["convert", str(session.job.folder), "--output", str(new)]) == 0
    opened = open_job(new, kind="converted", disk=Disk(), now=walks.clock())
    assert not any(step.id.startswith("bundle/") for step in opened.job.plan.steps)
    loop = next(
        s for s in opened.job.plan.steps
        if s.item.compare == "loop-resistance" and s.target.box == "G2"
    )  # fmt: skip
    expected = opened.job.expectation(loop)
    assert expected is not None
    truth = sum(ground[box].ohm[name] for box in ("G1", "G2") for name in ("white", "red"))
    joints = 4 * 0.005
    assert expected.value == pytest.approx(truth + joints, rel=0.003)
    assert expected.low is not None
    assert expected.high is not None
    assert expected.low < truth + joints < expected.high
    opened.close()


def test_a_site_without_a_bundle_is_told_so(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    session = begin(tmp_path, "small-garden")
    session.close()
    assert main(["convert", str(session.job.folder)]) == 2
    assert "[[path.conductor]]" in capsys.readouterr().err


def test_from_the_bundle_to_a_signed_report(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Both jobs end in a report that is what its own record gives."""
    session = at_survey(tmp_path)
    ground = grounds(session)
    ground["G3"].breaks["red"] = 0.5
    survey(session, ground)
    walk_to_the_end(session)
    session.sign(walks.signoff(), walks.KEY)
    session.close()
    assert main(["check", str(session.job.folder)]) == 0
    new = tmp_path / "with-pairs.toml"
    assert main(["convert", str(session.job.folder), "--output", str(new)]) == 0
    opened = open_job(new, kind="converted", disk=Disk(), now=walks.clock())
    opened.crew.take(session.crew.hands)
    assert not opened.job.plan.by_id.keys() & {"path/G/bundle-list", "path/G/box/G1/pair"}
    walk_to_the_end(opened)
    assert not opened.job.open_defects
    opened.sign(walks.signoff(), walks.KEY)
    opened.close()
    assert main(["check", str(opened.job.folder)]) == 0
    capsys.readouterr()


def test_a_list_from_the_field_may_hold_readings_that_follow_from_those_above(
    tmp_path: Path,
) -> None:
    session = at_survey(tmp_path)
    at = (session.now() + timedelta(minutes=1)).strftime("%Y-%m-%d %H:%M%z")
    at = f"{at[:-2]}:{at[-2:]}"
    rows = [
        ("dead", "0.02 V"), ("insulation/white", "OL"), ("return/white", "0.40 ohm"),
        ("insulation/red", "OL"), ("loop/white/red", "0.74 ohm"), ("pair/white/red", "yes"),
    ]  # fmt: skip
    lines = ["step;reading;observer;time"]
    lines += [f"bundle/G/G1/{step};{text};{walks.OBSERVER};{at}" for step, text in rows]
    listed = parse("\n".join(lines).encode(), "list.csv")
    for _ in range(400):  # the rows were written before they are entered
        session.now()
    session.answer_all(listed, "list.csv", walks.WRITER)
    assert next(open_steps(session)).id == "bundle/G/G2/dead"
    session.close()


def test_where_no_conductor_passes_nothing_is_asked() -> None:
    text = samples()[SAMPLE].read_text("utf-8")
    away = re.sub(
        r'{ id = "(white|red|blue|black)"', r'\g<0>, passes = ["output", "G1", "G2"]', text
    )
    found = list(surveyed(parse_site(away.encode(), "site"), {}))
    assert [one.segment.to_box for one in found] == ["G1", "G2"]


def test_for_programs_and_a_section_without_a_pair_is_a_finding(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    session = at_survey(tmp_path)
    ground = grounds(session)
    assert main(["convert", str(session.job.folder)]) == 0, "nothing is found yet"
    for name in ("red", "blue", "black", "yellow"):
        ground["G1"].breaks[name] = 0.5
    survey(session, ground)
    session.close()
    capsys.readouterr()
    assert main(["convert", str(session.job.folder), "--json"]) == 1
    first, second, third = json.loads(capsys.readouterr().out)["sections"]
    assert first["pair"] == []
    assert first["next"] == []
    assert first["loop_ohm"] is None
    assert first["readings"] <= first["most_readings"] == 10
    assert set(first["conductors"].values()) == {"in doubt"}, "white has no way back"
    assert second["pair"] == third["pair"] == ["white", "red"]
    assert first.keys() == second.keys()
    told = (
        (Path(__file__).parents[2] / "README.md")
        .read_text("utf-8")
        .partition("## Converting an old bundle")[2]
    )
    keys = re.findall(r"`(\w+)`", "".join(re.findall(r"^\| (`[^|]*)\|", told, re.MULTILINE)))
    assert first.keys() <= set(keys)
    assert main(["convert", str(session.job.folder), "--output", str(tmp_path / "new.toml")]) == 1
    assert len(load_site(tmp_path / "new.toml").pair) == 2
