"""A leak named by its place with a sound conductor beside it: textbook examples, and a network."""

from __future__ import annotations

import math

import pytest

from commission.bundle.place import Lines, by_murray_m, by_varley_m
from tests.electrical.published import Row, read_rows

ROWS = [row for row in read_rows() if row.table == "fault_location"]


def rows(law: str) -> list[Row]:
    found = [row for row in ROWS if row.law == law]
    assert found
    return found


@pytest.mark.parametrize("row", rows("murray"), ids=str)
def test_murray_with_two_conductors_alike(row: Row) -> None:
    lines = Lines(row.given["length_m"], 0.01, 0.01)
    ratio = row.given["sound"] / row.given["faulty"]
    assert by_murray_m(lines, ratio) == pytest.approx(row.value, abs=row.tolerance)


@pytest.mark.parametrize("row", rows("murray_unequal"), ids=str)
def test_murray_with_conductors_of_two_sizes(row: Row) -> None:
    given = row.given
    lines = Lines(
        given["length_m"], given["sound_ohm_per_km"] / 1000, given["faulty_ohm_per_km"] / 1000
    )
    assert by_murray_m(lines, given["ratio"]) == pytest.approx(row.value, abs=row.tolerance)


@pytest.mark.parametrize("row", rows("varley"), ids=str)
def test_varley_with_equal_arms(row: Row) -> None:
    per_m = row.given["ohm_per_km"] / 1000
    lines = Lines(row.given["length_km"] * 1000, per_m, per_m)
    found_m = by_varley_m(lines, row.given["added_ohm"])
    assert found_m / 1000 == pytest.approx(row.value, abs=row.tolerance)


@pytest.mark.parametrize("where", [0.0, 0.2, 0.5, 0.9, 1.0])
def test_a_balanced_bridge_carries_no_current_in_its_detector(where: float) -> None:
    """Kirchhoff: at balance the two arms divide the voltage as the loop divides at the fault."""
    lines = Lines(120.0, 7.41e-3, 12.1e-3)
    before_ohm = where * lines.length_m * lines.faulty_ohm_per_m
    beyond_ohm = lines.loop_ohm - before_ohm
    ratio = math.inf if before_ohm == 0 else beyond_ohm / before_ohm
    if math.isfinite(ratio):
        assert by_murray_m(lines, ratio) == pytest.approx(where * lines.length_m, abs=1e-9)
    added_ohm = beyond_ohm - before_ohm  # equal arms: both sides of the fault alike
    assert by_varley_m(lines, added_ohm) == pytest.approx(where * lines.length_m, abs=1e-9)
