"""Loops with decoders that conduct, against dense nodal analysis by numpy and series-parallel."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from commission.electrical.shunted import loop


@st.composite
def trees(draw: st.DrawFn) -> tuple[list[int], list[float], list[float], int | None]:
    """Parents, ohms into each node, siemens across each, and where the pair is bridged."""
    size = draw(st.integers(2, 20))
    parent = [-1, *(draw(st.integers(0, node - 1)) for node in range(1, size))]
    ohm = [0.0, *(draw(st.floats(0.01, 40)) for _ in range(1, size))]
    across = st.one_of(st.just(0.0), st.floats(1e-6, 1e-2))
    siemens = [0.0, *(draw(across) for _ in range(1, size))]
    bridged = draw(st.one_of(st.none(), st.integers(1, size - 1)))
    if bridged is None:
        siemens[-1] = 1e-4
    return parent, ohm, siemens, bridged


def by_nodes(
    parent: list[int], ohm: list[float], siemens: list[float], bridged: int | None
) -> float:
    """One ampere into node 0, conductances in a matrix; the bridged node is the other pole.

    Good to the matrix's own condition, some 1e7 times the last digit.
    """
    matrix = np.diag(np.array(siemens))
    for node in range(1, len(parent)):
        a, b = node, parent[node]
        matrix[a, a] += 1 / ohm[node]
        matrix[b, b] += 1 / ohm[node]
        matrix[a, b] -= 1 / ohm[node]
        matrix[b, a] -= 1 / ohm[node]
    kept = [node for node in range(len(parent)) if node != bridged]
    current = np.zeros(len(kept))
    current[0] = 1.0
    return float(np.linalg.solve(matrix[np.ix_(kept, kept)], current)[0])


@given(trees())
def test_any_tree_agrees_with_nodal_analysis(
    case: tuple[list[int], list[float], list[float], int | None],
) -> None:
    parent, ohm, siemens, bridged = case
    found = loop(parent, ohm, siemens, bridged)
    assert found.r_ohm == pytest.approx(by_nodes(parent, ohm, siemens, bridged), rel=1e-7)


@given(trees(), st.data())
def test_slopes_are_those_of_whole_solutions(
    case: tuple[list[int], list[float], list[float], int | None], data: st.DataObject
) -> None:
    parent, ohm, siemens, bridged = case
    found = loop(parent, ohm, siemens, bridged)
    node = data.draw(st.integers(1, len(parent) - 1))
    for row, slope in ((ohm, found.per_ohm[node]), (siemens, found.per_siemens[node])):
        step = 1e-4 * max(row[node], 1e-5)
        kept, ends = row[node], []
        for by in (step, -step):
            row[node] = kept + by
            ends.append(loop(parent, ohm, siemens, bridged).r_ohm)
        row[node] = kept
        known = (ends[0] - ends[1]) / (2 * step)
        assert slope == pytest.approx(known, rel=1e-4, abs=1e-7 * found.r_ohm / step)


def test_one_decoder_on_the_way_is_in_parallel_with_what_lies_beyond() -> None:
    """3 + (2 ∥ 1000) with the bridge beyond it, 3 + 1000 without one: series and parallel."""
    parent, ohm, siemens = [-1, 0, 1], [0.0, 3.0, 2.0], [0.0, 1e-3, 0.0]
    assert loop(parent, ohm, siemens, 2).r_ohm == pytest.approx(3 + 2 * 1000 / 1002)
    assert loop(parent, ohm, siemens).r_ohm == pytest.approx(1003)
    assert loop(parent, ohm, [0.0] * 3, 2).r_ohm == 5.0
    assert loop(parent, ohm, [0.0] * 3, 2).per_ohm == (1.0, 1.0, 1.0)
