"""`commission size`: the chart against the trade and tables, a site in words, what is refused."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest

from commission.resources import samples

from .electrical.published import read_rows
from .test_cli import ran

Output = pytest.CaptureFixture[str]
FOOT_M = 0.3048
# Standard annealed copper, solid, ohm per 1000 ft at 20 °C (NBS Handbook 100, a copy seen).
NBS_14_OHM_PER_1000FT = 2.525
# The source that leaves 20 V for 0.37 A at 2,292 ft of 14 AWG, by Ohm's law from that table.
SOURCE_V = 20 + 2292 / 1000 * 2 * NBS_14_OHM_PER_1000FT * 0.37


def chart(capsys: Output, *arguments: str) -> dict[str, dict[int, float]]:
    """Size to number of solenoids to distance in m, of the chart for programs."""
    code, out, _err = ran(capsys, "size", "--json", *arguments)
    assert code == 0
    return {
        cable["size"]: {one["solenoids"]: one["distance_m"] for one in cable["distances"]}
        for cable in json.loads(out)["cables"]
    }


def trade(capsys: Output) -> dict[str, dict[int, float]]:
    return chart(
        capsys, "--source", f"{SOURCE_V:.6f} V", "--minimum", "20 V", "--current", "0.37 A",
        "--soil", "20 °C",
    )  # fmt: skip


# The chart


def test_the_distances_of_the_trade(capsys: Output) -> None:
    """Common practice, no source: 2,292 ft on 14 AWG, a little over 900 ft on 18 AWG; n share."""
    reach = trade(capsys)
    feet = {
        (int(size.split()[0]), n): metres / FOOT_M
        for size, distances in reach.items()
        if size.endswith("AWG")
        for n, metres in distances.items()
    }
    assert feet[14, 1] == pytest.approx(2292, rel=5e-4)
    rows = [row for row in read_rows() if row.law == "chart_feet"]
    assert len(rows) == 3
    for row in rows:
        found = feet[row.given["awg"], row.given["solenoids"]]
        assert abs(found - row.value) <= row.tolerance + row.value * 5e-4, row
    assert 900 < feet[18, 1] < 910
    # the ratio of the distances is the inverse ratio of the resistances (NBS Handbook 100)
    assert feet[14, 1] / feet[18, 1] == pytest.approx(6.385 / 2.525, rel=5e-4)


def test_the_metric_companion_of_that_distance(capsys: Output) -> None:
    """IEC 60228 limit of 2.5 mm²: 781 m for the loop of 2,292 ft of 14 AWG, not the 800 quoted."""
    assert trade(capsys)["2.5 mm²"][1] == pytest.approx(781, abs=0.5)


@pytest.mark.parametrize(
    ("awg", "drop_v", "half_digit_v"), [(12, 7.9, 0.05), (10, 4.97, 0.005), (8, 3.1, 0.05)]
)
def test_exam_examples_of_the_k_factor_method(
    capsys: Output, awg: int, drop_v: float, half_digit_v: float
) -> None:
    """20 A over 100 ft drops this much with K = 12.9 ohm·cmil/ft (NEC K-factor examples, seen).

    K is the resistance of a foot of one circular mil. Copper (IEC 60028) has 10.37 at 20 °C and
    reaches 12.9 at 82 °C, warmer than any soil: the drop is brought down to K at 70 °C.
    """
    cmil_mm2, k_20 = 0.000506707, 1 / 58 / 0.000506707 * FOOT_M
    k_70 = k_20 * (1 + 0.00393 * 50)
    assert cmil_mm2 == pytest.approx(3.14159265 / 4 * 0.0254**2, rel=1e-5)
    source_v = 20 + drop_v * k_70 / 12.9
    reach = chart(
        capsys, "--source", f"{source_v:.6f} V", "--current", "20 A", "--soil", "70 °C",
        "--cable", f"{awg} AWG",
    )  # fmt: skip
    assert reach[f"{awg} AWG"][1] / FOOT_M == pytest.approx(100, rel=half_digit_v / drop_v * 1.05)


def test_soil_takes_its_share(capsys: Output) -> None:
    """IEC 60228 annex B: between 20 and 40 °C copper gains the factor (234.5 + 40)/254.5."""
    cool = chart(capsys, "--soil", "20 °C")["14 AWG"][1]
    warm = chart(capsys, "--soil", "104 °F")["14 AWG"][1]
    assert cool / warm == pytest.approx(274.5 / 254.5, rel=1e-4)


def test_the_chart_says_what_it_is_and_what_it_took(capsys: Output) -> None:
    code, out, _err = ran(capsys, "size")
    assert code == 0
    assert "chart rule: inrush, all drops in phase, conservative" in out
    assert "Local codes and the authority having jurisdiction decide" in out
    for option in ("--source 24 V", "--minimum 20 V", "--current 0.37 A", "--soil 27 °C"):
        assert f"  {option} (" in out
    assert out.count("How far a cable reaches, in ft") == 1
    assert out.count("How far a cable reaches, in m") == 1
    assert max(len(line) for line in out.splitlines()) <= 80


def test_cables_and_units_are_those_asked_for(capsys: Output) -> None:
    asked = ("--cable", "14awg", "--cable", "2.5 mm2", "--cable", "14 AWG", "--solenoids", "2")
    _code, out, _err = ran(capsys, "size", *asked)
    assert [line.split()[:2] for line in out.splitlines() if line[:1].isdigit()] == [
        ["14", "AWG"], ["2.5", "mm²"],
    ]  # fmt: skip
    _code, feet, _err = ran(capsys, "size", "--units", "US", *asked)
    assert "in m," not in feet
    assert "\n14 AWG " in feet
    assert "\n2.5 mm² " in feet
    assert "Not given, so taken" in feet
    given = ("--source", "25 V", "--minimum", "19 V", "--current", "0.3 A", "--soil", "80 °F")
    _code, out, _err = ran(capsys, "size", *given)
    assert "Not given" not in out


def test_a_printed_distance_is_rounded_down(capsys: Output) -> None:
    _code, out, _err = ran(capsys, "size", "--units", "SI", "--cable", "1.5 mm²")
    metres = chart(capsys, "--cable", "1.5 mm²")["1.5 mm²"]
    (line,) = [line for line in out.splitlines() if line.startswith("1.5 mm²")]
    assert [int(one) for one in line.split()[3:]] == [int(one) for one in metres.values()]


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (["--source", "26.9"], '--source: a unit is missing; voltage is written in V, mV, kV - '
                               'write it like "24 V"'),
        (["--source", "0 V"], "--source: '0 V' is outside what is possible"),
        (["--minimum", "abc"], "--minimum: 'abc' does not start with a number"),
        (["--minimum", "24 V"], "--minimum: it is not below the source's voltage"),
        (["--current", "1,200 A"], "--current: '1,200' can be read as 1200 or as 1.2"),
        (["--current", "0 A"], "--current: '0 A' is outside"),
        (["--soil", "99 °C"], "--soil: '99 °C' is outside what is possible (-40 to 70"),
        (["--soil", "27 K"], "--soil: 'K' is not a unit of temperature; use °C, °F"),
        (["--solenoids", "0"], "--solenoids: '0' is not a number of solenoids - a whole number, 1"),
        (["--solenoids", "9" * 5000], "--solenoids: '999"),
        (["--cable", "14"], "--cable: '14' is no conductor size - write it like \"14 AWG\" or"),
        (["--cable", "3 mm²"], "--cable: 3 mm² is not a standard size here: 0.5, 0.75, 1"),
        (["--cable", "x AWG"], "--cable: 'x' is no wire gauge"),
        (["--cable", "99 AWG"], "--cable: '99' is not a wire gauge"),
        (["--cable", "x" * 5000], "--cable: 'xxxxxxxxxxxxxxxxxxxx' is no conductor size"),
        (["--units", "feet"], "--units: invalid choice: 'feet'"),
        (["two-paths", "--soil", "27 °C"], "--soil: it is for the chart without a site - leave it"),
        (["nothing.toml"], "nothing.toml is not there"),
    ],
)  # fmt: skip
def test_bad_input_is_refused_with_option_place_and_remedy(
    capsys: Output, arguments: list[str], words: str
) -> None:
    code, out, err = ran(capsys, "size", *arguments)
    assert (code, out) == (2, "")
    assert words in err
    if ": it is" in words or "write it" in words:
        assert err.startswith("command line: --")


def test_every_problem_is_told_at_once(capsys: Output) -> None:
    _code, _out, err = ran(capsys, "size", "--source", "x", "--soil", "y", "--cable", "z")
    assert [line.split(": ")[1] for line in err.splitlines()] == ["--source", "--soil", "--cable"]


# A site


@pytest.mark.parametrize("name", sorted(samples()))
def test_samples_pass_with_their_margin(capsys: Output, name: str) -> None:
    code, out, _err = ran(capsys, "size", name)
    assert code == 0
    assert "passes as drawn, " in out
    assert " % above the minimum" in out
    assert "Local codes and the authority having jurisdiction" in out
    worst = json.loads(ran(capsys, "expect", name, "--json")[1])["outputs"][0]["together"]
    (found,) = json.loads(ran(capsys, "size", name, "--json")[1])["outputs"]
    assert found["stations"] == worst["stations"]
    assert found["ratio_before"] == worst["ratio"]
    assert found["steps"] == []


def hungry(folder: Path, minimum: str) -> Path:
    """A sample whose solenoids need more than the cable leaves them."""
    text = samples()["small-garden"].read_text("utf-8")
    site = folder / "hungry.toml"
    site.write_text(text.replace('min_voltage = "20 V"', f'min_voltage = "{minimum}"'), "utf-8")
    return site


def sized(capsys: Output, site: Path, *arguments: str) -> tuple[str, dict[str, Any]]:
    code, out, _err = ran(capsys, "size", site, *arguments)
    assert code == 1
    code, numbers, _err = ran(capsys, "size", site, "--json")
    assert code == 1
    (found,) = json.loads(numbers)["outputs"]
    return out, found


def test_what_to_enlarge_is_listed_the_least_copper_first(capsys: Output, tmp_path: Path) -> None:
    out, found = sized(capsys, hungry(tmp_path, "23.4 V"))
    assert "FAILS as drawn" in out
    assert "of 23.40 V" in out
    listed = [line.split() for line in out.splitlines() if line.rstrip().endswith(" kg")]
    assert [line[1] for line in listed] == [step["box"] for step in found["steps"]]
    copper = [step["added_copper_kg"] for step in found["steps"]]
    assert copper == sorted(copper)
    assert "searched anew, is " in out
    assert "all were tried" in out
    assert "judgement" in out
    assert f"at most {found['stations_at_once_as_drawn']} of the 2 stations at once" in out
    assert " ft " in out


def test_the_sheet_to_take_along_says_it_too(capsys: Output, tmp_path: Path) -> None:
    code, out, _err = ran(capsys, "expect", hungry(tmp_path, "23.4 V"))
    assert code == 0
    assert "FAILS as drawn" in out
    assert "Enlarge both conductors" in out
    assert "FAILS" not in ran(capsys, "expect", "small-garden")[1]


def test_a_site_in_metres(capsys: Output, tmp_path: Path) -> None:
    out, _found = sized(capsys, hungry(tmp_path, "23.4 V"), "--units", "SI")
    assert " ft " not in out
    assert " °C)" in out


def test_why_cable_alone_cannot_help(capsys: Output, tmp_path: Path) -> None:
    out, found = sized(capsys, hungry(tmp_path, "24 V"))
    assert found["steps"] == []
    assert f"Cable alone can't: {found['reason']}." in out
    assert "not even one station alone" in out
