"""The picture of a path: every box once, the longest way down, what was found beside it."""

from __future__ import annotations

from pathlib import Path

import pytest

from commission.picture import BoxRow, path_picture
from commission.session import Session
from commission.tui.screens.picture import step_at
from tests import walks


def begun(folder: Path, sample: str) -> Session:
    """A job that was just begun."""
    session = walks.begin(folder, sample)
    session.close()
    return session


def lines(rows: tuple[BoxRow, ...]) -> list[str]:
    """The rows as they are drawn, without cable."""
    return [
        f"{row.branch}{row.box}" + "".join(f" {one.words}" for one in row.stations) for row in rows
    ]


def test_side_branches_stand_before_the_longest_way_one_step_to_the_right(tmp_path: Path) -> None:
    job = begun(tmp_path, "two-paths").job
    assert lines(path_picture(job, "A")) == [
        "terminals of output 1", "A1 100", "A2 1 2", "A3 3 4",
        "├─A4 5 6", "│ A5 7 8", "├─A6 9 10", "│ A7 11 12",
        "A8 13 14", "├─A11 18 19", "│ A12 20", "A9 15 16", "A10 17",
    ]  # fmt: skip


@pytest.mark.parametrize("sample", ["small-garden", "sixty-boxes", "converted-bundle"])
def test_every_box_and_station_is_drawn_once(tmp_path: Path, sample: str) -> None:
    job = begun(tmp_path, sample).job
    for path in job.site.path:
        tree = job.sheet.drawing.trees[path.id]
        rows = path_picture(job, path.id)
        assert sorted(row.box for row in rows[1:]) == sorted(tree.boxes[1:])
        drawn = [one.words for row in rows for one in row.stations]
        there = [str(s.number) for s in job.sheet.drawing.stations_on(path.id)]
        assert sorted(drawn) == sorted(there)
        assert {row.box for row in rows if row.end} == set(tree.ends())


def test_what_is_folded_away_is_counted(tmp_path: Path) -> None:
    job = begun(tmp_path, "two-paths").job
    whole, folded = path_picture(job, "A"), path_picture(job, "A", {"A3", "A10"})
    (row,) = [row for row in folded if row.hidden]
    assert row.box == "A3"
    assert len(folded) + row.hidden == len(whole)


def test_states_are_the_worst_of_what_was_found(tmp_path: Path) -> None:
    session = walks.begin(tmp_path, "small-garden")
    loop = walks.first(session, lambda step: step.item.compare == "loop-resistance")
    walks.walk_until(session, loop)
    expected = session.job.expectation(loop)
    assert expected is not None
    walks.answer(session, loop, walks.typed(expected.value * 3, loop))
    rows = {row.box: row for row in path_picture(session.job, "A")}
    end = rows[loop.target.box]
    assert end.end is not None
    assert (end.end.verdict, end.verdict, end.mark) == ("fail", "fail", "x")
    other = next(row for box, row in rows.items() if row.end and box != loop.target.box)
    assert (other.verdict, other.mark) == ("open", "·")
    walks.answer(session, loop, walks.typed(expected.value, loop))
    walks.walk_to_the_end(session)
    assert {row.verdict for row in path_picture(session.job, "A")} == {"pass"}
    session.close()


def test_a_box_chosen_leads_to_what_is_to_be_done_there(tmp_path: Path) -> None:
    job = begun(tmp_path, "small-garden").job
    step = job.plan.by_id[step_at(job, "A/B3")]
    boxes = {s.id: s.box for s in job.site.station}
    assert boxes.get(step.target.station, step.target.box) == "B3"
    assert job.plan.by_id[step_at(job, "A/output")].target.scope == "path"
    assert step_at(job, "A/nowhere") == ""
