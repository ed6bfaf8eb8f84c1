"""The report on paper: all of it stands there, hostile words stay words, nothing is asked for."""

from __future__ import annotations

import hashlib
import re
import tomllib
from collections.abc import Mapping
from dataclasses import replace
from functools import lru_cache
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any

import pytest

from commission.expected.netlist import netlist
from commission.job import Job
from commission.printing.code_square import code_square
from commission.printing.handover_sheet import handover_sheet
from commission.printing.loop_plot import loop_drawings
from commission.printing.svg import Scale, around, round_step
from commission.printing.voltage_profile import profile_drawing
from commission.profile import Loop, idle_profile, loops, worst_set_profile
from commission.report.examined import examined
from commission.report.review import Review, review
from commission.units import in_unit
from tests.expected.test_netlist import models, simulated
from tests.printing.html_read import Element, read_html
from tests.printing.qr_read import modules_of, read
from tests.report.sealing import INSPECTOR, countersigned
from tests.report.test_inspection import BOTH, begun, said
from tests.walks import (
    KEY,
    WRITER,
    answer,
    begin,
    first_open,
    good_answer,
    signoff,
    walk_to_the_end,
)  # fmt: skip

HOSTILE = "</td></svg><script>alert(1)</script>&\"'"


@lru_cache
def signed(sample: str = "small-garden", *, faulty: bool = False) -> bytes:
    """A report; of a faulty site with a bad loop, a low voltage, a defect and hostile words."""
    with TemporaryDirectory() as folder:
        session = begin(Path(folder), sample)
        while faulty and (step := first_open(session)) is not None:
            if step.item.compare == "loop-resistance" and step.target.box == "B6":
                answer(session, step, "5.9 ohm")
                session.raise_defect(step, "does not work", "B5", HOSTILE, "remade it")
            elif step.item.compare == "together-voltage":
                answer(session, step, "24 V")
            elif step.item.answer == "text":
                answer(session, step, HOSTILE)
            else:
                answer(session, step, good_answer(session, step))
        walk_to_the_end(session)
        session.sign(signoff(), KEY)
        session.close()
        return (session.job.folder / "report.toml").read_bytes()


def looked_at(content: bytes) -> tuple[Mapping[str, Any], Review, Job]:
    seen = examined(content, "report.toml")
    assert seen.report is not None
    assert seen.job is not None
    return seen.report, review(content, "report.toml", BOTH), seen.job


def sheet_of(content: bytes) -> str:
    return handover_sheet(*looked_at(content))


def pages(content: bytes) -> tuple[Element, Element]:
    owner, technical = read_html(sheet_of(content)).all("section")
    return owner, technical


def test_the_owner_reads_verdict_place_and_people_in_words() -> None:
    content = signed()
    owner, _technical = pages(content)
    report = tomllib.loads(content.decode())
    assert "ACCEPTED: everything that was asked for was done" in owner.text
    assert "In all" not in owner.text
    assert "6 stations on 1 path" in owner.text
    assert (
        "Path A: 675 ft of 14 AWG cable" in owner.text
    )  # 85 + 140 + 120 + 95 + 160 + 75 in the sample
    for box in report["register"]["box"]:
        assert any(
            row.text.startswith(f"A: {box['box']}") and box["location"] in row.text
            for row in owner.all("tr")
        )
    assert f"{WRITER}, installer" in owner.text
    assert "have the buried cable and pipes located" in owner.text
    assert "licensed person" in owner.text
    assert f"I received this report, a file with the SHA-256 {digest(content)}" in owner.text


def digest(content: bytes) -> str:
    return hashlib.sha256(content).hexdigest()


def test_a_receipt_quotes_the_report_as_it_was_received() -> None:
    before = countersigned(signed())
    content = countersigned(before, signs_as="owner", name="Olga Owner")
    owner, technical = pages(content)
    assert f"I received this report with the SHA-256 {digest(before)}" in owner.text
    assert f"With this receipt in it, the file has the SHA-256 {digest(content)}" in owner.text
    assert "The inspector Ines Look: COUNTERSIGNED" in owner.text
    last = technical.all("table")[-1].text
    assert all(digest(one) in last for one in (signed(), before, content))
    report = tomllib.loads(content.decode())
    assert all(one["fingerprint"] in last for one in report["signoff"])


def test_the_square_holds_the_digest_and_so_does_the_text_below_it() -> None:
    content = signed()
    _owner, technical = pages(content)
    (last,) = technical.all("div", "together")
    assert last.all("h2")[0].text == "This paper and its report file"  # stands alone on its sheet
    (square,) = technical.all("div", "square")
    (path,) = square.all("path")
    assert read(modules_of(str(path.attributes["d"]))) == digest(content)
    assert [one.text for one in technical.all("p", "digest")] == [digest(content)]
    other = read_html(code_square("0a" * 32)).all("path")[0]
    assert read(modules_of(str(other.attributes["d"]))) == "0a" * 32


def test_photos_and_documents_of_installer_and_inspector_are_listed(tmp_path: Path) -> None:
    """Each with its digest; which of two files of one name is whose stands above them."""
    photo, pdf = tmp_path / "photo.jpg", tmp_path / "certificate.pdf"
    session = begin(tmp_path, "small-garden")
    photo.write_bytes(b"the installer's, invented")
    session.attach(session.job.plan.steps[0], photo)
    session.sign(signoff(), KEY)
    session.close()
    inspection = begun(tmp_path, (session.job.folder / "report.toml").read_bytes())
    photo.write_bytes(b"the inspector's, invented")
    pdf.write_bytes(b"a certificate, invented")
    for file in (photo, pdf):
        inspection.attach(inspection.job.plan.steps[0], file)
    inspection.sign(said(), INSPECTOR)
    inspection.close()
    _owner, technical = pages((inspection.job.folder / "report.toml").read_bytes())
    listed = {
        tuple(cell.text for cell in row.all("td"))
        for row in technical.all("tr")
        if row.text.startswith("evidence/")
    }
    assert {sha256 for _file, sha256 in listed} == {
        digest(one)
        for one in (b"the installer's, invented", b"the inspector's, invented",
                    b"a certificate, invented")
    }  # fmt: skip
    headings = [one.text for one in technical.all("h2") if "Photos" in one.text]
    assert headings == [
        "Photos and documents, kept with the report",
        "Photos and documents of inspection 1, kept with its own job",
    ]
    assert not any("Photos" in one.text for one in pages(signed())[1].all("h2"))


def test_technical_pages_hold_every_end_station_box_and_reading() -> None:
    content = signed("two-paths")
    report, technical = tomllib.loads(content.decode()), pages(content)[1]
    rows = [[cell.text for cell in row.all("td")] for row in technical.all("tr")]
    for path in report["path"]:
        found = [r for part in (path, *path["end"]) for r in part.get("reading", [])]
        assert found
        for reading in found:
            assert any(
                row[0].endswith(reading["title"]) and row[2] == reading["measured"]
                for row in rows
                if len(row) == 5
            )
        for station in path["station"]:
            read = {c["measured"] for c in station["checks"] if "measured" in c}
            assert any(row[:1] == [str(station["number"])] and read < set(row) for row in rows)
    for decoder in report["register"]["decoder"]:
        words = [str(decoder[key]) for key in ("station", "address", "path", "box", "kind")]
        assert any(row[:5] == words for row in rows)
    assert "A-17" in technical.text  # the meter's serial number
    assert "Limit 10 ohm" in technical.text
    assert "No exception and no open defect stands in it" in technical.text


def test_what_stands_against_it_comes_first_and_hostile_words_stay_words() -> None:
    content = signed(faulty=True)
    owner, technical = pages(content)
    assert "HANDED OVER WITH EXCEPTIONS" in owner.text
    named = tomllib.loads(content.decode())["exception"]
    assert len(named) > 1
    assert f"In all: {len(named)} exceptions." in owner.text
    heads = [one.text for one in technical.all("h2")]
    assert heads[0].startswith("Exceptions, open defects")
    assert heads[1] == "Defects, open and closed"
    table = technical.all("table")[0]
    assert "Loop resistance: 3.5 ohm above the range" in table.text
    assert f"D1 (does not work) B5: {HOSTILE}" in table.text
    names = {one.name for one in technical.all()} | {one.name for one in owner.all()}
    assert "script" not in names
    assert technical.text.count(HOSTILE) > 10
    assert "FAIL; station 6; end of the path" in technical.all("svg")[0].text


def test_it_asks_for_nothing_and_is_the_same_each_time() -> None:
    content = signed()
    whole = sheet_of(content)
    assert whole == sheet_of(content)
    assert not re.search(r"://|url\(|@import|<script|<link|<img|<iframe|javascript:|xlink", whole)
    assert "default-src 'none'" in whole


def test_practice_and_doubts_stand_in_the_head_that_every_sheet_repeats() -> None:
    report, seen, job = looked_at(signed())
    for section in read_html(handover_sheet(report, seen, job)).all("section"):
        (head, *_others) = section.all("thead")
        assert "PRACTICE" in head.text
        assert seen.standing in head.text
    real = {key: value for key, value in report.items() if key != "practice"}
    drawn = read_html(handover_sheet(real, seen, job)).all("thead")[0].text
    assert "PRACTICE: an invented site" in drawn
    real["site"] = {key: value for key, value in report["site"].items() if key != "invented"}
    bare = read_html(handover_sheet(real, seen, job)).all("thead")[0].text
    assert "PRACTICE" not in bare


def test_the_profile_at_the_worst_is_what_a_circuit_simulator_says(tmp_path: Path) -> None:
    """Independent: ngspice solves the worst set in inrush; coils sit straight across the pair."""
    _report, _review, job = looked_at(signed())
    profile = worst_set_profile(job, "1")
    assert profile is not None
    coils = simulated(netlist(models(job.sheet)), tmp_path)
    kinds = job.site.decoder_kind
    assert all(kinds[one.decoder].output_resistance_ohm == 0 for one in job.site.station)
    at_boxes = [point.worst_v for point in profile.points if point.worst_v is not None]
    for volts in coils.values():
        assert any(one == pytest.approx(volts, rel=1e-6) for one in at_boxes)
    assert min(at_boxes) == pytest.approx(min(coils.values()), rel=1e-6)


def test_the_profile_runs_along_the_cable_and_falls() -> None:
    _report, _review, job = looked_at(signed("two-paths"))
    profile = worst_set_profile(job, "1")
    assert profile is not None
    segments = [s for path in job.site.path for s in path.segment]
    legs = list(profile.legs())
    assert len(legs) == len(segments)
    assert sorted(far.distance_m - near.distance_m for near, far in legs) == (
        pytest.approx(sorted(one.length_m for one in segments))
    )
    for near, far in legs:
        assert far.expected_v < near.expected_v
        assert near.worst_v is not None
        assert far.worst_v is not None
        assert far.worst_v < near.worst_v
        assert far.low_v < far.expected_v < far.high_v
    assert [one.verdict for one in profile.measured] == ["pass", "pass"]
    assert profile.measured[0].distance_m == 0


def test_a_point_is_drawn_where_its_numbers_are() -> None:
    _report, _review, job = looked_at(signed(faulty=True))
    profile = worst_set_profile(job, "1")
    assert profile is not None
    root = read_html(profile_drawing(profile, "ft"))
    dots = root.all("circle", "reading")
    assert len(dots) == 2
    level = {one.text: float(str(one.attributes["y"])) - 3 for one in root.all("text", "small")}
    low, high = level["22 V"], level["28 V"]
    low_dot = max(float(str(dot.attributes["cy"])) for dot in dots)
    assert low_dot == pytest.approx(low + (high - low) * (24 - 22) / (28 - 22), abs=0.1)
    assert "24.0 V fail" in root.text
    far_ft = in_unit(max(point.distance_m for point in profile.points), "ft", "length")
    assert far_ft == pytest.approx(85 + 140 + 160 + 75)


def test_voltages_at_the_ends_stand_beside_what_was_expected_with_nothing_running() -> None:
    _report, _review, job = looked_at(signed())
    profile = idle_profile(job, "1")
    drawn = profile_drawing(profile, "ft")
    root = read_html(drawn)
    dots = {round(float(str(one.attributes["cx"])), 1) for one in root.all("circle", "reading")}
    ends = [one.distance_m for one in profile.measured if one.box != "output"]
    assert len(dots) == 3  # the terminals and two ends
    assert [one.text for one in root.all("text", "bold")] == [
        f"{one.volts:.1f} V pass" for one in profile.measured
    ]
    across = sorted(dots)
    assert (across[2] - across[0]) / (across[1] - across[0]) == pytest.approx(
        max(ends) / min(ends), rel=1e-3
    )
    assert "minimum" not in root.text
    assert "inrush" not in root.text
    assert not root.all("line", "dashed")
    assert drawn in sheet_of(signed())


def test_a_reading_taken_at_other_mains_has_the_range_of_then_behind_it() -> None:
    _report, _review, job = looked_at(signed())
    profile = idle_profile(job, "1")
    assert "read then" not in profile_drawing(profile, "ft")
    then = replace(profile.measured[0], range_then=(24.0, 26.0), volts=25.0)
    root = read_html(profile_drawing(replace(profile, measured=(then,)), "ft"))
    assert "expected at the mains or soil read then" in root.text
    (bar, _in_the_key) = root.all("rect", "paper")
    (dot,) = root.all("circle", "reading")
    top = float(str(bar.attributes["y"]))
    middle = top + float(str(bar.attributes["height"])) / 2
    assert float(str(dot.attributes["cy"])) == pytest.approx(middle, abs=0.02)


def test_of_many_readings_only_what_is_no_pass_is_told_in_words() -> None:
    _report, _review, job = looked_at(signed("two-paths"))
    profile = idle_profile(job, "1")
    bad = replace(profile.measured[-1], verdict="fail")
    many = replace(profile, measured=(*profile.measured[:-1], bad))
    root = read_html(profile_drawing(many, "ft"))
    assert len(root.all("circle", "reading")) == len(many.measured)
    assert len(many.measured) > 3
    assert [one.text for one in root.all("text", "bold")] == [f"{bad.volts:.1f} V fail"]


def test_a_loop_lies_in_its_band_or_points_out_of_the_drawing() -> None:
    _report, _review, job = looked_at(signed(faulty=True))
    found = loops(job)
    assert [one.verdict for one in found] == ["pass", "pass", "fail", "fail"]
    (drawn,) = loop_drawings(found)
    root = read_html(drawn)
    marks = [_middle(one) for one in root.all("polygon", "reading")]
    bands = [_ends(one) for one in root.all("rect", "band")]
    lines = [float(str(one.attributes["x1"])) for one in root.all("line", "thin")]
    good, bad = marks[-len(found) :][:2], marks[-len(found) :][2]
    assert all(low < mark < high for mark, (low, high) in zip(good, bands[-4:], strict=False))
    assert bad > max(lines)
    assert "5.9 ohm, expected 2.32: fail" in root.text


def _middle(mark: Element) -> float:
    return sum(float(pair.split(",")[0]) for pair in _pairs(mark)) / len(_pairs(mark))


def _pairs(mark: Element) -> list[str]:
    return str(mark.attributes["points"]).split()


def _ends(band: Element) -> tuple[float, float]:
    start = float(str(band.attributes["x"]))
    return start, start + float(str(band.attributes["width"]))


def test_how_far_off_a_loop_is_counts_from_what_was_expected() -> None:
    half = Loop("A", "B1", False, 2.0, 1.9, 2.1, 1.9, 2.1, 2.1, None, "pass")
    assert half.off(2.1) == pytest.approx(0.05)


def test_scales_have_round_steps_and_hold_what_they_show() -> None:
    assert [round_step(one) for one in (0.9, 1.0, 1.1, 2.2, 3.0, 6.0, 0.03)] == (
        pytest.approx([1.0, 1.0, 2.0, 2.5, 5.0, 10.0, 0.05])
    )
    scale = Scale(0.0, 10.0, 100.0, 200.0)
    assert [scale.at(one) for one in (-5, 0, 5, 10, 99)] == [100, 100, 150, 200, 200]
    assert list(scale.ticks(5)) == [0, 2, 4, 6, 8, 10]
    low, high = around([20.0, 30.0], 1.0)
    assert low < 20 < 30 < high
    low, high = around([5.0], 1.0)
    assert high - low == pytest.approx(1.0)
