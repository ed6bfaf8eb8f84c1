"""The inspector's sample: its size by counting, its order by hand, what the report adds to it."""

from __future__ import annotations

import hashlib
from collections import Counter
from dataclasses import replace
from itertools import combinations
from pathlib import Path

import pytest

from commission.checklist.plan import Step
from commission.host import Disk
from commission.job import Job
from commission.locate.readings import FieldTest
from commission.opening import open_job
from commission.resources import samples
from commission.sampling import drawn, sample, sample_size, seed
from commission.search import STAGE
from commission.session import Session
from tests import walks
from tests.report.years import LOOP, off, walked


@pytest.mark.parametrize(("number", "size"), [(40, 17), (100, 20)])
def test_sizes_that_find_ten_percent_bad_with_ninety_percent(number: int, size: int) -> None:
    """The two figures asked of the program; those of the hypergeometric distribution."""
    assert sample_size(number) == size


@pytest.mark.parametrize("number", range(1, 15))
def test_sizes_are_those_of_all_samples_counted_one_by_one(number: int) -> None:
    """Every sample that there is, drawn by hand: no formula of ours or others."""
    bad = set(range(max(1, number // 10)))

    def found(size: int) -> float:
        all_samples = list(combinations(range(number), size))
        return sum(not bad.isdisjoint(one) for one in all_samples) / len(all_samples)

    size = sample_size(number)
    assert found(size) >= 0.9 - 1e-12
    assert size == 0 or found(size - 1) < 0.9 - 1e-12


def test_other_shares_and_probabilities() -> None:
    """One bad of 10 is found with the probability n/10: 9 for 90 %, 5 for 50 %, 10 for 100 %."""
    assert [sample_size(10, 10, percent) for percent in (90, 50, 100)] == [9, 5, 10]
    assert sample_size(0) == 0


def test_the_order_is_that_of_the_digests() -> None:
    ids = [f"S{number}" for number in range(1, 41)]
    order = drawn(ids, "seed")
    by_hand = {one: hashlib.sha256(b"seed " + one.encode()).hexdigest() for one in ids}
    assert sorted(order) == sorted(ids)
    assert [by_hand[one] for one in order] == sorted(by_hand.values())
    assert drawn(reversed(ids), "seed") == order != drawn(ids, "another seed")


def test_no_station_is_preferred() -> None:
    """Of 2,000 seeds each of 40 stations is among 17 about as often: 850, deviation 22 (binomial).

    Five deviations are passed by fewer than one in a million.
    """
    ids = [f"S{number}" for number in range(1, 41)]
    counts = Counter(one for seed in range(2_000) for one in drawn(ids, str(seed))[:17])
    assert all(abs(count - 850) < 5 * 22.2 for count in counts.values())


def job_on(folder: Path, name: str = "two-paths") -> Job:
    """An inspection of a sample site, without an earlier report."""
    session = walks.begin(folder, name, kind="inspection")
    session.close()
    return session.job


def test_by_the_site_alone_it_holds_longest_ends_and_stations_at_random(tmp_path: Path) -> None:
    job = job_on(tmp_path)
    found = sample(job)
    site = job.site
    stations = [place for place in found.why if place.startswith("station/")]
    assert len(stations) == sample_size(len(site.station))
    for path, tree in job.sheet.drawing.trees.items():
        ends = [place for place in found.why if place.startswith(f"path/{path}/end/")]
        longest = max(tree.ends(), key=tree.distance_m)
        assert ends == [f"path/{path}/end/{longest}"]
        assert found.why[f"path/{path}/box/{longest}"] == "end in the sample"
    digest = hashlib.sha256(samples()["two-paths"].read_bytes()).hexdigest()
    first = drawn([one.id for one in site.station], f"{digest} {job.header.job}")[0]
    assert f"station/{first}" in found.why


def inspected(folder: Path, earlier: Path) -> Session:
    """An inspection of a signed job."""
    return open_job(earlier, kind="inspection", disk=Disk(), now=walks.clock())


def test_what_the_report_says_more_of_is_in_it(tmp_path: Path) -> None:
    """Failed, tested again, with a defect: each with its reason; and the rest by the digest."""
    session = walks.begin(tmp_path, "small-garden")
    loop = session.job.plan.by_id[LOOP]
    walks.walk_until(session, loop)
    for _again in range(2):
        walks.answer(session, loop, walks.good_answer(session, loop))
    walks.walk_to_the_end(session)
    valves = [s for s in session.job.plan.steps if s.item.id == "valve"]
    walks.answer(session, valves[0], walks.bad_answer(valves[0]))
    session.raise_defect(valves[1], "does not work", "box", "weeps", "new diaphragm")
    session.sign(walks.signoff(), walks.KEY)
    session.close()
    following = inspected(tmp_path, session.job.folder)
    following.close()
    found = following.sample
    failed, weeps = (f"station/{valve.target.station}" for valve in valves[:2])
    assert "fail in the report: Valve opens" in found.why[failed]
    assert "defect D1" in found.why[weeps]
    assert "tested again in the report: Loop resistance" in found.why["path/A/end/B4"]
    target = valves[1].target
    assert "defect D1" in found.why[f"path/{target.path}/box/{target.box}"]
    digest = hashlib.sha256((session.job.folder / "report.toml").read_bytes()).hexdigest()
    ids = [one.id for one in following.job.site.station]
    size = sample_size(len(ids))
    for station in drawn(ids, f"{digest} {following.job.header.job}")[:size]:
        assert f"random sample, {size} of {len(ids)}" in found.why[f"station/{station}"]
    assert "SHA-256 of the report's digest, this job's id" in found.words


def test_each_inspection_of_a_report_draws_its_own(tmp_path: Path) -> None:
    """Whoever signed the report cannot foresee it: the id of an inspection has random digits."""
    earlier = walked(tmp_path / "a", signed=True)
    orders = set()
    for place in range(4):
        following = open_job(
            earlier.folder, kind="inspection", new=place > 0, disk=Disk(), now=walks.clock()
        )
        following.close()
        ids = [one.id for one in following.job.site.station]
        orders.add(drawn(ids, seed(following.job)))
    assert len(orders) > 1


def test_a_sound_report_adds_nothing(tmp_path: Path) -> None:
    earlier = walked(tmp_path / "a", signed=True)
    worse = walked(tmp_path / "b", {LOOP: off(5.0)}, signed=True)
    counts = []
    for job in (earlier, worse):
        following = inspected(tmp_path, job.folder)
        following.close()
        told = [why for why in following.sample.why.values() if "in the report" in why]
        counts.append(len(told))
    assert counts[0] == 0
    assert counts[1] > 0


def test_the_sample_proposes_the_first_choice_for_what_is_in_it(tmp_path: Path) -> None:
    job = job_on(tmp_path)
    found = sample(job)
    asked = [step for step in job.plan.steps if step.item.offers == "sample"]
    choices = [step for step in asked if step.item.answer == "choose"]
    assert {step.item.id for step in choices} == {"box-sampled", "end-sampled", "station-sampled"}
    for step in choices:
        first, second = (choice.say for choice in step.item.choice)
        wanted = step.target.place() in found.why
        assert found.proposed(step) == (first if wanted else second)
        assert found.reason(step) == found.why.get(step.target.place(), "not in the sample")
    assert {found.holds(step) for step in choices} == {True, False}


def test_it_is_the_same_whatever_was_answered_since(tmp_path: Path) -> None:
    job = job_on(tmp_path)
    assert sample(replace(job, notices=("something",))) == sample(job)


def test_of_a_search_it_holds_the_boxes_whose_joint_was_opened_and_no_reading(
    tmp_path: Path,
) -> None:
    """What a search read tells of a fault since put right; an opened joint is worth a look."""
    folders = [tmp_path / "then", tmp_path / "now"]
    for folder in folders:
        folder.mkdir()
    session = walks.begin(folders[0], "small-garden")
    goal = walks.first(session, lambda step: step.item.id == "unbridged-again")
    walks.walk_until(session, goal)
    for test in (FieldTest("side", "A", "B2", beyond="B3"), FieldTest("loop", "A", "B5")):
        step: Step | None = session.take_up(test)
        while step is not None and step.id.startswith("search/"):
            text = "12 ohm" if step.item.answer == "measure" else "yes"
            walks.answer(session, step, text)
            step = walks.first_open(session)
    assert {s.verdict for s in session.job.statuses.values() if s.step.stage.id == STAGE} > {"fail"}
    session.close()
    job = job_on(folders[1], "small-garden")
    found = sample(replace(job, earlier_job=lambda: session.job)).why
    assert found["path/A/box/B2"] == "joint opened to find a fault"
    assert "path/A/box/B5" not in found
