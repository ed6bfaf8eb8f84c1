"""Two reports of one site: what changed beyond doubt, and what was there at handover."""

from __future__ import annotations

import random
import tomllib
from collections.abc import Iterable
from dataclasses import replace
from math import sqrt
from pathlib import Path
from typing import Any

import pytest
from GTC import ureal  # type: ignore[import-untyped]
from uncertainties import ufloat  # type: ignore[import-untyped]

from commission.job import Job
from commission.problems import InputRefused
from commission.record.entry import Entry
from commission.report.again import job_of
from commission.report.change import CANNOT, CHANGED, SEASON_FACTOR, UNCHANGED, changed_by
from commission.report.comparable import Comparable, as_read
from commission.report.compare import Comparison, compare, only_in, remarks
from commission.resources import samples
from commission.units import show
from tests import walks
from tests.report.years import EARTH, LOOP, OTHER_METER, REVERSED, SAMPLE, Answer, off, walked

COOL, WARM = {"job/soil-temperature": "41 °F"}, {"job/soil-temperature": "86 °F"}  # 5 and 30 °C


@pytest.fixture(scope="module")
def sound(tmp_path_factory: pytest.TempPathFactory) -> Job:
    """A job in which everything is as it should be."""
    return walked(tmp_path_factory.mktemp("sound") / "job")


def found(comparisons: Iterable[Comparison], step: str) -> Comparison:
    """The comparison of a step."""
    return next(one for one in comparisons if one.step == step)


def both(text: str) -> dict[str, Answer]:
    """The same reading with both polarities."""
    return {LOOP: text, REVERSED: text}


def test_nothing_changed_where_nothing_did(sound: Job, tmp_path: Path) -> None:
    compared = compare(sound, walked(tmp_path / "later"))
    assert {one.result for one in compared} == {UNCHANGED}
    assert all(one.handover is None for one in compared)
    assert {one.how for one in compared} == {
        "loop", "earth", "insulation", "expectation", "as read", "verdict", "worst set",
    }  # fmt: skip
    assert only_in(sound, sound) == ()


def test_a_report_gives_what_its_job_gives(sound: Job, tmp_path: Path) -> None:
    later = walked(tmp_path / "later", both("4.30 ohm"), signed=True)
    report = tomllib.loads((later.folder / "report.toml").read_text("utf-8"))
    assert compare(sound, job_of(report, "report.toml")) == compare(sound, later)


# Loops


# kt of IEC 60228 annex B: what a resistance measured at a temperature is multiplied with to give
# that at 20 °C. Printed values, the rounded form of 254.5/(234.5 + t): within 0.003.
KT = [("41 °F", 5.0, 1.064), ("50 °F", 10.0, 1.042), ("59 °F", 15.0, 1.020), ("77 °F", 25.0, 0.980),
      ("86 °F", 30.0, 0.962)]  # fmt: skip


@pytest.mark.parametrize(("soil", "soil_c", "printed"), KT)
def test_loops_are_brought_to_20_c_as_the_cable_standard_does(
    sound: Job, tmp_path: Path, soil: str, soil_c: float, printed: float
) -> None:
    later = walked(tmp_path / "later", {"job/soil-temperature": soil, **both("2.40 ohm")})
    at_20 = found(compare(sound, later), LOOP).now_si
    assert at_20 is not None
    assert at_20 / 2.40 == pytest.approx(printed, abs=0.003)
    assert at_20 / 2.40 == pytest.approx(254.5 / (234.5 + soil_c), rel=1e-4)


def test_one_cable_in_cool_and_in_warm_soil_is_unchanged(tmp_path: Path) -> None:
    cool = walked(tmp_path / "cool", {**COOL, **both(f"{2.30 / 1.064:.2f} ohm")})
    warm = walked(tmp_path / "warm", {**WARM, **both(f"{2.30 / 0.962:.2f} ohm")})
    loop = found(compare(cool, warm), LOOP)
    assert (loop.then, loop.now) == ("2.16 ohm", "2.39 ohm")
    assert loop.result == UNCHANGED
    assert loop.then_si == pytest.approx(2.30, abs=0.01)
    assert loop.now_si == pytest.approx(2.30, abs=0.01)


def test_the_same_reading_in_soil_known_to_be_warmer_is_a_change(tmp_path: Path) -> None:
    cool = walked(tmp_path / "cool", {**COOL, **both("2.20 ohm")})
    warm = walked(tmp_path / "warm", {**WARM, **both("2.20 ohm")})
    loop = found(compare(cool, warm), LOOP)
    assert loop.result == CHANGED
    assert loop.change.value == pytest.approx(2.20 * (0.962 - 1.064), abs=0.005)  # IEC 60228


def test_soil_that_nobody_measured_leaves_more_doubt(sound: Job, tmp_path: Path) -> None:
    """The sample says 59 °F ± 8 K; measured it is ± 3 K: rectangular, by 0.00393 per kelvin."""
    known = walked(tmp_path / "known", {"job/soil-temperature": "59 °F"})
    guessed = [walked(tmp_path / name, {"job/soil-temperature": None}) for name in ("then", "now")]
    wide = found(compare(*guessed), LOOP).change
    narrow = found(compare(sound, known), LOOP).change
    assert wide.u is not None
    assert narrow.u is not None
    ohm = found(compare(sound, known), LOOP).then_si
    assert ohm is not None
    per_k = ohm * 0.00393 / (1 - 0.00393 * 5)
    assert wide.u**2 - narrow.u**2 == pytest.approx(2 * (8**2 - 3**2) / 3 * per_k**2, rel=1e-3)


def test_a_joint_gone_bad_is_a_change_and_was_not_there(sound: Job, tmp_path: Path) -> None:
    later = walked(tmp_path / "later", {LOOP: off(2.0), REVERSED: off(2.0)})
    compared = compare(sound, later)
    loop = found(compared, LOOP)
    assert (loop.result, loop.verdict_then, loop.verdict_now) == (CHANGED, "pass", "fail")
    assert loop.change.value == pytest.approx(2.0 * 1.020, abs=0.006)  # IEC 60228, soil at 15 °C
    assert loop.change.seen is not None
    assert loop.change.seen < 0.2
    assert loop.handover is not None
    assert loop.handover.kind == "as expected"
    assert [one.step for one in compared if one.result == CHANGED] == [LOOP, "output/1/together"]


def test_a_change_smaller_than_the_doubt_is_none(sound: Job, tmp_path: Path) -> None:
    for name, ohm, result in (("small", 0.04, UNCHANGED), ("large", 0.15, CHANGED)):
        later = walked(tmp_path / name, {LOOP: off(ohm), REVERSED: off(ohm)})
        loop = found(compare(sound, later), LOOP)
        assert loop.change.u is not None
        assert loop.result == result
        assert (ohm > 2 * loop.change.u) == (result == CHANGED)


def test_no_circuit_where_there_was_one(sound: Job, tmp_path: Path) -> None:
    later = walked(tmp_path / "later", both("OL"))
    loop = found(compare(sound, later), LOOP)
    assert (loop.result, loop.change.why) == (CHANGED, "a circuit then, none now")


# Instruments


def by_gtc(now_ohm: float, then_ohm: float, *, one_meter: bool) -> float:
    """u of the difference of two loops at 20 °C, by GTC: an independent library for uncertainty.

    Soil 15 ± 3 K each day, ± 2 K in each of the four segments of the route to B4, copper by
    0.00393 per kelvin, a meter of ± (0.5 % + 2 x 0.01 ohm), both polarities read: rectangular.
    """
    lengths_ft = (85, 140, 120, 95)

    def half(width: float) -> Any:
        return ureal(0.0, width / sqrt(3))

    def at_20(ohm: float, gain: Any) -> Any:
        day_k = half(3)
        route_k = sum(half(2) * length for length in lengths_ft) / sum(lengths_ft)
        read = (ohm + half(0.02) + ohm + half(0.02)) / 2 * (1 + gain)
        return read / (1 + 0.00393 * (15 + day_k + route_k - 20))

    gain = half(0.005)
    change = at_20(now_ohm, gain) - at_20(then_ohm, gain if one_meter else half(0.005))
    return float(change.u)


@pytest.mark.parametrize("ohm", [2.22, 2.60, 4.30, 9.00])
def test_the_gain_of_one_meter_cancels_and_that_of_two_does_not(tmp_path: Path, ohm: float) -> None:
    soil = {"job/soil-temperature": "59 °F"}
    then = walked(tmp_path / "then", {**soil, **both("2.22 ohm")})
    for meter, one_meter in ((walks.METER, True), (OTHER_METER, False)):
        later = walked(tmp_path / meter.id, {**soil, **both(f"{ohm:.2f} ohm")}, meter=meter)
        loop = found(compare(then, later), LOOP)
        assert loop.change.u == pytest.approx(by_gtc(ohm, 2.22, one_meter=one_meter), rel=1e-6)
        assert any("its gain cancels" in note for note in loop.notes) == one_meter
    assert by_gtc(ohm, 2.22, one_meter=True) < by_gtc(ohm, 2.22, one_meter=False)


def test_the_law_of_the_difference_by_uncertainties() -> None:
    """d = now - then, read by one meter of ± (1 % + 0.1): by the `uncertainties` library."""
    gain = ufloat(1.0, 0.01 / sqrt(3))
    counts = [ufloat(0.0, 0.1 / sqrt(3)) for _ in range(2)]
    expected = (7.0 * gain + counts[1]) - (5.0 * gain + counts[0])
    entry = entry_of(5.0)
    change = changed_by(as_read(entry, "then"), as_read(replace(entry, value=7.0), "now"))
    assert change.value == pytest.approx(expected.n)
    assert change.u == pytest.approx(expected.s, rel=1e-9)


def entry_of(value: float) -> Entry:
    """An entry with a reading by a meter of ± (1 % + 10 x 0.01)."""
    return Entry(
        1, "answer", quantity="resistance", unit="ohm", relation="=", value=value, digit=0.01,
        instrument="m", instrument_serial="S-1", instrument_percent=1.0, instrument_counts=10.0,
        instrument_resolution=0.01,
    )  # fmt: skip


@pytest.mark.parametrize(
    "differing",
    [
        {"instrument_serial": ""},
        {"instrument_resolution": 0.1},
        {"instrument": "n"},
        {"instrument_percent": None},
    ],
)
def test_a_meter_without_serial_another_one_or_another_range_is_not_the_same(
    differing: dict[str, Any],
) -> None:
    entry = entry_of(5.0)
    other = replace(entry, **differing)
    names = [{part.cause for part in as_read(one, day).parts} for one, day in
             ((entry, "then"), (entry, "now"), (other, "now"))]  # fmt: skip
    assert len(names[0] & names[1]) == 1
    assert not names[0] & names[2]


def test_a_calibration_in_between_is_said(sound: Job, tmp_path: Path) -> None:
    meter = replace(walks.METER, calibration_due=None)
    loop = found(compare(sound, walked(tmp_path / "later", meter=meter)), LOOP)
    assert any("adjusted at a calibration in between" in note for note in loop.notes)


# Earth and insulation


@pytest.mark.parametrize(
    ("then", "now", "result"),
    [
        ("3.00 ohm", "5.75 ohm", UNCHANGED),  # 138/72 = 1.92: sandy loam, 20 °C to wet at 0 °C
        ("3.00 ohm", "6.90 ohm", CHANGED),
        ("5.75 ohm", "3.00 ohm", UNCHANGED),
        ("6.90 ohm", "3.00 ohm", CHANGED),
        ("3.00 ohm", "6.02 ohm", UNCHANGED),  # beyond the factor by less than the meter's counts
    ],
)
def test_an_earth_may_change_with_the_season(
    tmp_path: Path, then: str, now: str, result: str
) -> None:
    """Resistivity of sandy loam, 15 % water, ohm m: 72 at 20 °C, 138 at 0 °C unfrozen, 300 as ice.

    The table as copied from a handbook; that IEEE Std 142 prints it is from memory.
    """
    assert 138 / 72 < SEASON_FACTOR < 300 / 72
    jobs = [walked(tmp_path / day, {EARTH: read}) for day, read in (("then", then), ("now", now))]
    assert found(compare(*jobs), EARTH).result == result


@pytest.mark.parametrize(
    ("answers", "words"),
    [
        ({"job/soil-temperature": "32 °F"}, "frozen soil: soil at 32 °F now"),
        ({"job/soil-moisture": "frozen"}, "frozen soil: called frozen now"),
    ],
)
def test_frozen_soil_is_not_compared(
    sound: Job, tmp_path: Path, answers: dict[str, Answer], words: str
) -> None:
    earth = found(compare(sound, walked(tmp_path / "later", {**answers, EARTH: "9.00 ohm"})), EARTH)
    assert (earth.result, earth.change.why) == (CANNOT, words)


def test_an_earth_measured_another_way_is_not_compared(sound: Job, tmp_path: Path) -> None:
    later = walked(tmp_path / "later", {"controller/earth-method": "clamp"})
    compared = compare(sound, later)
    assert found(compared, EARTH).result == CANNOT
    assert "an answer before it led another way" in found(compared, EARTH).change.why
    assert found(compared, "controller/earth-clamp").result == CANNOT


def test_earths_by_the_slope_method_compare_what_three_readings_give(tmp_path: Path) -> None:
    """Four times the readings is four times the earth: the method is linear in them."""

    def readings(factor: float) -> dict[str, Answer]:
        steps = zip((20, 40, 60), (1.00, 1.50, 2.00), strict=True)
        return {
            "controller/earth-method": "slope method",
            **{f"controller/slope-{at}": f"{factor * ohm:.2f} ohm" for at, ohm in steps},
        }

    jobs = [walked(tmp_path / day, readings(factor)) for day, factor in (("1", 1.0), ("4", 4.0))]
    slope = found(compare(*jobs), "controller/slope-60")
    assert slope.then_si is not None
    assert slope.now_si == pytest.approx(4 * slope.then_si)
    assert slope.result == CHANGED


INSULATION = "path/A/insulation-first"


@pytest.mark.parametrize(
    ("then", "now", "result", "why"),
    [
        (">200 Mohm", ">200 Mohm", UNCHANGED, "above what the meter could show"),
        ("OL", ">200 Mohm", UNCHANGED, "above what the meter could show"),
        (">200 Mohm", "1.50 Mohm", CHANGED, "it fell below"),
        (">200 Mohm", "60.0 Mohm", CANNOT, "only a bound is known then"),  # within a factor of 4
        ("60.0 Mohm", ">200 Mohm", CANNOT, "only a bound is known now"),
        ("20.0 Mohm", ">200 Mohm", CHANGED, "it rose beyond"),
        ("OL", "1.50 Mohm", CANNOT, "over-range without a number"),
        ("9.00 Mohm", "3.00 Mohm", UNCHANGED, ""),  # 16 K warmer halve it 1.6 times
        ("9.00 Mohm", "1.50 Mohm", CHANGED, ""),
    ],
)
def test_insulation_within_weather_and_range(
    tmp_path: Path, then: str, now: str, result: str, why: str
) -> None:
    jobs = [
        walked(tmp_path / day, {INSULATION: read}) for day, read in (("then", then), ("now", now))
    ]
    insulation = found(compare(*jobs), INSULATION)
    assert (insulation.result, insulation.change.why[: len(why)]) == (result, why)


@pytest.mark.parametrize(
    ("now", "result", "why"),
    [
        ("<0.10 Mohm", UNCHANGED, "below what the meter could show"),
        ("0.05 Mohm", CANNOT, "only a bound is known then"),
        ("3.00 Mohm", CHANGED, "it rose beyond"),
    ],
)
def test_leaks_below_what_the_meter_shows(tmp_path: Path, now: str, result: str, why: str) -> None:
    step = "path/A/leak-first"
    jobs = [walked(tmp_path / day, {step: read}) for day, read in (("1", "<0.10 Mohm"), ("2", now))]
    leak = found(compare(*jobs), step)
    assert (leak.result, leak.change.why[: len(why)]) == (result, why)


def test_insulation_is_not_compared_with_another_test(sound: Job, tmp_path: Path) -> None:
    compared = compare(sound, walked(tmp_path / "later", kind="recheck"))
    insulation = found(compared, INSULATION)
    assert insulation.result == CANNOT
    assert "no such step" in insulation.change.why
    assert found(compared, "path/A/leak-first").result == UNCHANGED  # asked in both


# Voltages and currents

TERMINALS, MAINS = "path/A/output-voltage", "output/1/mains-voltage"


def test_voltages_are_compared_at_their_own_mains(sound: Job, tmp_path: Path) -> None:
    """A linear network: 5 % less mains is 5 % less at the terminals but for standby current."""
    assert found(compare(sound, sound), TERMINALS).then == "29.0131 V"
    answers = {MAINS: f"{0.95 * float(mains_v(sound)):.1f} V"}
    low = found(compare(sound, walked(tmp_path / "low", answers)), TERMINALS)
    assert float(low.now.split()[0]) == pytest.approx(0.95 * 29.0131, rel=0.002)
    assert low.result == UNCHANGED
    bad = found(
        compare(sound, walked(tmp_path / "bad", {**answers, TERMINALS: off(-3.0)})), TERMINALS
    )
    assert bad.result == CHANGED
    assert bad.change.value == pytest.approx(-3.0, abs=0.001)
    plain = found(compare(sound, walked(tmp_path / "raw", {TERMINALS: off(-0.2)})), TERMINALS)
    assert plain.result == UNCHANGED  # mains may move by 1 % between two readings


def mains_v(job: Job) -> float:
    """The mains as read in a job."""
    return job.conditions.mains_v["1"]


def test_voltages_without_mains_are_not_compared(sound: Job, tmp_path: Path) -> None:
    later = walked(tmp_path / "later", {MAINS: None})
    assert found(compare(sound, later), TERMINALS).change.why == "mains not measured now"
    assert found(compare(later, sound), TERMINALS).change.why == "mains not measured then"


def test_a_second_decoder_at_an_address_shows_in_the_current(sound: Job, tmp_path: Path) -> None:
    """Two coils draw twice the holding current, 0.19 A more by the sample's data sheet."""
    step = "station/S2/station-current"
    current = found(compare(sound, walked(tmp_path / "later", {step: off(0.19)})), step)
    assert current.result == CHANGED
    assert current.change.seen is not None
    assert current.change.seen < 0.19 / 2


# Stations, worst set, places


def test_a_station_that_worked_and_does_not(sound: Job, tmp_path: Path) -> None:
    later = walked(tmp_path / "later", {"station/S3/valve": "nothing"})
    valve = found(compare(sound, later), "station/S3/valve")
    assert (valve.result, valve.change.why) == (CHANGED, "worked then, not now")
    back = found(compare(later, sound), "station/S3/valve")
    assert (back.result, back.change.why) == (CHANGED, "did not work then")
    assert back.handover is not None
    assert back.handover.kind == "outside"
    indicator = found(compare(sound, later), "station/S3/indicator")
    assert (indicator.result, indicator.then, indicator.now) == (
        UNCHANGED, "as it should be", "as it should be",
    )  # fmt: skip


def test_a_valve_that_nobody_watched_cannot_be_compared(sound: Job, tmp_path: Path) -> None:
    later = walked(tmp_path / "later", {"station/S3/valve": None})
    valve = found(compare(sound, later), "station/S3/valve")
    assert (valve.result, valve.change.why) == (CANNOT, "skipped in the later report: no access")


def test_the_worst_set_then_and_now(sound: Job, tmp_path: Path) -> None:
    later = walked(tmp_path / "later", {LOOP: off(12.0), REVERSED: off(12.0)})
    worst = found(compare(sound, later), "output/1/together")
    assert (worst.verdict_then, worst.verdict_now, worst.result) == ("pass", "fail", CHANGED)
    assert worst.then_si is not None
    assert worst.now_si is not None
    assert 0 <= worst.now_si < worst.then_si <= 1
    assert any("loop-resistance at B4" in note for note in worst.notes)


NEW_BOX = '{ from = "B5", to = "B6"'
NEW_STATION = """
[[station]]
id = "S7"
number = 7
address = 107
path = "A"
box = "B7"
decoder = "single"
solenoid = [{ id = "V7", kind = "valve-1in" }]
"""


def grown() -> str:
    """The sample with one more box, on a branch of its own at B2, and a station in it."""
    text = samples()[SAMPLE].read_text("utf-8")
    assert text.count(NEW_BOX) == 1
    more = f'{{ from = "B2", to = "B7", length = "60 ft" }},\n    {NEW_BOX}'
    return text.replace(NEW_BOX, more) + NEW_STATION


def test_what_was_added_is_listed_and_the_rest_compared(sound: Job, tmp_path: Path) -> None:
    later = walked(tmp_path / "later", site=grown())
    compared = compare(sound, later)
    assert only_in(later, sound) == ("box B7 of path A", "station 7 (S7)")
    assert only_in(sound, later) == ()
    assert {one.result for one in compared} == {UNCHANGED}
    assert not any("S7" in one.step or "B7" in one.step for one in compared)
    assert found(compared, LOOP).notes == found(compare(sound, sound), LOOP).notes


def test_a_fault_of_what_was_added_was_not_there_at_handover(sound: Job, tmp_path: Path) -> None:
    later = walked(tmp_path / "later", {"station/S7/valve": "nothing"}, site=grown())
    valve = found(compare(sound, later), "station/S7/valve")
    assert (valve.result, valve.verdict_now) == (CANNOT, "fail")
    assert valve.handover is not None
    assert valve.handover.kind == "not in the earlier report"


def test_another_drawing_of_a_route_is_said(sound: Job, tmp_path: Path) -> None:
    text = samples()[SAMPLE].read_text("utf-8").replace('length = "95 ft"', 'length = "195 ft"')
    loop = found(compare(sound, walked(tmp_path / "later", site=text)), LOOP)
    assert any("the route is drawn otherwise" in note for note in loop.notes)


def test_another_site_is_said_and_refused_when_nothing_is_common(
    sound: Job, tmp_path: Path
) -> None:
    text = samples()[SAMPLE].read_text("utf-8")
    named = text.replace('name = "Juniper Court garden"', 'name = "Another garden (invented)"')
    later = walked(tmp_path / "named", site=named)
    assert compare(sound, later)
    assert any(one.startswith("two names of the site") for one in remarks(sound, later))
    strange = text.replace('id = "A"', 'id = "Z"').replace('path = "A"', 'path = "Z"')
    for number in range(1, 7):
        strange = strange.replace(f'id = "S{number}"', f'id = "T{number}"')
    with pytest.raises(InputRefused, match="no path, box or station has the same id"):
        compare(sound, walked(tmp_path / "strange", site=strange))


def test_remarks_tell_drafts_the_same_job_and_the_order(sound: Job, tmp_path: Path) -> None:
    signed = walked(tmp_path / "signed", signed=True)
    assert "the later one is a draft: nobody signed it, anything may still change" in remarks(
        signed, sound
    )
    assert "both are the same job" in remarks(signed, signed)
    begun = replace(signed.header, job="another", created_at=walks.START.replace(year=2041))
    turned = remarks(replace(signed, header=begun), sound)
    assert any("the right way" in one for one in turned)


# At handover


@pytest.mark.parametrize(
    ("then", "kind", "words"),
    [
        (off(3.0), "outside", "it failed then already"),
        (off(0.0), "as expected", "it passed then, at the value expected"),
        (off(0.02), "as expected", "near the middle"),
        (off(0.06), "upper part", "in the upper part of the range"),
        (off(-0.06), "lower part", "in the lower part of the range"),
        (None, "skipped", "skipped then: no access"),
    ],
)
def test_what_was_already_there_at_handover(
    tmp_path: Path, then: Answer, kind: str, words: str
) -> None:
    earlier = walked(tmp_path / "then", {LOOP: then, REVERSED: then})
    later = walked(tmp_path / "now", {LOOP: off(2.0), REVERSED: off(2.0)})
    loop = found(compare(earlier, later), LOOP)
    assert loop.handover is not None
    assert loop.handover.kind == kind
    assert words in loop.handover.words


def test_standard_uncertainties_are_those_of_the_range_that_was_used(tmp_path: Path) -> None:
    earlier = walked(tmp_path / "then", {LOOP: off(0.06), REVERSED: off(0.06)})
    entry = earlier.state.latest[LOOP]
    assert entry.value is not None
    assert entry.expected is not None
    assert entry.high is not None
    u = (entry.high - entry.expected) / 2  # the range is ± 2u (JCGM 100, k = 2)
    later = walked(tmp_path / "now", {LOOP: off(2.0), REVERSED: off(2.0)})
    handover = found(compare(earlier, later), LOOP).handover
    assert handover is not None
    assert (
        f"{(entry.value - entry.expected) / u:.1f} standard uncertainties above" in handover.words
    )


def test_a_limit_that_was_kept_is_told_with_what_was_left(tmp_path: Path) -> None:
    earlier = walked(tmp_path / "then", {EARTH: "8.00 ohm"})
    later = walked(tmp_path / "now", {EARTH: "14.00 ohm"})
    earth = found(compare(earlier, later), EARTH)
    assert (earth.result, earth.verdict_now) == (UNCHANGED, "fail")  # the season may do as much
    assert earth.handover is not None
    assert earth.handover.kind == "kept its limit"
    # Rectangular 0.5 % and 2 x 0.01 ohm of 8 ohm: u = √(0.04² + 0.02²)/√3 (JCGM 100 4.3.7).
    away = 2.0 / sqrt((0.04**2 + 0.02**2) / 3)
    assert f"{show(2.0, 'ohm', 'resistance', 2)} from its limit of 10.0" in earth.handover.words
    assert f"{away:.1f} standard uncertainties of the meter" in earth.handover.words


def test_a_retest_and_its_defect_are_told(tmp_path: Path) -> None:
    session = walks.begin(tmp_path, SAMPLE)
    loop = session.job.plan.by_id[LOOP]
    walks.walk_until(session, loop)
    walks.answer(session, loop, off(3.0)(session, loop))
    session.raise_defect(loop, "does not work", "box B4", "joint open", "remake the joint")
    walks.answer(session, loop, walks.good_answer(session, loop))
    walks.walk_to_the_end(session)
    session.close()
    later = walked(tmp_path / "now", {LOOP: off(2.0), REVERSED: off(2.0)})
    handover = found(compare(session.job, later), LOOP).handover
    assert handover is not None
    assert handover.kind == "as expected"
    assert "it had failed before that (" in handover.words
    assert "defect D1 was closed there: joint open" in handover.words


def test_a_step_left_open_was_not_measured(tmp_path: Path) -> None:
    session = walks.begin(tmp_path, SAMPLE)
    walks.walk_until(session, session.job.plan.by_id[LOOP])
    session.close()
    later = walked(tmp_path / "now", {LOOP: off(2.0), REVERSED: off(2.0)})
    loop = found(compare(session.job, later), LOOP)
    assert loop.result == CANNOT
    assert loop.change.why == "not tested in the earlier report"
    assert loop.handover is not None
    assert loop.handover.kind == "not measured"


# What is promised of 2u, and of what would have shown


def test_false_alarms_are_seldom_and_what_would_show_shows() -> None:
    """2,000 pairs of readings by meters drawn within their limits of error (JCGM 101).

    k = 2 leaves at most 6 in 100 outside (rectangular errors: fewer); a change as large as what
    "would have shown" is found 19 times of 20, by the normal law, so at least 93 in 100 here.
    """
    draw = random.Random(7)
    alarms = shown = 0
    for _ in range(2_000):
        gain = draw.uniform(-0.01, 0.01), draw.uniform(-0.01, 0.01)
        counts = [draw.uniform(-0.1, 0.1) for _ in range(3)]
        then = read_by(5.0 * (1 + gain[0]) + counts[0], "A-1")
        same = changed_by(then, read_by(5.0 * (1 + gain[1]) + counts[1], "B-2"))
        assert same.seen is not None
        more = read_by((5.0 + same.seen) * (1 + gain[1]) + counts[2], "B-2")
        alarms += same.result == CHANGED
        shown += changed_by(then, more).result == CHANGED
    assert alarms / 2_000 < 0.06
    assert shown / 2_000 > 0.93


def read_by(value: float, serial: str) -> Comparable:
    """A reading of ± (1 % + 0.1) by a meter with a serial."""
    day = "then" if serial == "A-1" else "now"
    return as_read(replace(entry_of(value), instrument_serial=serial), day)
