"""Conductor-to-earth voltages: what each output's earthing lets them be, and what a leak makes."""

from __future__ import annotations

from dataclasses import replace
from typing import Literal

import pytest

from commission.checklist.targets import Target
from commission.commands.expect_sheet import text
from commission.electrical.earth_faults import Leak, solve_with_earth
from commission.expected.model import on_test_day
from commission.expected.sheet import Sheet
from commission.expected.values import Expectation
from commission.resources import samples
from commission.site.load import load_site
from commission.units import parse_reading
from commission.verdict.judge import judge

Earthing = Literal["floating", "earthed", "impedance"]
NAMES = ("first-volts-to-earth", "second-volts-to-earth")


def sheet_of(earthing: Earthing) -> Sheet:
    """The small garden with its output earthed in one of the three ways."""
    site = load_site(samples()["small-garden"])
    ohm = 100.0 if earthing == "impedance" else None
    outputs = tuple(
        replace(one, earthing=earthing, earthing_impedance_ohm=ohm) for one in site.output
    )
    return Sheet(replace(site, output=outputs))


def expected(sheet: Sheet, name: str) -> Expectation:
    """What a conductor of the first path is compared with."""
    path = sheet.site.path[0]
    found = sheet.expectation(name, Target("path", output=path.output, path=path.id))
    assert found is not None
    return found


def meets(sheet: Sheet, *leaks: tuple[Literal["first", "second"], float]) -> tuple[bool, bool]:
    """Whether both conductors of an output with leaks are within what is expected of them."""
    output = sheet.site.output[0]
    network = on_test_day(sheet.drawing, output.id, None).network
    ohm = {"floating": None, "earthed": 0.0, "impedance": 100.0}[output.earthing]
    node = len(network.parent) - 1
    found = solve_with_earth(
        network, leaks=[Leak(node, *leak) for leak in leaks], earthing_ohm=ohm
    )  # fmt: skip
    within = []
    for name, volt in zip(NAMES, (found.first_v[0], found.second_v[0]), strict=True):
        one = expected(sheet, name)
        low, high = one.low or 0.0, float("inf") if one.high is None else one.high
        within.append(low <= abs(volt) <= high)
    return within[0], within[1]


def test_a_floating_output_shows_half_on_each_conductor() -> None:
    sheet = sheet_of("floating")
    path = sheet.site.path[0]
    between = sheet.expectation("output-voltage", Target("path", path.output, path.id))
    assert between is not None
    for name in NAMES:
        one = expected(sheet, name)
        assert one.value == pytest.approx(between.value / 2)
        assert one.low is not None
        assert one.high is not None
        assert 0 < one.low < one.value < one.high < between.value
        assert sum(part.u**2 for part in one.budget) == pytest.approx(one.u**2)


def test_an_earthed_output_shows_all_on_the_first_and_nothing_on_the_second() -> None:
    sheet = sheet_of("earthed")
    path = sheet.site.path[0]
    between = sheet.expectation("output-voltage", Target("path", path.output, path.id))
    assert between is not None
    first, second = (expected(sheet, name) for name in NAMES)
    assert first.value == pytest.approx(between.value, rel=1e-6)
    assert second.sides == "maximum"
    assert second.value == pytest.approx(0.05 * between.value, rel=1e-3)


@pytest.mark.parametrize(
    ("earthing", "leaks", "within"),
    [
        ("floating", (), (True, True)),
        ("floating", (("first", 1e3),), (False, False)),
        ("floating", (("second", 1e3),), (False, False)),
        ("floating", (("first", 1e3), ("second", 1e3)), (True, True)),
        ("earthed", (), (True, True)),
        ("earthed", (("second", 10.0),), (True, True)),
        ("impedance", (), (True, True)),
        ("impedance", (("first", 200.0),), (False, False)),
        ("impedance", (("second", 10.0),), (True, True)),
    ],
)
def test_leaks_are_seen_where_the_earthing_lets_them(
    earthing: Earthing,
    leaks: tuple[tuple[Literal["first", "second"], float], ...],
    within: tuple[bool, bool],
) -> None:
    """One leak moves both voltages of a floating output; two alike on both sides hide one another.

    On a solidly earthed output a leak of the earthed conductor changes nothing; behind an impedance
    a leak of the other one lifts both.
    """
    assert meets(sheet_of(earthing), *leaks) == within


def test_changed_over_or_unearthed_conductors_are_failed_in_words() -> None:
    sheet = sheet_of("earthed")
    second = expected(sheet, NAMES[1])
    found = judge(second, parse_reading("13.6 V", "voltage", "V"), None, "V")
    assert found.verdict == "fail"
    assert "earthing of the output open" in found.finding


def test_the_sheet_to_take_along_names_both_conductors() -> None:
    """Floating: a range for each; earthed: the first whole, the second a limit."""
    floats, earthed = (text(sheet_of(one)) for one in ("floating", "earthed"))
    rows = [line for line in floats.splitlines() if "conductor to earth" in line]
    assert [" to " in line.split("to earth")[1] for line in rows] == [True, True]
    second = next(line for line in earthed.splitlines() if "second conductor to earth" in line)
    assert "at most" in second
