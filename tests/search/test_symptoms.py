"""From a job to readings: what counts, what a repair supersedes, what is too vague."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Mapping
from contextlib import ExitStack
from dataclasses import replace
from pathlib import Path

import pytest

from commission.crew import Hands
from commission.electrical.instruments import Accuracy
from commission.locate.readings import FieldTest, Meter, Reading
from commission.search.symptoms import Symptoms, symptoms
from commission.session import Session
from tests import walks
from tests.search.faulty import Change, again, dead, loops, said, walked

Garden = Callable[..., Session]


@pytest.fixture
def garden(tmp_path: Path) -> Iterator[Garden]:
    """Makes a walked job, as `walked` does; it is closed afterwards."""
    with ExitStack() as opened:

        def make(changes: Mapping[str, Change], until: str = "") -> Session:
            session = walked(tmp_path, changes, until)
            opened.callback(session.close)
            return session

        yield make


def taken(session: Session) -> Symptoms:
    return symptoms(session.job, "1")


def readings(session: Session) -> dict[FieldTest, Reading]:
    return {reading.test: reading for reading in taken(session).readings}


def test_a_whole_job_tells_of_everything_that_the_search_knows(garden: Garden) -> None:
    session = garden({})
    found = readings(session)
    stations = [f"S{n}" for n in range(1, 7)]
    ends = ["B4", "B6"]
    expected = {
        *(FieldTest("loop", "A", end) for end in ends),
        *(FieldTest("voltage", "A", end) for end in ends),
        FieldTest("unbridged", "A"),
        FieldTest("voltage", "A"),
        FieldTest("current", "A"),
        *(FieldTest("current", "A", station=s) for s in stations),
        *(FieldTest("water", "A", station=s) for s in stations),
        *(FieldTest("indicator", "A", f"B{s[1:]}", s) for s in stations),
        *(FieldTest(kind, "A", conductor=c) for kind in ("insulation", "earth") for c in _BOTH),
    }
    assert set(found) == expected
    assert found[FieldTest("unbridged", "A")].value == math.inf
    loop = session.job.state.latest["path/A/end/B4/loop-resistance"]
    assert found[FieldTest("loop", "A", "B4")].value == pytest.approx(loop.value)
    assert found[FieldTest("water", "A", station="S3")].seen == {"S3"}
    assert taken(session).left_out == ()


_BOTH = ("first", "second")


def test_both_polarities_of_a_loop_are_one_reading(garden: Garden) -> None:
    end = "path/A/end/B4"
    session = garden({f"{end}/loop-resistance": said("2.00"), f"{end}/loop-reversed":
                     said("2.10")}, until="bridge-off")  # fmt: skip
    assert readings(session)[FieldTest("loop", "A", "B4")].value == pytest.approx(2.05)


def test_over_range_is_a_reading(garden: Garden) -> None:
    session = garden({"path/A/end/B4/loop-resistance": said("OL")}, until="loop-reversed")
    assert readings(session)[FieldTest("loop", "A", "B4")].value == math.inf


def test_the_meter_is_that_of_the_entries_the_widest_of_each_quantity(garden: Garden) -> None:
    """METER: loops ±(0.5 % + 2 x 0.01 ohm), volts ±(0.5 % + 2 x 0.01 V), ±(1 % + 2 x 0.1 mA)."""
    session = garden({})
    meter = taken(session).scene.meter
    assert meter.ohm == Accuracy(0.5, 1, 0.02)
    assert meter.volt == Accuracy(0.5, 1, 0.02)
    assert meter.amp == Accuracy(1.0, 1, 2 * 0.0001)
    assert taken(session).assumed == ()


def test_an_accuracy_that_is_not_known_is_named(garden: Garden) -> None:
    session = garden({}, "people")
    unknown = replace(walks.METER, accuracy=())
    session.crew.take(Hands(walks.OBSERVER, walks.WRITER, unknown))
    walks.walk_to_the_end(session)
    assert set(taken(session).assumed) == {"ohm", "volt", "amp"}
    assert taken(session).scene.meter == Meter()


def test_a_reading_at_another_mains_is_brought_to_that_of_now(garden: Garden) -> None:
    """Terminals idle at nearly E, which follows the mains: 2 % lower mains, 2 % lower volts."""
    session = garden({})
    test = FieldTest("voltage", "A")
    before = readings(session)[test].value
    mains = session.job.conditions.mains_v["1"]
    again(session, "output/1/mains-voltage", f"{mains * 0.98:.2f} V")
    assert readings(session)[test].value == pytest.approx(before * 0.98, rel=1e-3)
    loop = FieldTest("loop", "A", "B4")
    entry = session.job.state.latest["path/A/end/B4/loop-resistance"]
    assert readings(session)[loop].value == pytest.approx(entry.value)


def test_what_a_repair_supersedes_is_left_out_until_it_is_tested_again(garden: Garden) -> None:
    session = garden(loops("B4", "B6", ohm=3.0), until="unbridged-again")
    step = session.job.plan.by_id["path/A/end/B4/loop-resistance"]
    session.raise_defect(step, "does not work", "B1", "a bad joint", "remake it")
    at_b6 = FieldTest("loop", "A", "B6")
    assert at_b6 in readings(session)
    again(session, step.id)
    again(session, "path/A/end/B4/loop-reversed")
    assert at_b6 not in readings(session)
    assert any("read before D1 was put right" in words for words in taken(session).left_out)
    again(session, "path/A/end/B6/loop-resistance")
    again(session, "path/A/end/B6/loop-reversed")
    assert at_b6 in readings(session)
    assert taken(session).left_out == ()


def test_withdrawn_entries_do_not_count(garden: Garden) -> None:
    session = garden({}, until="loop-reversed")
    entry = session.job.state.latest["path/A/end/B4/loop-resistance"]
    assert FieldTest("loop", "A", "B4") in readings(session)
    session.withdraw(entry.number, "bridged at the wrong box")
    assert FieldTest("loop", "A", "B4") not in readings(session)


def test_other_boxes_count_as_watched_only_once_they_were(garden: Garden) -> None:
    session = garden(dead("S2"), until="end")
    water = FieldTest("water", "A", station="S2")
    assert readings(session)[water] == Reading(water)


def test_a_valve_seen_before_the_other_boxes_were_says_nothing_of_them(garden: Garden) -> None:
    session = garden({}, "valve")
    step = session.job.plan.by_id["station/S1/valve"]
    walks.answer(session, step, "nothing")
    water = FieldTest("water", "A", station="S1")
    assert readings(session)[water] == Reading(water, elsewhere=False)


@pytest.mark.parametrize(
    ("changes", "words"),
    [
        ({"station/S2/indicator": said("something else")}, "neither as it should be nor dark"),
        ({"station/S2/valve": said("clicks, no water")}, "so it has power"),
        ({"station/S2/others-dry": said("no"), "station/S2/which-other": said("the one by the "
          "gate")}, "its number is not told"),
    ],
)  # fmt: skip
def test_what_is_too_vague_is_named(garden: Garden, changes: dict[str, Change], words: str) -> None:
    session = garden(changes)
    assert any(words in one for one in taken(session).left_out)


def test_another_station_that_answered_is_told_by_its_number(garden: Garden) -> None:
    session = garden(
        {
            "station/S2/valve": said("nothing"),
            "station/S2/others-dry": said("no"),
            "station/S2/which-other": said("number 5"),
        },
    )
    test = FieldTest("water", "A", station="S2")
    assert readings(session)[test].seen == {"S5"}


def test_the_box_of_the_last_entry_is_open(garden: Garden) -> None:
    session = garden({}, until="loop-reversed")
    assert taken(session).open_boxes == {"B4"}
