"""Added stations: what is new since the accepted report is marked, and the walk asks for it."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest

from commission.additions import added_at
from commission.crew import Hands
from commission.host import Disk
from commission.offered import offered
from commission.opening import open_job
from commission.session import Session
from commission.site.changes.drawing import edited_text
from commission.site.changes.kinds import AddBox, AddStation
from tests import walks


@pytest.fixture(scope="module")
def added(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Session]:
    """A box and a station spliced into an accepted path, in a job that follows its report."""
    folder: Path = tmp_path_factory.mktemp("added")
    first = walks.begin(folder, "small-garden")
    walks.walk_to_the_end(first)
    first.sign(walks.signoff(), walks.KEY)
    first.close()
    site = folder / "small-garden.toml"
    text = edited_text(site.read_text("utf-8"), AddBox("A", "B6", "B7", "30 ft", "45 ft"))
    station = AddStation("S7", 7, 107, "A", "B7", "single", "valve-1in")
    site.write_text(edited_text(text, station), encoding="utf-8")
    report = first.job.folder / "report.toml"
    session = open_job(report, kind="added", disk=Disk(), now=walks.clock())
    session.crew.take(Hands(walks.OBSERVER, walks.WRITER, walks.METER))
    yield session
    session.close()


@pytest.mark.parametrize(
    ("step_id", "answer"),
    [
        ("path/A/additions", "added to"),
        ("path/A/box/B7/box-touched", "new or opened"),  # it is new
        ("path/A/box/B6/box-touched", "new or opened"),  # its cable comes from the new box
        ("path/A/box/B5/box-touched", "new or opened"),  # it feeds the new box
        ("path/A/box/B4/box-touched", "not touched"),
        ("station/S7/station-new", "new"),
        ("station/S6/station-new", "accepted before"),
    ],
)
def test_what_is_new_is_proposed(added: Session, step_id: str, answer: str) -> None:
    known = offered(added, added.job.statuses[step_id])
    assert known.answer == answer
    assert known.words.startswith(f"Proposed: {answer}: ")


def test_without_a_report_nothing_is_proposed(tmp_path: Path) -> None:
    session = walks.begin(tmp_path, "small-garden", kind="added")
    status = session.job.statuses["path/A/additions"]
    assert added_at(session.job, status.step.target) is None
    assert offered(session, status).answer == ""
    session.close()


def test_the_walk_tests_the_new_part_before_it_is_joined_and_the_old_part_again(
    added: Session,
) -> None:
    while (step := walks.first_open(added)) is not None:
        text = offered(added, added.job.statuses[step.id]).answer
        walks.answer(added, step, text or walks.good_answer(added, step))
    done = list(added.job.statuses)
    insulation = [one for one in done if "insulation" in added.job.plan.by_id[one].item.id]
    loops = [one for one in done if one.endswith("/loop-resistance")]
    assert insulation
    assert done.index("path/A/not-joined") < min(map(done.index, insulation))
    assert max(map(done.index, insulation)) < min(map(done.index, loops))
    assert {one.split("/")[3] for one in loops} == {"B4", "B6"}
    assert "output/1/together/run" in done
    assert any(one.startswith("station/S7/valve") for one in done)
    assert any("earth" in one for one in done)
