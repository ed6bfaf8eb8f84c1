"""The flat list of expected values against the sheet for programs, and what differs."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest

from commission.commands.expect_json import document
from commission.expected import numbers as module
from commission.expected.numbers import Difference, Number, differences, numbers
from commission.expected.sheet import Sheet, Spot
from commission.resources import samples
from commission.site.changes.drawing import edited
from commission.site.changes.kinds import AddEnd, Length, Rename
from commission.site.load import load_site

GARDEN = samples()["small-garden"].read_text("utf-8")


def listed(sheet: Sheet) -> dict[tuple[str, str], Number]:
    found = [one for portion in numbers(sheet) for one in portion]
    by_name = {(one.where, one.what): one for one in found}
    assert len(by_name) == len(found)
    return by_name


@pytest.mark.parametrize("name", sorted(samples()))
def test_they_are_the_numbers_of_the_sheet(name: str) -> None:
    sheet = Sheet(load_site(samples()[name]))
    found, whole = listed(sheet), document(sheet)
    numbers_of = {s.id: s.number for s in sheet.site.station}
    for output in whole["outputs"]:
        where = f"output {output['output']}"
        together = output["together"]
        lowest = found[where, "lowest coil volts, worst set"]
        assert lowest.value == pytest.approx(together["inrush_voltage_v"], rel=1e-12)
        for what, key in (
            ("the same, pulling in last", "staggered_voltage_v"),
            ("the same, all held", "holding_voltage_v"),
        ):
            assert found[where, what].value == pytest.approx(together[key], rel=1e-12)
        works = found[where, "will it work"]
        assert works.value == pytest.approx(together["probability_above_minimum"], rel=1e-12)
        stations = ", ".join(str(numbers_of[one]) for one in together["stations"])
        assert found[where, "worst set that may run"].words == f"stations {stations}"
        for path in output["paths"]:
            for end in path["ends"]:
                loop = found[f"path {path['path']}, end {end['box']}", "loop resistance"]
                assert loop.value == pytest.approx(end["loop_resistance_ohm"], rel=1e-12)
            for station in path["stations"]:
                volts = found[
                    f"station {numbers_of[station['station']]}", "coil volts, inrush, worst"
                ]
                assert volts.value == pytest.approx(station["inrush_voltage_v"], rel=1e-12)
                held = found[f"station {numbers_of[station['station']]}", "coil volts, held, worst"]
                assert held.value == pytest.approx(station["holding_voltage_v"], rel=1e-12)


def test_a_longer_cable_changes_what_lies_behind_it() -> None:
    before, after = (
        listed(Sheet(site)).values()
        for site in (
            load_site(samples()["small-garden"]), edited(GARDEN, Length("A", "B4", "295 ft"))[1],
        )
    )  # fmt: skip
    found = differences(before, after)
    names = [(one.number.where, one.number.what) for one in found.shown]
    assert ("path A, end B4", "loop resistance") in names
    assert ("station 4", "box volts, running") in names
    assert ("path A, end B6", "loop resistance") not in names
    loop = found.shown[0]
    assert loop.before
    assert loop.after
    assert loop.after.value > loop.before.value
    # 200 ft more of a 14 AWG pair: ASTM B258's diameter, 1/58 ohm mm²/m and 0.00393/K of IEC 60028.
    area_mm2 = math.pi / 4 * (0.127 * 92 ** (22 / 39)) ** 2
    more_ohm = 2 * 200 * 0.3048 / 58 / area_mm2 * (1 - 0.00393 * 5)
    assert loop.after.value - loop.before.value == pytest.approx(more_ohm, rel=1e-4)


def test_a_label_changes_nothing_and_an_end_that_moved_is_said() -> None:
    before = listed(Sheet(load_site(samples()["small-garden"]))).values()
    same = listed(Sheet(edited(GARDEN, Rename("box", "B2", "Fork"))[1])).values()
    assert differences(before, same).shown == ()
    assert differences(before, same).unseen == 0
    moved = listed(Sheet(edited(GARDEN, AddEnd("A", "B6", "B8", "50 ft"))[1])).values()
    words = [f"{d.number.where}: {d.words}" for d in differences(before, moved).shown]
    assert any("end B8" in one and one.endswith("is new") for one in words)
    assert any("end B6" in one and one.endswith("is not asked any more") for one in words)
    unfinished = differences(before, list(moved)[:1], whole=False)
    assert all(one.after for one in unfinished.shown)


def test_the_range_of_a_station_is_that_of_its_step() -> None:
    """At once on a small site; on a large one when it is looked at."""
    for name in ("small-garden", "sixty-boxes"):
        sheet = Sheet(load_site(samples()[name]))
        station = sheet.site.station[-1]
        path = sheet.drawing.path_of[station.path]
        spot = Spot(path.output, path.id, station.box, station.id)
        found = listed(sheet)[f"station {station.number}", "box volts, running"]
        expected = sheet.expectation("station-voltage", spot)
        assert expected is not None
        assert found.value == pytest.approx(expected.value, rel=1e-9)
        assert found.ranged().range_words == expected.between("V")
        assert found.ranged().range_words in found.with_range


def test_ranges_that_take_their_time_are_found_when_looked_at(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    sheet = Sheet(load_site(samples()["small-garden"]))
    place = "station 6", "path current, running"
    at_once = listed(sheet)[place]
    monkeypatch.setattr(module, "_RANGES_AT_ONCE", 0)
    later = listed(sheet)[place]
    assert later.range_words == ""
    assert later.with_range == at_once.in_full


def test_the_chart_rule_by_hand() -> None:
    """The last station of the garden, alone in inrush, by the rule that sizing charts are made of.

    Constants: IEC 60028 copper, ASTM B258 diameter, 0.00393 /K; the rest are the sample's inputs.
    """
    sheet = Sheet(load_site(samples()["small-garden"]))
    site = sheet.site
    output, supply = site.output[0], site.supply
    assert output.rating_va is not None
    assert output.regulation is not None
    kind = site.solenoid_kind["valve-1in"]
    standby_a = 6 * site.decoder_kind["single"].standby_current_a
    area_mm2 = math.pi / 4 * (0.127 * 92 ** (22 / 39)) ** 2
    warm = 1 + 0.00393 * (site.soil.warmest_c - 20)
    route_m = (85 + 140 + 160 + 75) * 0.3048
    route_ohm = 2 * route_m / 58 / area_mm2 * warm + 4 * 2 * 0.005
    open_v = output.rated_voltage_v * (1 + output.regulation)
    zs_ohm = (open_v - output.rated_voltage_v) / (output.rating_va / output.rated_voltage_v)
    lowest = 1 - supply.lowest_fraction_below
    by_hand = open_v * lowest - (zs_ohm + route_ohm) * (kind.inrush_current_a + standby_a)
    found = listed(sheet)["station 6", "box volts by the chart"]
    assert found.value == pytest.approx(by_hand, rel=2e-3)
    assert found.range_words == f"minimum {kind.min_voltage_v:.1f} V"


def test_what_is_another_is_told_first() -> None:
    """A narrow window cuts a line's end."""
    was = Number("station 6", "box volts, running", "26.6 V", "25.7 to 27.6")
    now, other = replace(was, range_words="25.6 to 27.5"), replace(was, words="26.5 V")
    assert Difference(was, now).words == "25.7 to 27.6 -> 25.6 to 27.5, at 26.6 V"
    assert Difference(was, other).words == "26.6 V -> 26.5 V (25.7 to 27.6)"
    assert Difference(replace(was, range_words=""), now).words.startswith("no range -> 25.6")
