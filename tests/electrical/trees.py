"""Random outputs for property tests, and two independent ways to solve them."""

from __future__ import annotations

import cmath
import math
import shutil
import subprocess
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import pytest
from hypothesis import strategies as st

from commission.electrical.network import Coil, Network, network

FREQUENCY_HZ = 60.0


@dataclass(frozen=True)
class Case:
    """An output and the coils that run on it."""

    net: Network
    coils: tuple[Coil, ...]


def _number(low: float, high: float) -> st.SearchStrategy[float]:
    return st.floats(low, high, allow_nan=False, allow_subnormal=False)


@st.composite
def coils_at(draw: st.DrawFn, node: int) -> Coil:
    """A coil between a small holding one and a large inrushing one, lagging 25 to 80 degrees."""
    z_ohm = cmath.rect(draw(_number(30, 200)), math.radians(draw(_number(25, 80))))
    output_ohm = draw(st.sampled_from([0.0, 0.0, 2.5]))
    drop_v = draw(st.sampled_from([0.0, 0.0, 1.2]))
    return Coil(node, z_ohm, output_ohm, drop_v)


@st.composite
def cases(draw: st.DrawFn, max_boxes: int = 24, max_coils: int = 4, min_boxes: int = 1) -> Case:
    """A tree of boxes with mixed standby behind a source, and a few coils."""
    boxes = draw(st.integers(min_boxes, max_boxes))
    parent = [-1] + [draw(st.integers(max(0, i - 4), i - 1)) for i in range(1, boxes + 1)]
    source_ohm = complex(draw(_number(0.05, 3)), draw(_number(0, 1)))
    cable_ohm = [complex(draw(_number(0.01, 3)), draw(_number(0, 0.2))) for _ in range(boxes)]
    net = network(
        draw(_number(22, 30)),
        parent,
        [source_ohm, *cable_ohm],
        standby_a=[0.0] + [draw(_number(0, 0.01)) for _ in range(boxes)],
        standby_s=[0.0] + [draw(st.sampled_from([0.0, 1 / 4700])) for _ in range(boxes)],
    )
    nodes = draw(st.lists(st.integers(1, boxes), max_size=max_coils))
    return Case(net, tuple(draw(coils_at(node)) for node in nodes))


def nodal_voltages(case: Case) -> list[complex]:
    """Node voltages by dense nodal analysis: one matrix for the whole output, solved by numpy."""
    net, size = case.net, len(case.net.parent)
    matrix = np.zeros((size, size), dtype=complex)
    right = np.zeros(size, dtype=complex)
    for i, (above, z_ohm) in enumerate(zip(net.parent, net.z_ohm, strict=True)):
        matrix[i, i] += 1 / z_ohm + net.standby_s[i]
        right[i] -= net.standby_a[i]
        if above < 0:
            right[i] += net.source_v / z_ohm
        else:
            matrix[above, above] += 1 / z_ohm
            matrix[i, above] -= 1 / z_ohm
            matrix[above, i] -= 1 / z_ohm
    for coil in case.coils:
        matrix[coil.node, coil.node] += 1 / coil.total_z_ohm
        right[coil.node] += coil.drop_v / coil.total_z_ohm
    return [complex(v) for v in np.linalg.solve(matrix, right)]


def simulated_voltages(trees: Sequence[Case], folder: Path) -> list[list[complex]]:
    """Node voltages of many outputs by one batch run of the circuit simulator."""
    program = shutil.which("ngspice")
    if program is None:
        pytest.fail("ngspice is not installed: the networks could not be checked against it")
    lines = ["outputs", *(line for k, case in enumerate(trees) for line in _cards(k, case))]
    names = [f"v(t{k}n{i})" for k, case in enumerate(trees) for i in range(len(case.net.parent))]
    lines += [".control", "set numdgt=16", f"ac lin 1 {FREQUENCY_HZ} {FREQUENCY_HZ}"]
    lines += [f"print {name}" for name in names] + [".endc", ".end"]
    netlist = folder / "outputs.cir"
    netlist.write_text("\n".join(lines) + "\n", encoding="ascii")
    done = subprocess.run(
        [program, "-b", str(netlist)], capture_output=True, text=True, timeout=60, check=False
    )
    found = {}
    for line in done.stdout.splitlines():
        name, equals, value = line.partition(" = ")
        if equals and name.strip() in names:
            real, imaginary = value.split(",")
            found[name.strip()] = complex(float(real), float(imaginary))
    assert len(found) == len(names), done.stdout + done.stderr
    return [
        [found[f"v(t{k}n{i})"] for i in range(len(case.net.parent))] for k, case in enumerate(trees)
    ]


def _cards(k: int, case: Case) -> list[str]:
    """Netlist lines of one output; a reactance becomes an inductance at the site frequency."""
    net = case.net
    cards = [f"Vt{k} t{k}e 0 DC 0 AC {net.source_v!r}"]
    for i, (above, z_ohm) in enumerate(zip(net.parent, net.z_ohm, strict=True)):
        feed = f"t{k}e" if above < 0 else f"t{k}n{above}"
        cards += _series(f"t{k}s{i}", feed, f"t{k}n{i}", z_ohm)
        current = complex(net.standby_a[i]).real
        cards.append(f"It{k}b{i} t{k}n{i} 0 DC 0 AC {current!r}")
        if net.standby_s[i]:
            cards.append(f"Rt{k}b{i} t{k}n{i} 0 {1 / complex(net.standby_s[i]).real!r}")
    for n, coil in enumerate(case.coils):
        cards.append(f"Vt{k}c{n} t{k}n{coil.node} t{k}d{n} DC 0 AC {coil.drop_v!r}")
        cards += _series(f"t{k}c{n}", f"t{k}d{n}", "0", coil.total_z_ohm)
    return cards


def _series(name: str, start: str, end: str, z_ohm: complex) -> list[str]:
    """Resistance and inductance in series between two nodes."""
    henry = z_ohm.imag / (2 * math.pi * FREQUENCY_HZ)
    if not henry:
        return [f"R{name} {start} {end} {z_ohm.real!r}"]
    return [f"R{name} {start} {name}m {z_ohm.real!r}", f"L{name} {name}m {end} {henry!r}"]
