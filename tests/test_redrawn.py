"""A job whose drawing is changed on site: what it touches, what it leaves, and the report.

The loop expected after a change is worked out here from the standards' constants (IEC 60028
copper, ASTM B258 diameter), not taken from the program.
"""

from __future__ import annotations

import subprocess
import sys
import tomllib
from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import replace
from math import pi
from pathlib import Path

import pytest

from commission.checklist.plan import Step
from commission.crew import Hands
from commission.host import Disk
from commission.locate.readings import FieldTest
from commission.opening import open_job, read_job
from commission.problems import InputRefused, StepRefused
from commission.report.again import job_of
from commission.report.document import report_document, report_text
from commission.report.rejudged import entry_findings
from commission.session import Session
from commission.site.changes.drawing import changed_site
from commission.site.changes.kinds import (
    AddBox,
    Change,
    ChangeBox,
    ChangeStation,
    DeleteBox,
    DeleteStation,
    Length,
    MoveStation,
    Rename,
    SwapAddresses,
)
from commission.site.schema import Site
from commission.verdict.progress import exceptions
from tests import walks


@pytest.fixture
def walked(tmp_path: Path) -> Iterator[Session]:
    session = walks.begin(tmp_path, "small-garden")
    walks.walk_to_the_end(session)
    yield session
    session.close()


def step(session: Session, step_id: str) -> Step:
    return session.job.plan.by_id[step_id]


def second_looks(session: Session) -> set[str]:
    return {one.step.id for one in session.job.statuses.values() if one.second_look}


def any_step(session: Session) -> Step:
    return step(session, "path/A/end/B6/loop-resistance")


def expected_loop_ohm(length_ft: float, segments: int, soil_c: float) -> float:
    """A loop of 14 AWG solid copper, bridged at its end, one joint of 5 mohm per conductor."""
    diameter_mm = 0.127 * 92 ** ((36 - 14) / 39)
    per_m = (1 / 58) / (pi * diameter_mm**2 / 4) * (1 + 0.00393 * (soil_c - 20))
    return float(2 * length_ft * 0.3048 * per_m + 2 * segments * 0.005)


def test_another_length_touches_its_loops_and_leaves_the_others(walked: Session) -> None:
    before = dict(walked.job.statuses)
    walked.change_site(any_step(walked), Length("A", "B6", "140 ft", "tape"), "trench measured")
    assert {one for one in second_looks(walked) if "/loop" in one} == {
        "path/A/end/B6/loop-resistance",
        "path/A/end/B6/loop-reversed",
    }
    assert not any("B4" in one or "station" in one for one in second_looks(walked))
    for step_id, status in walked.job.statuses.items():
        assert status.entry == before[step_id].entry
    expectation = walked.job.expectation(any_step(walked))
    assert expectation is not None
    soil_c = walked.job.conditions.soil_c
    assert soil_c is not None
    wanted = expected_loop_ohm(85 + 140 + 160 + 140, 4, soil_c)
    assert expectation.value == pytest.approx(wanted, rel=1e-3)


def test_the_same_box_farther_away_is_not_bridged_again(walked: Session) -> None:
    """The bridge is asked for with its distance; the loops read over it are looked at again."""
    bridged = step(walked, "path/A/end/B6/bridge-on").ask
    walked.change_site(any_step(walked), Length("A", "B6", "140 ft", "tape"), "trench measured")
    assert step(walked, "path/A/end/B6/bridge-on").ask != bridged
    assert "path/A/end/B6/bridge-on" not in second_looks(walked)
    assert any_step(walked).id in second_looks(walked)


def test_the_entry_says_who_when_why_before_and_after(walked: Session) -> None:
    walked.change_site(any_step(walked), Length("A", "B6", "140 ft", "tape"), "trench measured")
    entry = walked.job.state.entries[-1]
    assert (entry.type, entry.entered_by, entry.text) == ("change", walks.WRITER, "trench measured")
    assert (entry.subject, entry.before, entry.after) == (
        "path A, cable B5 to B6", "75 ft", "140 ft by tape",
    )  # fmt: skip
    assert entry.entered_at is not None
    assert entry.redraws.startswith('{ change = "length"')


def test_it_stands_against_acceptance_until_looked_at_again(walked: Session) -> None:
    assert exceptions(walked.job) == ()
    walked.change_site(any_step(walked), Length("A", "B6", "140 ft", "tape"), "trench measured")
    assert {one.kind for one in exceptions(walked.job)} == {"second look"}
    assert walked.job.next_to_do() in second_looks(walked)
    for step_id in second_looks(walked):  # the supply is off by then, and what is dead proved so
        one = step(walked, step_id)
        if walked.job.reasons_against(one):
            walked.skip(one, "the supply stays on")
        else:
            walks.answer(walked, one, walks.good_answer(walked, one))
    assert second_looks(walked) == set()
    assert "second look" not in {one.kind for one in exceptions(walked.job)}


def test_a_station_in_another_box_is_looked_at_again(walked: Session) -> None:
    walked.change_site(any_step(walked), MoveStation("S3", "A", "B4"), "seen there")
    assert "station/S3/valve" in second_looks(walked)
    assert "station/S1/valve" not in second_looks(walked)
    assert walked.job.sheet.drawing.stations["S3"].box == "B4"


def test_a_new_box_brings_its_steps_and_a_station_that_is_gone_takes_them(
    walked: Session,
) -> None:
    walked.change_site(any_step(walked), AddBox("A", "B2", "B7", "60 ft", "80 ft"), "found it")
    walked.change_site(any_step(walked), DeleteStation("S6"), "never built")
    new = [s for s in walked.job.statuses.values() if s.step.target.box == "B7"]
    assert new
    assert all(status.state == "open" for status in new)
    assert not any(one.startswith("station/S6/") for one in walked.job.statuses)


def test_another_address_is_looked_at_again_at_its_station_alone(walked: Session) -> None:
    walked.change_site(any_step(walked), ChangeStation("S3", address=203), "it answers at 203")
    assert second_looks(walked) == {
        one for one in walked.job.state.history if one.startswith("station/S3/")
    }
    assert len(second_looks(walked)) > 3
    assert "203" in walked.job.plan.by_id["station/S3/address"].ask


def test_two_addresses_swapped_are_looked_at_again_at_both(walked: Session) -> None:
    walked.change_site(any_step(walked), SwapAddresses("S3", "S4"), "4 opened when 3 was run")
    stations = {walked.job.plan.by_id[one].target.station for one in second_looks(walked)}
    assert stations == {"S3", "S4"}
    addresses = {one.id: one.address for one in walked.job.site.station}
    assert (addresses["S3"], addresses["S4"]) == (104, 103)


def test_another_decoder_is_expected_by_its_own_data(walked: Session) -> None:
    """The standby current expected: six decoders of 2.5 mA are drawn, one is found of 4 mA."""
    kind = (("standby_current", "4 mA"), ("indicator_running", "steady"))
    change = ChangeStation("S3", decoder="other", decoder_kind=kind)
    walked.change_site(any_step(walked), change, "read on its label")
    standby = walked.job.plan.by_id["path/A/standby-current"]
    expectation = walked.job.sheet.expectation("standby-current", standby.target)
    assert expectation is not None
    assert expectation.value == pytest.approx(5 * 2.5e-3 + 4e-3, rel=1e-3)
    looks = second_looks(walked)
    assert standby.id in looks
    assert "station/S3/indicator" in looks
    assert not any(one.startswith("station/S1/") for one in looks)
    found = report_document(walked.job)["drawing"]
    kinds = {
        when: [row["decoder"] for row in found[when][0]["stations"] if row["id"] == "S3"]
        for when in ("as_designed", "as_found")
    }
    assert kinds == {"as_designed": ["single"], "as_found": ["other"]}
    again = read_job(walked.job.folder, Disk())
    assert report_text(again) == report_text(walked.job)


def test_other_words_touch_nothing_and_what_is_so_already_is_refused(walked: Session) -> None:
    walked.change_site(any_step(walked), ChangeBox("A", "B3", location="By the pond"), "seen")
    walked.change_site(any_step(walked), ChangeStation("S3", waters="Plums"), "seen")
    assert second_looks(walked) == set()
    with pytest.raises(InputRefused, match="so already"):
        walked.change_site(any_step(walked), ChangeStation("S3", waters="Plums"), "seen")


def test_another_label_touches_nothing(walked: Session) -> None:
    walked.change_site(any_step(walked), Rename("box", "B6", "Old orchard"), "said the owner")
    assert second_looks(walked) == set()
    assert "Old orchard" in walked.job.plan.by_id["path/A/end/B6/loop-resistance"].target.label


def test_taken_back_the_drawing_is_as_it_was(walked: Session) -> None:
    sheet = walked.job.expectation(any_step(walked))
    walked.change_site(any_step(walked), Length("A", "B6", "140 ft"), "trench measured")
    number = walked.job.state.entries[-1].number
    walked.withdraw(number, "the wrong trench")
    assert walked.job.site == walked.job.designed
    assert walked.job.expectation(any_step(walked)) == sheet
    assert second_looks(walked) == set()
    assert exceptions(walked.job) == ()


def test_what_another_change_builds_on_is_not_taken_back(walked: Session) -> None:
    walked.change_site(any_step(walked), AddBox("A", "B2", "B7", "60 ft", "80 ft"), "found it")
    number = walked.job.state.entries[-1].number
    walked.change_site(any_step(walked), Length("A", "B7", "61 ft"), "by tape")
    count = len(walked.job.state.entries)
    with pytest.raises(InputRefused, match="no box 'B7'"):
        walked.withdraw(number, "no")
    assert len(walked.job.state.entries) == count


def test_a_change_that_makes_no_site_writes_nothing(walked: Session) -> None:
    count = len(walked.job.state.entries)
    with pytest.raises(InputRefused, match="move or delete its stations first"):
        walked.change_site(any_step(walked), DeleteBox("A", "B6"), "not there")
    assert len(walked.job.state.entries) == count


def test_a_box_with_a_bridge_on_is_not_drawn_away(tmp_path: Path) -> None:
    session = walks.begin(tmp_path, "small-garden")
    bridge = step(session, "path/A/end/B6/bridge-on")
    walks.walk_until(session, bridge)
    walks.answer(session, bridge, walks.good_answer(session, bridge))
    session.change_site(bridge, MoveStation("S6", "A", "B5"), "seen there")
    with pytest.raises(StepRefused, match="to be done before the drawing loses it"):
        session.change_site(bridge, DeleteBox("A", "B6"), "not there")
    session.close()


def test_each_drawing_is_made_once_and_that_of_a_refused_change_is_let_go(
    walked: Session, monkeypatch: pytest.MonkeyPatch
) -> None:
    made = Counter[int]()

    def watched(text: str, changes: Sequence[Change], *, known_good: bool = False) -> Site:
        made[len(changes)] += 1
        return changed_site(text, changes, known_good=known_good)

    monkeypatch.setattr("commission.redrawn.changed_site", watched)
    for count, length in enumerate(("101 ft", "102 ft", "103 ft"), start=1):
        walked.change_site(any_step(walked), Length("A", "B1", length), "tape")
        assert made == {count: 2}  # to try it, and when it is kept
        made.clear()
    with pytest.raises(InputRefused):
        walked.change_site(any_step(walked), Length("A", "B1", "-5 ft"), "tape")
    made.clear()
    assert len(walked.job.drawings) == 4
    assert list(entry_findings(walked.job, "report")) == []
    assert not made


def test_opened_again_all_stands_as_it_did(walked: Session) -> None:
    walked.change_site(any_step(walked), Length("A", "B6", "140 ft"), "trench measured")
    walked.change_site(any_step(walked), MoveStation("S3", "A", "B4"), "seen there")
    again = read_job(walked.job.folder, Disk())
    assert again.site == walked.job.site
    assert again.designed == walked.job.designed != again.site
    assert again.touched == walked.job.touched
    assert report_text(again) == report_text(walked.job)


def test_the_report_has_both_drawings_and_is_made_again(walked: Session) -> None:
    assert "drawing" not in report_document(walked.job)
    walked.change_site(any_step(walked), Length("A", "B6", "140 ft", "tape"), "trench measured")
    loop = any_step(walked)
    if not walked.job.reasons_against(loop):
        walks.answer(walked, loop, walks.good_answer(walked, loop))
    report = tomllib.loads(report_text(walked.job))
    lengths = {
        when: report["drawing"][when][0]["cables"][-1]["length_m"]
        for when in ("as_designed", "as_found")
    }
    assert lengths == {
        "as_designed": pytest.approx(75 * 0.3048), "as_found": pytest.approx(140 * 0.3048),
    }  # fmt: skip
    job = job_of(report, "report", quick=True)
    assert report_text(job) == report_text(replace(walked.job, signed=True))
    assert list(entry_findings(job, "report")) == []


def test_a_reading_is_judged_again_by_the_drawing_of_then(walked: Session) -> None:
    """Readings from before and after a change, each against its own drawing; forged ones show."""
    walked.change_site(any_step(walked), Length("A", "B6", "140 ft", "tape"), "trench measured")
    forged = replace(walked.job.state.entries[-1], redraws='{ change = "length" }')
    state = replace(walked.job.state, entries=(*walked.job.state.entries[:-1], forged))
    with pytest.raises(InputRefused):
        list(entry_findings(replace(walked.job, state=state), "report"))
    assert list(entry_findings(walked.job, "report")) == []


def test_a_test_of_a_search_is_judged_again_by_the_drawing_of_then(tmp_path: Path) -> None:
    """The step of a search is no part of the checklist: it has to be there under each drawing."""
    session = walks.begin(tmp_path, "small-garden")
    loop = walks.first(session, lambda one: one.item.compare == "loop-resistance")
    walks.walk_until(session, loop)
    search = session.take_up(FieldTest("loop", "A", "B6"))
    session.change_site(loop, Length("A", "B6", "140 ft", "tape"), "trench measured")
    assert search.id in session.job.plan.by_id  # taken up, not answered yet
    walks.walk_until(session, search)
    walks.answer(session, search, walks.good_answer(session, search))
    session.change_site(loop, Length("A", "B6", "150 ft", "tape"), "measured again")
    assert session.job.state.history[search.id]
    assert list(entry_findings(session.job, "report")) == []
    session.close()


def test_signed_and_followed(walked: Session) -> None:
    walked.change_site(any_step(walked), Length("A", "B6", "140 ft", "tape"), "trench measured")
    walked.sign(walks.signoff(), walks.KEY)
    report = walked.job.folder / "report.toml"
    command = [sys.executable, "-m", "commission", "review", str(report)]
    run = subprocess.run(command, capture_output=True, text=True, check=False)
    assert "sound; signed by keys" in run.stdout
    later = open_job(report, kind="inspection", disk=Disk(), now=walks.clock())
    later.crew.take(Hands(observed_by="Kim Invented", entered_by="Kim Invented"))
    assert later.job.site == walked.job.site
    assert "# under the drive" in later.job.site_text
    later.close()
