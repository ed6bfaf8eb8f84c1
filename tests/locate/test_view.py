"""Superposition against dense nodal analysis by numpy, on random trees."""

from __future__ import annotations

from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from commission.electrical.network import Coil
from commission.electrical.transfer import Transfer
from commission.locate.view import Port, View, across, across_segment, in_series
from tests.electrical.trees import Case, cases, nodal_voltages


def view_of(case: Case) -> View:
    transfer = Transfer(case.net)
    return View(transfer, list(transfer.open_v), list(transfer.driving_ohm))


def agrees(view: View, case: Case) -> None:
    expected = nodal_voltages(case)
    assert view.open_v[: len(expected)] == pytest.approx(expected, rel=1e-7, abs=1e-7)


@given(cases(max_coils=0), st.data())
def test_a_joint_is_ohms_in_series(case: Case, data: st.DataObject) -> None:
    node = data.draw(st.integers(1, len(case.net.parent) - 1))
    ohm = data.draw(st.floats(0.1, 60))
    z_ohm = list(case.net.z_ohm)
    port = in_series(case.net.parent[node], node, z_ohm[node], ohm)
    z_ohm[node] += ohm
    agrees(view_of(case).attach(port), Case(replace(case.net, z_ohm=tuple(z_ohm)), ()))


@given(cases(max_coils=0), st.data())
def test_a_short_lies_across_part_of_the_way_along_a_segment(
    case: Case, data: st.DataObject
) -> None:
    net, last = case.net, len(case.net.parent) - 1
    node = data.draw(st.integers(1, last))
    along, ohm = data.draw(st.floats(0.05, 0.95)), data.draw(st.floats(0.05, 5))
    segment = net.z_ohm[node]
    view = view_of(case).attach(across_segment(net.parent[node], node, along, segment, ohm))
    # the same with a box of its own where the short lies, put in before the box that it feeds
    parent = [above + (above >= node) for above in net.parent]
    parent.insert(node, parent[node])
    parent[node + 1] = node
    z_ohm = list(net.z_ohm)
    z_ohm[node : node + 1] = [segment * along, segment * (1 - along)]
    added = replace(
        net,
        parent=tuple(parent),
        z_ohm=tuple(z_ohm),
        standby_a=(*net.standby_a[:node], 0, *net.standby_a[node:]),
        standby_s=(*net.standby_s[:node], 0, *net.standby_s[node:]),
        standby_w=(*net.standby_w[:node], 0.0, *net.standby_w[node:]),
    )
    expected = nodal_voltages(Case(added, (Coil(node, complex(ohm)),)))
    del expected[node]
    assert view.open_v == pytest.approx(expected, rel=1e-7, abs=1e-7)


@given(cases(max_coils=0), st.data())
def test_several_at_once_do_not_depend_on_their_order(case: Case, data: st.DataObject) -> None:
    node = data.draw(st.integers(1, len(case.net.parent) - 1))
    coils = (Coil(node, 40 + 60j), Coil(len(case.net.parent) - 1, 30 + 50j, drop_v=0.7))
    ports: list[Port] = [across(coil.node, coil.z_ohm, coil.drop_v) for coil in coils]
    expected = Case(case.net, coils)
    agrees(view_of(case).attach(ports[0]).attach(ports[1]), expected)
    agrees(view_of(case).attach(ports[1]).attach(ports[0]), expected)


@given(cases(max_coils=0), st.data())
def test_what_is_lost_at_one_node_by_drawing_at_another_is_mutual(
    case: Case, data: st.DataObject
) -> None:
    nodes = st.integers(0, len(case.net.parent) - 1)
    a, b = data.draw(nodes), data.draw(nodes)
    view = view_of(case).attach(across(len(case.net.parent) - 1, 20 + 10j))
    assert view.z_ohm(a, b) == pytest.approx(view.z_ohm(b, a), rel=1e-9, abs=1e-12)
    assert view.z_ohm(a, a) == pytest.approx(view.drive_ohm[a], rel=1e-9, abs=1e-12)
