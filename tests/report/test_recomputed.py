"""Every number and verdict of readings, computed again from the report's own text and nothing else.

The arithmetic here is that of JCGM 100 (4.3.7: rectangular errors; 5.1.2: independent causes add as
squares; 6.2: expanded uncertainty) and JCGM 106 (conformance probability), written out anew.
"""

from __future__ import annotations

import tomllib
from collections.abc import Iterator
from math import sqrt
from typing import Any

import numpy as np
import pytest

from tests import walks


@pytest.fixture(scope="module")
def report(tmp_path_factory: pytest.TempPathFactory) -> dict[str, Any]:
    """A report of a whole walk in which limits are read clear of them, near them and beyond."""
    session = walks.begin(tmp_path_factory.mktemp("recomputed"), "small-garden")
    limits = [
        step
        for step in session.job.plan.steps
        if (found := session.job.expectation(step)) is not None and found.sides != "interval"
    ]
    near = iter((1.0, 1.004, 0.996, 1.0005, 0.9995) * 50)
    while (step := walks.first_open(session)) is not None:
        text = walks.good_answer(session, step)
        expectation = session.job.expectation(step)
        if step in limits and expectation is not None and step.item.compare != "dead-voltage":
            factor = 0.5 if step.item.compare == "leak-resistance" else next(near)
            text = walks.typed(expectation.value * factor, step)
        walks.answer(session, step, text)
        if walks.status(session, step).verdict == "marginal":
            session.accept_exception(step, "to be seen to")
    session.sign(walks.signoff(), walks.KEY)
    session.close()
    return tomllib.loads((session.job.folder / "report.toml").read_text(encoding="utf-8"))


def meter_half_widths(entry: dict[str, Any]) -> tuple[float, float]:
    """The two errors of a reading, as `[constants.verdicts] meter` puts them in words."""
    gain = abs(entry["value"]) * entry["instrument_percent"] / 100
    counts = entry["instrument_counts"] * entry["instrument_resolution"]
    return gain, counts + entry.get("instrument_offset", 0.0)


def readings(
    report: dict[str, Any], *sides: str
) -> Iterator[tuple[dict[str, Any], dict[str, Any]]]:
    """Every reading by an instrument of known accuracy, with its expectation."""
    of_step = {step: one for one in report["expectation"] for step in one["steps"]}
    for entry in report["history"]:
        found = of_step.get(entry.get("step", ""))
        if found and found["sides"] in sides and "instrument_percent" in entry:
            yield entry, found


def value(expectation: dict[str, Any], name: str) -> float:
    """A number of an expectation, whatever its unit: "u" for `u_ohm`."""
    return float(next(v for k, v in expectation.items() if k.rpartition("_")[0] == name))


def test_accepted_ranges_follow_from_expectation_meter_and_coverage_factor(
    report: dict[str, Any],
) -> None:
    k = report["constants"]["verdicts"]["coverage_factor"]
    assert k == 2.0  # JCGM 100 6.2.3: about 95 %
    seen = 0
    for entry, expectation in readings(report, "interval"):
        gain, counts = meter_half_widths(entry)
        u = sqrt(value(expectation, "u") ** 2 + (gain**2 + counts**2) / 3)
        assert entry["high"] == pytest.approx(value(expectation, "value") + k * u, rel=1e-9)
        assert entry["low"] == pytest.approx(
            max(0.0, value(expectation, "value") - k * u), rel=1e-9, abs=1e-12
        )
        seen += 1
    assert seen > 10


def keeps(entry: dict[str, Any], expectation: dict[str, Any]) -> float:
    """The probability that a limit is kept, by counting a grid of both errors."""
    grid = (np.arange(2000) + 0.5) / 1000 - 1
    gain, counts = meter_half_widths(entry)
    true = entry["value"] + gain * grid[:, None] + counts * grid[None, :]
    limit = value(expectation, "value")
    kept = true >= limit if expectation["sides"] == "minimum" else true <= limit
    return float(np.mean(kept))


def test_verdicts_on_limits_follow_from_the_reading_the_meter_and_both_probabilities(
    report: dict[str, Any],
) -> None:
    rules = report["constants"]["verdicts"]
    assert (rules["pass_probability"], rules["fail_probability"]) == (0.95, 0.05)
    verdicts = set()
    for entry, expectation in readings(report, "minimum", "maximum"):
        p = keeps(entry, expectation)
        verdict = (
            "pass" if p >= rules["pass_probability"]
            else "fail" if p <= rules["fail_probability"] else "marginal"
        )  # fmt: skip
        assert entry["verdict"] == verdict, (entry, p)
        verdicts.add(verdict)
        assert "marginal" in expectation["near_it"]
        assert "meter's accuracy" in expectation["near_it"]
    assert verdicts == {"pass", "fail", "marginal"}


def test_every_half_width_of_a_budget_is_a_constant_or_an_input(report: dict[str, Any]) -> None:
    """Source ±3 %, coils ±3 % together and ±5 % alone: judgement, no source."""
    constants = report["constants"]
    assert constants["source_voltage_error"] == 0.03
    assert constants["coils_together_error"] == 0.03
    assert constants["coil_alone_error"] == 0.05
    causes = {part["cause"] for one in report["expectation"] for part in one.get("budget", [])}
    for words, number in (
        ("source E", constants["source_voltage_error"]),
        ("all coils", constants["coils_together_error"]),
        ("this coil", constants["coil_alone_error"]),
    ):
        said = [cause for cause in causes if cause.startswith(words)]
        assert said
        assert all(f"±{number * 100:g} %" in cause for cause in said)


def test_voltages_at_the_worst_stand_as_numbers_beside_the_words(report: dict[str, Any]) -> None:
    (output,) = report["working"]
    supply, soil = report["inputs"]["supply"], report["inputs"]["soil"]
    lowest = supply["nominal_voltage_v"] * (1 - supply["lowest_fraction_below"])
    assert output["mains_v"] == pytest.approx(lowest)
    assert output["soil_c"] == soil["warmest_c"]
    stations = {station["number"]: station for station in report["inputs"]["station"]}
    assert {one["station"] for one in output["alone"]} == set(stations)
    together = output["together"]
    for one in [*output["alone"], {**together, "station": together["worst"]}]:
        kinds = {coil["kind"] for coil in stations[one["station"]]["solenoid"]}
        limits = [report["inputs"]["solenoid_kind"][kind]["min_voltage_v"] for kind in kinds]
        assert one["min_v"] == max(limits)
        assert one["inrush_v"] < one["holding_v"]
    words = " ".join(
        one["conditions"] for one in report["expectation"] if one["name"] == "station-voltage"
    )
    for one in output["alone"]:
        assert f"{one['inrush_v']:.1f} V" in words
        assert f"{one['chart_rule_v']:.1f} V" in words
