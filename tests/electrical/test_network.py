"""Solved outputs against a circuit simulator, against nodal analysis, and against the laws."""

from __future__ import annotations

import math
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from commission.electrical.network import (
    Coil,
    CollapseError,
    check_balance,
    freeze_power,
    network,
    solve,
)
from commission.electrical.segments import chart_length_m
from commission.electrical.transfer import Transfer

from .trees import Case, cases, nodal_voltages, simulated_voltages

AGREES = 1e-9


def difference(found: list[complex] | tuple[complex, ...], known: list[complex]) -> float:
    """Largest relative difference of two lists of voltages."""
    return max(abs(a - b) / abs(b) for a, b in zip(found, known, strict=True))


@settings(
    max_examples=6,
    deadline=None,
    suppress_health_check=[
        HealthCheck.function_scoped_fixture,
        HealthCheck.data_too_large,
        HealthCheck.too_slow,
        HealthCheck.large_base_example,
    ],
)
@given(st.lists(cases(), min_size=8, max_size=8))
def test_agrees_with_the_circuit_simulator(tmp_path: Path, trees: list[Case]) -> None:
    """ngspice .ac, run in batch, at every node of every tree."""
    for case, known in zip(trees, simulated_voltages(trees, tmp_path), strict=True):
        assert difference(solve(case.net, case.coils).node_v, known) < AGREES


@settings(max_examples=120, deadline=None)
@given(cases())
def test_agrees_with_nodal_analysis(case: Case) -> None:
    """numpy's dense solution of the node equations."""
    assert difference(solve(case.net, case.coils).node_v, nodal_voltages(case)) < AGREES


@settings(max_examples=120, deadline=None)
@given(cases())
def test_currents_and_powers_balance(case: Case) -> None:
    """Kirchhoff's current law and Tellegen's theorem."""
    balance = check_balance(solve(case.net, case.coils))
    assert balance.current_error < AGREES
    assert balance.power_error < AGREES


@settings(max_examples=120, deadline=None)
@given(cases())
def test_superposition_agrees_with_elimination(case: Case) -> None:
    """The same coil currents from transfer impedances as from solving the whole output."""
    found = Transfer(case.net).coil_currents_a(case.coils)
    solved = solve(case.net, case.coils).coil_a
    assert all(abs(a - b) <= AGREES * abs(b) for a, b in zip(found, solved, strict=True))


@settings(max_examples=40, deadline=None)
@given(cases(max_boxes=10))
def test_transfer_impedance_works_both_ways(case: Case) -> None:
    """Reciprocity of passive networks."""
    transfer, nodes = Transfer(case.net), range(len(case.net.parent))
    for i in nodes:
        for k in nodes:
            here, there = transfer.row_ohm(i)[k], transfer.row_ohm(k)[i]
            assert abs(here - there) <= AGREES * abs(there)


@settings(max_examples=40, deadline=None)
@given(cases(max_boxes=12), st.floats(0.01, 0.4))
def test_constant_power_draws_its_power(case: Case, watt: float) -> None:
    """P = Re(V·I*) at every box, and the laws still hold."""
    size = len(case.net.parent)
    net = network(
        24.0,
        case.net.parent,
        [z / 20 for z in case.net.z_ohm],
        standby_w=[0.0] + [watt / size] * (size - 1),
    )
    solution = solve(net, case.coils)
    assert check_balance(solution).current_error < AGREES
    frozen = freeze_power(net, case.coils)
    for i in range(1, size):
        drawn_w = (solution.node_v[i] * complex(frozen.standby_a[i]).conjugate()).real
        assert drawn_w == pytest.approx(watt / size, rel=1e-9)
    assert difference(solve(frozen, case.coils).node_v, list(solution.node_v)) < AGREES


def test_more_constant_power_than_the_cable_carries_collapses() -> None:
    """A source E behind R gives at most E²/4R: here 14.4 W (maximum power transfer)."""
    carried = network(24.0, [-1, 0], [5.0, 5.0], standby_w=[0.0, 14.0])
    assert abs(solve(carried).node_v[1]) == pytest.approx(12 + math.sqrt(144 - 140), rel=1e-9)
    with pytest.raises(CollapseError):
        solve(network(24.0, [-1, 0], [5.0, 5.0], standby_w=[0.0, 14.8]))


def test_nothing_running_and_no_standby_leaves_the_source_voltage() -> None:
    solution = solve(network(26.0, [-1, 0, 1], [1.0, 2.0, 3.0]))
    assert solution.node_v == (26.0, 26.0, 26.0)
    assert check_balance(solution).current_error == 0


def test_a_divider_divides() -> None:
    """Ohm's law in the head: 24 V over 2 + 4 + 6 Ω leaves 12 V on the coil of 6 Ω."""
    solution = solve(network(24.0, [-1, 0], [2.0, 4.0]), [Coil(1, 6.0 + 0j)])
    assert solution.coil_v[0] == pytest.approx(12.0)
    assert solution.source_a == pytest.approx(2.0)
    assert solution.source_va == pytest.approx(48.0)


def test_volt_drop_comes_off_the_coil() -> None:
    """The same divider with 3 V lost in the decoder: (24 - 3)·6/12."""
    solution = solve(network(24.0, [-1, 0], [2.0, 4.0]), [Coil(1, 6.0 + 0j, drop_v=3.0)])
    assert solution.coil_v[0] == pytest.approx(10.5)


@given(st.integers(1, 12), st.floats(0.001, 0.05), st.floats(0.1, 1.0), st.floats(2.0, 8.0))
def test_two_solenoids_halve_the_chart_distance(
    solenoids: int, ohm_per_m: float, current_a: float, drop_v: float
) -> None:
    """Common practice, no source: n at the end take an n-th of the distance."""
    one = chart_length_m(26.0, 26.0 - drop_v, 1, current_a, ohm_per_m)
    many = chart_length_m(26.0, 26.0 - drop_v, solenoids, current_a, ohm_per_m)
    assert many * solenoids == pytest.approx(one)


def test_chart_rule_is_the_network_with_fixed_current() -> None:
    """At the chart's distance the network leaves exactly the minimum, fixed current, no X."""
    length_m = chart_length_m(26.0, 20.0, 1, 0.4, 0.0085)
    net = network(26.0, [-1, 0], [0.0, 2 * 0.0085 * length_m], standby_a=[0.0, 0.4])
    assert abs(solve(net).node_v[1]) == pytest.approx(20.0)


@pytest.mark.parametrize("parent", [[], [0], [-1, 1], [-1, 2, 0]])
def test_a_tree_out_of_order_is_refused(parent: list[int]) -> None:
    with pytest.raises(ValueError, match=r"parent|entry"):
        network(24.0, parent, [1.0] * len(parent))
