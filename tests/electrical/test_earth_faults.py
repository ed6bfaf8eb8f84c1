"""Leaks to earth: floating and earthed outputs, one leak and two."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from commission.electrical.earth_faults import SOUND_INSULATION_OHM, Leak, solve_with_earth
from commission.electrical.network import network, solve

from .trees import Case, cases


@st.composite
def leaks_of(draw: st.DrawFn, nodes: int) -> list[Leak]:
    return [
        Leak(
            draw(st.integers(0, nodes - 1)),
            draw(st.sampled_from(["first", "second"])),
            draw(st.floats(0.5, 1e5)),
        )
        for _ in range(draw(st.integers(0, 2)))
    ]


def dense_voltages(case: Case, leaks: list[Leak], earthing_s: float, share: float) -> np.ndarray:
    """Both conductors' voltages from one nodal matrix (numpy); even rows first conductor."""
    net, nodes = case.net, len(case.net.parent)
    size = 2 * nodes + 1  # one more for the source's inner node against the second terminal
    matrix = np.zeros((size, size), dtype=complex)
    right = np.zeros(size, dtype=complex)

    def connect(a: int, b: int | None, admittance: complex) -> None:
        matrix[a, a] += admittance
        if b is not None:
            matrix[b, b] += admittance
            matrix[a, b] -= admittance
            matrix[b, a] -= admittance

    for i, (above, z_ohm) in enumerate(zip(net.parent, net.z_ohm, strict=True)):
        for wire, part in ((0, share), (1, 1 - share)):
            connect(2 * i + wire, None, 1 / SOUND_INSULATION_OHM)
            if above >= 0:
                connect(2 * i + wire, 2 * above + wire, 1 / (z_ohm * part))
        connect(2 * i, 2 * i + 1, net.standby_s[i])
        right[2 * i] -= net.standby_a[i]
        right[2 * i + 1] += net.standby_a[i]
    # the source: E/Zs into the first terminal and out of the second, with Zs across them
    connect(0, 1, 1 / net.z_ohm[0])
    right[0] += net.source_v / net.z_ohm[0]
    right[1] -= net.source_v / net.z_ohm[0]
    connect(1, None, earthing_s)
    for leak in leaks:
        connect(2 * leak.node + (leak.conductor == "second"), None, 1 / leak.r_ohm)
    for coil in case.coils:
        y_s = 1 / coil.total_z_ohm
        connect(2 * coil.node, 2 * coil.node + 1, y_s)
        right[2 * coil.node] += coil.drop_v * y_s
        right[2 * coil.node + 1] -= coil.drop_v * y_s
    return np.linalg.solve(matrix[:-1, :-1], right[:-1])


@settings(max_examples=60, deadline=None)
@given(cases(max_boxes=10), st.data(), st.sampled_from([None, 1.0, 500.0]), st.floats(0.3, 0.7))
def test_agrees_with_nodal_analysis(
    case: Case, data: st.DataObject, earthing_ohm: float | None, share: float
) -> None:
    """numpy's dense solution, to what a matrix with 100 MΩ beside 10 mΩ resolves."""
    leaks = data.draw(leaks_of(len(case.net.parent)))
    found = solve_with_earth(
        case.net,
        case.coils,
        leaks,
        earthing_ohm=earthing_ohm,
        first_share=[share] * len(case.net.parent),
    )
    known = dense_voltages(case, leaks, 0.0 if earthing_ohm is None else 1 / earthing_ohm, share)
    for i in range(len(case.net.parent)):
        assert found.between_v(i) == pytest.approx(
            complex(known[2 * i] - known[2 * i + 1]), rel=1e-6
        )
        assert found.first_v[i] == pytest.approx(complex(known[2 * i]), rel=1e-4, abs=1e-4)


@settings(max_examples=60, deadline=None)
@given(cases(max_boxes=10), st.data(), st.sampled_from([None, 0.0, 10.0]))
def test_current_to_earth_returns(
    case: Case, data: st.DataObject, earthing_ohm: float | None
) -> None:
    """Kirchhoff for the earth node: leaks, sound insulation and the output's earthing add to 0."""
    leaks = data.draw(leaks_of(len(case.net.parent)))
    found = solve_with_earth(case.net, case.coils, leaks, earthing_ohm=earthing_ohm)
    insulation_a = (sum(found.first_v) + sum(found.second_v)) / SOUND_INSULATION_OHM
    total_a = sum(found.leak_a) + insulation_a
    assert (
        abs(found.earthing_a - total_a) < 1e-9 if earthing_ohm is not None else abs(total_a) < 1e-9
    )


@settings(max_examples=40, deadline=None)
@given(cases(max_boxes=10))
def test_a_sound_floating_output_is_the_plain_network(case: Case) -> None:
    """Without leaks both solutions agree, and the conductors stand about half and half."""
    found = solve_with_earth(case.net, case.coils)
    plain = solve(case.net, case.coils)
    for i, voltage in enumerate(plain.node_v):
        assert found.between_v(i) == pytest.approx(voltage, rel=1e-5)
    assert abs(found.first_v[0]) == pytest.approx(abs(plain.node_v[0]) / 2, rel=0.5)


def line(boxes: int = 3) -> Case:
    """A plain line with one coil at its end."""
    return Case(network(26.0, [-1, *range(boxes)], [1.0, *[2.0] * boxes]), ())


def test_one_leak_on_a_floating_output_only_moves_voltages() -> None:
    """Common practice, no source: nothing on the conductor that is down, all on the other."""
    net = line().net
    sound, faulty = solve_with_earth(net), solve_with_earth(net, leaks=[Leak(2, "second", 10.0)])
    assert abs(sound.first_v[0]) == pytest.approx(13.0, rel=1e-3)
    assert abs(sound.second_v[0]) == pytest.approx(13.0, rel=1e-3)
    assert abs(faulty.second_v[2]) < 0.001
    assert abs(faulty.first_v[2]) == pytest.approx(26.0, rel=1e-3)
    assert abs(faulty.leak_a[0]) < 1e-5
    assert faulty.between_v(3) == pytest.approx(sound.between_v(3), rel=1e-5)


def test_two_leaks_on_opposite_conductors_load_the_path() -> None:
    """Ohm's law in the head: 26 V over 1 (source) + 2 + 2 (to box 2) + 10 + 11 is 1 A."""
    leaks = [Leak(2, "first", 10.0), Leak(2, "second", 11.0)]
    found = solve_with_earth(line().net, leaks=leaks)
    assert abs(found.leak_a[0]) == pytest.approx(1.0, rel=1e-4)
    assert abs(found.between_v(2)) == pytest.approx(21.0, rel=1e-4)


def test_one_leak_on_an_earthed_output_loads_it() -> None:
    """26 V over 1 + half of 2 + half of 2 on the first conductor and 23 Ω of leak is 1 A."""
    found = solve_with_earth(line().net, leaks=[Leak(2, "first", 23.0)], earthing_ohm=0.0)
    assert abs(found.leak_a[0]) == pytest.approx(1.0, rel=1e-4)
    harmless = solve_with_earth(line().net, leaks=[Leak(2, "second", 23.0)], earthing_ohm=0.0)
    assert abs(harmless.leak_a[0]) < 1e-4


def test_a_leak_without_resistance_is_refused() -> None:
    with pytest.raises(ValueError, match="above zero"):
        solve_with_earth(line().net, leaks=[Leak(1, "first", 0.0)])
