"""The blank sheet: every step to be done, in the order of the walk, with what to expect."""

from __future__ import annotations

import re
import tomllib
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest
import tomli_w

from commission.checklist.load import parse_checklist
from commission.checklist.plan import Step, build_plan
from commission.expected.sheet import Sheet
from commission.expected.values import Expectation
from commission.host import Disk
from commission.locate.readings import FieldTest
from commission.opening import read_job
from commission.printing.blank import Blank, open_in
from commission.printing.blank_sheet import COLUMNS, blank_sheet
from commission.resources import checklists, samples
from commission.session import Session
from commission.site.load import parse_site
from tests.printing.html_read import Element, read_html
from tests.printing.sheet_read import cells_of, step_ids
from tests.walks import begin, first, good_answer, walk_to_the_end, walk_until

MARKUP = "<b>&\"'</td>"


def blank_of(site_text: bytes, checklist_text: bytes) -> Blank:
    site, checklist = parse_site(site_text, "site"), parse_checklist(checklist_text, "checklist")
    sheet = Sheet(site)
    plan = build_plan(checklist, site, sheet.drawing.trees, sheet.worst_sets)

    def expectation(step: Step) -> Expectation | None:
        return sheet.expectation(step.item.compare, step.target) if step.item.compare else None

    return Blank(site, checklist.job, plan, plan.steps, expectation)


def sample_blank(sample: str, checklist: str = "new-installation") -> Blank:
    return blank_of(samples()[sample].read_bytes(), checklists()[checklist].read_bytes())


def ids(element: Element) -> list[str]:
    return step_ids(element).listed


def row_of(root: Element, step: str) -> Element:
    return next(
        row
        for table in root.all("table", "steps")
        for row in table.all("tr")
        if [one.text for one in row.all("div", "id")] == [step]
    )


def cell_of(root: Element, step: str) -> Element:
    front, _, item = step.rpartition("/")
    tables = [cells_of(table) for table in root.all("table", "places")]
    return next(t[front][item] for t in tables if item in t.get(front, {}))


@pytest.fixture
def session(tmp_path: Path) -> Iterator[Session]:
    opened = begin(tmp_path, "small-garden")
    yield opened
    opened.close()


@pytest.mark.parametrize("sample", ["small-garden", "two-paths", "converted-bundle"])
@pytest.mark.parametrize("checklist", checklists())
def test_every_step_stands_once_and_in_the_order_of_the_walk(sample: str, checklist: str) -> None:
    blank = sample_blank(sample, checklist)
    root = read_html(blank_sheet(blank))
    found = step_ids(root)
    assert len(found.listed) == len(set(found.listed))
    assert set(found.listed).isdisjoint(found.later)
    assert {*found.listed, *found.later} == {step.id for step in blank.plan.steps}
    assert all(blank.plan.by_id[one].conditions for one in found.later)
    pages = root.all("section")
    assert all(ids(page) for page in pages)
    for page in pages:
        places = [blank.plan.place[step] for step in ids(page)]
        assert places == sorted(places)
    headings = [page.all("h1")[0].text for page in pages]
    paths = [f"{blank.site.site.name}: Path {path.id}" for path in blank.site.path]
    assert "controller and earth" in headings[0]
    assert [h for h in headings if ": Path " in h] == [
        next(h for h in headings if h == path or h.startswith(f"{path} ")) for path in paths
    ]


def test_a_row_has_room_to_write_and_a_page_is_headed_on_every_paper() -> None:
    blank = sample_blank("small-garden")
    root = read_html(blank_sheet(blank))
    for section in root.all("section"):
        assert blank.site.site.name in section.all("thead")[0].text
    for table in root.all("table", "steps"):
        assert [one.text for one in table.all("thead")[0].all("th")] == [*COLUMNS.values()]
        for row in table.all("tr", "room"):
            cells = row.all("td")
            assert len(cells) == len(COLUMNS) == len(table.all("col"))
            assert [cell.text for cell in cells[4:]] == [""] * 4
            assert cells[3].text == "" or cells[3].all("span", "box")
    for table in root.all("table", "places"):
        heads = [one.text for one in table.all("thead")[0].all("th")]
        assert heads[-3:] == ["Who", "Time", "Note"]
        for row in table.all("tbody")[0].all("tr"):
            assert len(row.all("td")) == len(heads) == len(table.all("col"))


def test_what_to_expect_stands_beside_its_unit() -> None:
    root = read_html(blank_sheet(sample_blank("small-garden")))
    insulation = row_of(root, "path/A/insulation-first").all("td")
    # IEC 60364-6: at least 0.5 MΩ for extra-low voltage
    assert [cell.text for cell in insulation[1:3]] == ["at least 0.500", "Mohm"]
    earth = next(row for row in root.all("tr", "room") if "earth-resistance" in row.text)
    assert earth.all("td")[1].text == "at most 10.0"  # common practice, no source


def test_a_loop_is_expected_where_the_tables_of_wire_have_it() -> None:
    readme = (Path(__file__).parents[2] / "README.md").read_text("utf-8")
    example = re.search(r"<!-- example: site -->\n```toml\n(.*?)\n```", readme, re.DOTALL)
    assert example is not None
    checklist = checklists()["new-installation"].read_bytes()
    root = read_html(blank_sheet(blank_of(example[1].encode(), checklist)))
    words = cell_of(root, "path/A/end/B3/loop-resistance").text
    found = re.fullmatch(r"([0-9.]+) to ([0-9.]+)", words)
    assert found is not None
    low, high = map(float, found.groups())
    # 14 AWG solid copper: 2.525 ohm per 1000 ft at 20 °C (ASTM B258 with IEC 60028), there and
    # back over 85 + 1100 ft; soil at 15 °C (0.00393 per K); four joints of 5 milliohm.
    expected = 2 * 1185 * 2.525e-3 * (1 - 5 * 0.00393) + 0.02
    assert (low + high) / 2 == pytest.approx(expected, rel=0.01)
    assert low < expected < high


def test_hold_points_supply_and_cautions_are_seen() -> None:
    blank = sample_blank("small-garden")
    root = read_html(blank_sheet(blank))
    holding = {step.stage.title for step in blank.plan.steps if step.stage.hold_point}
    held = [one.text for one in root.all("div", "hold")]
    assert holding
    assert all(any(title in text and "HOLD POINT" in text for text in held) for title in holding)
    for step in blank.plan.switching_on:
        assert "SWITCHES THE SUPPLY ON" in row_of(root, step.id).text
    for step in blank.plan.isolating:
        assert "ISOLATES THE SUPPLY" in row_of(root, step.id).text
    for page in root.all("section"):
        assert "isolate, lock off, prove dead" in page.text
        for step in (blank.plan.by_id[one] for one in ids(page)):
            assert all(words in page.text for _name, words in step.caution)
    assert "PRACTICE" in root.all("section")[0].text
    real = replace(blank, site=replace(blank.site, site=replace(blank.site.site, invented=False)))
    assert "PRACTICE" not in blank_sheet(real)


def test_where_the_walk_goes_back_a_page_it_is_said() -> None:
    root = read_html(blank_sheet(sample_blank("two-paths", "converted-cable")))
    assert "First, on a later page: Path B" in root.all("section")[1].text
    assert "First, on a later page" not in blank_sheet(sample_blank("two-paths"))


def test_of_a_job_only_what_is_open_stands_there(session: Session) -> None:
    whole = open_in(session.job)
    told = step_ids(read_html(blank_sheet(whole)))
    assert {*told.listed, *told.later} == {s.id for s in session.job.plan.steps}
    loop = first(session, lambda step: step.item.compare == "loop-resistance")
    walk_until(session, loop)
    root = read_html(blank_sheet(open_in(session.job)))
    statuses = session.job.statuses
    found = ids(root)
    assert loop.id in found
    assert {one for one in found if one in statuses} == {
        status.step.id for status in statuses.values() if status.state == "open"
    }
    assert session.job.header.job in root.text
    assert f"after entry {len(session.job.state.entries)}" in root.text


def test_what_depends_on_an_open_answer_says_so_and_what_is_settled_is_gone(
    session: Session,
) -> None:
    job = session.job
    depending = next(s for s in job.plan.steps if s.conditions and s.id not in job.statuses)
    other, wanted = depending.conditions[0]
    row = row_of(read_html(blank_sheet(open_in(job))), depending.id)
    assert f"Only if {job.plan.by_id[other].title}: {' or '.join(wanted)}" in row.text
    assert depending.target.scope == "controller"
    asked = job.plan.by_id[other]
    walk_until(session, asked)
    choices = [one.say for one in asked.item.choice] or ["yes", "no"]
    session.answer(asked, next(one for one in choices if one not in wanted))
    assert depending.id not in ids(read_html(blank_sheet(open_in(session.job))))


def test_what_is_to_be_done_again_says_why(session: Session) -> None:
    walk_to_the_end(session)
    isolating = session.job.plan.isolating[0]
    session.answer(isolating, good_answer(session, isolating))
    again = {s.step.id: s.again for s in session.job.statuses.values() if s.again}
    root = read_html(blank_sheet(open_in(session.job)))
    assert set(ids(root)) == set(again)
    placed = {one.text for one in root.all("p", "caution")}
    assert {one.rpartition("/")[2] for one in again} >= {"bridge-off"}
    for step, why in again.items():
        if f"{step}: AGAIN: {why}" in placed:
            assert "AGAIN" in cell_of(root, step).text
        else:
            assert f"AGAIN: {why}" in row_of(root, step).text


FREE = {
    "name", "address", "client", "note", "label", "description", "serial", "location", "waters",
    "lot", "marking", "make", "model", "title", "about", "ask", "why", "say",
}  # fmt: skip


def marked(value: Any, key: str = "") -> Any:
    """A file's content with markup as every free text."""
    if isinstance(value, dict):
        if key == "caution":
            return dict.fromkeys(value, MARKUP)
        return {name: marked(one, name) for name, one in value.items()}
    if isinstance(value, list) and key != "is":
        return [marked(one, key) for one in value]
    return MARKUP if key in FREE and isinstance(value, str) else value


def test_markup_in_every_text_of_the_files_stays_text() -> None:
    plain = read_html(blank_sheet(sample_blank("two-paths")))
    site = marked(tomllib.loads(samples()["two-paths"].read_text("utf-8")))
    checklist = tomllib.loads(checklists()["new-installation"].read_text("utf-8"))
    stages = marked(checklist["stage"])
    for stage, told in zip(stages, checklist["stage"], strict=True):
        for item, before in zip(stage["item"], told["item"], strict=True):
            if "choice" in before:  # two choices are told apart by their words
                for number, choice in enumerate(item["choice"]):
                    choice["say"] = f"{MARKUP}{number}"
            item.pop("when", None)
    checklist = {**marked({k: v for k, v in checklist.items() if k != "stage"}), "stage": stages}
    blank = blank_of(tomli_w.dumps(site).encode(), tomli_w.dumps(checklist).encode())
    root = read_html(blank_sheet(blank))
    assert {one.name for one in root.all()} <= {one.name for one in plain.all()}
    attributes = {(name, value) for one in root.all() for name, value in one.attributes.items()}
    assert attributes <= {(n, v) for one in plain.all() for n, v in one.attributes.items()} | {
        ("class", "stage"), ("class", "stage hold"), ("class", "hold"),
    }  # fmt: skip
    assert all(one.text.endswith(MARKUP) for one in root.all("div", "title"))
    assert all(MARKUP in page.text for page in root.all("section"))


def test_a_test_of_a_search_stands_apart_within_its_stage(session: Session) -> None:
    """A bridge that is on has to come off: by paper too, and nothing else is called a search."""
    goal = first(session, lambda step: step.item.id == "unbridged-again")
    walk_until(session, goal)
    bridge = session.take_up(FieldTest("loop", "A", "B3"))
    assert "search/A/B3" not in blank_sheet(open_in(read_job(session.job.folder, Disk())))
    session.answer(bridge, "yes")
    root = read_html(blank_sheet(open_in(session.job)))
    of_path = next(one for one in root.all("section") if "search/A/B3/loop" in ids(one))
    parts = [one for one in of_path.all("h2") if one.text]
    assert sum("Finding a fault" in one.text for one in parts) == 1
    listed = ids(of_path)
    start = listed.index("search/A/B3/loop")
    assert listed[start + 1] == "search/A/B3/loop/bridge-off"
    assert not any(one.startswith("search/") for one in listed[:start] + listed[start + 2 :])


def test_what_is_the_same_at_many_places_is_told_once_and_what_differs_in_each_row() -> None:
    blank = sample_blank("two-paths")
    root = read_html(blank_sheet(blank))
    (table,) = (one for one in root.all("section")[1].all("table", "places") if "valve" in one.text)
    stations = {one.id: one for one in blank.site.station}
    for row in table.all("tbody")[0].all("tr"):
        identity = row.all("td")[0].text.removeprefix("station/")
        one = stations[identity]
        assert row.all("td")[1].text == f"{one.number}, {one.box}, {one.address}"
    told = root.text
    assert told.count("Call address [address]. Does the decoder in box [box]") == 2  # once a path
    assert "solenoids V5a and V5b" in cell_of(root, "station/S5/valve").text
    assert "at most 60.0" in cell_of(root, "station/S5/closing-time").text  # the sample's limit


def test_what_is_asked_only_when_something_is_wrong_is_told_once_with_lines_to_write() -> None:
    root = read_html(blank_sheet(sample_blank("two-paths")))
    waiting = root.all("section")[1].all("div", "waiting")[0]
    assert "Only if Other boxes dry: no: ROW/which-other" in waiting.text
    assert "closing-time" not in waiting.text  # asked when all goes well: a column
    assert "station/S1/coil" in step_ids(root).later
    lines = waiting.all("table")[0]
    assert lines.all("th")[0].text.startswith("Step id")
    assert len(lines.all("tbody")[0].all("tr")) >= 4


def test_of_a_row_partly_done_the_rest_stands_there(session: Session) -> None:
    wanted = first(session, lambda step: step.id == "station/S2/station-current")
    walk_until(session, wanted)
    root = read_html(blank_sheet(open_in(session.job)))
    found = step_ids(root)
    assert wanted.id in found.listed
    assert "station/S2/address" not in found.listed
    assert "station/S2/coil" not in found.later  # its valve opened
    assert "station/S3/coil" in found.later
    assert "station/S1/valve" not in found.listed
