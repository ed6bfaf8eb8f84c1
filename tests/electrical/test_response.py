"""Slopes by reciprocity against small differences of whole solutions, on random trees."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from commission.electrical.network import Coil, Solution, network, solve
from commission.electrical.response import Answer, of_current, of_voltage
from tests.electrical.trees import Case, cases

STEP = 1e-5
Watch = tuple[Callable[[Solution], complex], Answer]


def watched(case: Case, data: st.DataObject) -> list[Watch]:
    """A node's voltage, a path's current (some branches out of the terminals), the source's."""
    working = solve(case.net, case.coils)
    node = data.draw(st.integers(0, len(case.net.parent) - 1))
    first = [i for i, above in enumerate(case.net.parent) if above == 0]
    some = first[: data.draw(st.integers(1, len(first)))]
    return [
        (lambda s: s.node_v[node], of_voltage(working, node)),
        (lambda s: sum((s.branch_a[i] for i in some), 0j), of_current(working, some)),
        (lambda s: s.branch_a[0], of_current(working, [0])),
    ]


def slope(
    case: Case, value_of: Callable[[Solution], complex], moved: Callable[[float], Case]
) -> complex:
    """Central difference of two whole solutions."""
    up, down = (solve(c.net, c.coils) for c in (moved(STEP), moved(-STEP)))
    return (value_of(up) - value_of(down)) / (2 * STEP)


def put(values: tuple[complex, ...], place: int, by: complex) -> tuple[complex, ...]:
    """The same values, one of them moved."""
    return tuple(value + by if i == place else value for i, value in enumerate(values))


@settings(max_examples=40, deadline=None)
@given(cases(max_boxes=10), st.data())
def test_every_slope_is_that_of_whole_solutions(case: Case, data: st.DataObject) -> None:
    net = case.net
    node = data.draw(st.integers(0, len(net.parent) - 1))
    for value_of, answer in watched(case, data):
        found = {
            answer.per_source_volt: lambda by: Case(
                replace(net, source_v=net.source_v + by), case.coils
            ),
            answer.per_branch_ohm[node]: lambda by: Case(
                replace(net, z_ohm=put(net.z_ohm, node, by)), case.coils
            ),
            answer.per_ampere[node]: lambda by: Case(
                replace(net, standby_a=put(net.standby_a, node, by)), case.coils
            ),
        }
        for known, moved in found.items():
            assert known == pytest.approx(slope(case, value_of, moved), rel=1e-5, abs=1e-8)
        for k, coil in enumerate(case.coils):

            def moved_coil(by: float, k: int = k, coil: Coil = coil) -> Case:
                other = replace(coil, z_ohm=coil.z_ohm + by)
                return Case(net, (*case.coils[:k], other, *case.coils[k + 1 :]))

            known = answer.per_coil_ohm(k)
            assert known == pytest.approx(slope(case, value_of, moved_coil), rel=1e-5, abs=1e-8)


def test_a_divider_by_hand() -> None:
    """V = 24·6/12 on 6 ohm behind 2 + 4: dV/dE is a half, dV/dz = -24·6/12², dI/dE a twelfth."""
    working = solve(network(24.0, [-1, 0], [2.0, 4.0]), [Coil(1, 6.0 + 0j)])
    voltage, current = of_voltage(working, 1), of_current(working, [1])
    assert voltage.per_source_volt == pytest.approx(0.5)
    assert voltage.per_branch_ohm[1] == pytest.approx(-1.0)
    assert voltage.per_coil_ohm(0) == pytest.approx(24 / 12 - 24 * 6 / 144)
    assert voltage.per_ampere[1] == pytest.approx(-3.0)  # 6 ohm beside 6 ohm
    assert current.per_source_volt == pytest.approx(1 / 12)
    assert current.per_branch_ohm[1] == pytest.approx(-24 / 144)
    assert current.per_ampere[1] == pytest.approx(0.5)  # half of what is drawn comes through it
