"""The worst set of outputs as a netlist that a SPICE circuit simulator runs as it is.

Whoever doubts a voltage of the sheet lets another program compute it: every segment, standby and
coil stands there as a circuit element under the site's own names. Nothing is solved here but what
constant-power standby draws. A name can be any text; only letters, digits and a few marks of it are
written, so that it never becomes a line, an element or a command.
"""

from __future__ import annotations

import cmath
import re
from collections.abc import Iterator, Sequence
from math import degrees, pi

from commission import __version__
from commission.electrical.network import Coil, Network, freeze_power, solve
from commission.electrical.sources import FORMULA_SET
from commission.expected.model import OutputModel
from commission.site.schema import ROOT, Solenoid, Station

_NOT_IN_NAMES = re.compile(r"[^a-z0-9]")
_NOT_IN_WORDS = re.compile(r"[^A-Za-z0-9 .,:()%_/-]")


def netlist(models: Sequence[OutputModel]) -> str:
    """A netlist of the worst set of each output in inrush, one circuit beside the other.

    It prints the magnitude of the r.m.s. voltage at every coil that runs. The outputs belong to one
    site under one case (`model.working_case`); without any a ValueError.
    """
    if not models:
        raise ValueError("a netlist has at least one output")
    frequency_hz = models[0].drawing.site.site.frequency_hz
    names, printed = _Names(), []
    lines = [*_head(models[0])]
    for model in models:
        circuit = _Circuit(model, names)
        lines += circuit.lines()
        printed += circuit.coil_nodes
    return "\n".join([
        *lines, "*", ".control", "set numdgt=12", f"ac lin 1 {frequency_hz!r} {frequency_hz!r}",
        *(f"print mag(v({node}))" for node in printed), "quit 0", ".endc", ".end",
    ])  # fmt: skip


def _head(model: OutputModel) -> Iterator[str]:
    """What the netlist is; the first line is its title."""
    site = model.drawing.site
    invented = " (invented)" if site.site.invented else ""
    mains_v = model.mains * site.supply.nominal_voltage_v
    yield f"Worst set at {_words(site.site.name)}{invented}"
    yield _note(f"commission {__version__}, formula set {FORMULA_SET}")
    yield _note(
        f"all coils of the set in inrush (conservative), mains {mains_v:.4g} V (the lowest), "
        f"soil {model.temperature_c:.4g} C (the warmest)"
    )
    yield _note("r.m.s. volts and amperes, the source E is the zero of angles")
    yield _note("a node is a pair of conductors: its voltage is that between them")


class _Names:
    """Site ids as names that the simulator takes: lower case, each given once."""

    def __init__(self) -> None:
        self._taken: set[str] = set()

    def new(self, what: str, own: str) -> str:
        """A name that nothing else has yet."""
        wanted = name = f"{what}_{_NOT_IN_NAMES.sub('_', own.lower())}"
        number = 1
        while name in self._taken:
            number += 1
            name = f"{wanted}_{number}"
        self._taken.add(name)
        return name


class _Circuit:
    """One output with its worst set."""

    def __init__(self, model: OutputModel, names: _Names) -> None:
        self.model = model
        self._names = names
        self.coil_nodes: list[str] = []
        self._omega = 2 * pi * model.drawing.site.site.frequency_hz
        self._nodes = self._node_names()

    def lines(self) -> Iterator[str]:
        """Source, segments, standby and coils, each with a note of what it is."""
        running = self._running()
        named = [(station, one) for station in running for one in station.solenoid]
        coils = [coil for station in running for coil in self.model.coils(station, "inrush")]
        net = freeze_power(self.model.network, coils)
        numbers = ", ".join(str(station.number) for station in running)
        yield "*"
        yield _note(f"Output {self.model.output.id}: stations {numbers or 'none may run'}")
        yield from self._source(net)
        yield from self._segments(net)
        yield from self._standby(net)
        voltages = solve(net, coils).coil_v
        for (station, solenoid), coil, voltage in zip(named, coils, voltages, strict=True):
            yield from self._coil(station, solenoid, coil, abs(voltage))

    def _running(self) -> list[Station]:
        """The stations of the worst set, by number, those that always run included."""
        found = self.model.worst_set()
        numbers = found.stations if found else ()
        return [station for station in self.model.stations if station.number in numbers]

    def _node_names(self) -> dict[int, str]:
        """Node to its name in the netlist."""
        names = {0: self._names.new("terminals", self.model.output.id)}
        for (_path, box), node in self.model.nodes.items():
            if node:
                names[node] = self._names.new("box", box)
        return names

    def _source(self, net: Network) -> Iterator[str]:
        name = self._names.new("source", self.model.output.id)
        yield _note(f"output {self.model.output.id}: source E at this mains behind Zs")
        yield f"V{name} {name} 0 DC 0 AC {net.source_v!r}"
        yield from self._series(name, name, self._nodes[0], net.z_ohm[0])

    def _segments(self, net: Network) -> Iterator[str]:
        """Every segment: both conductors and their joints in series."""
        for (path, box), node in self.model.nodes.items():
            if box == ROOT:
                continue
            segment = self.model.drawing.trees[path].feeds[box]
            cable = " and ".join(dict.fromkeys(self.model.drawing.stretch(path, segment).kinds))
            yield _note(
                f"path {path}, {segment.from_box} to {box}: {segment.length_m:.6g} m of {cable}"
            )
            above = self._nodes[net.parent[node]]
            yield from self._series(self._nodes[node], above, self._nodes[node], net.z_ohm[node])

    def _standby(self, net: Network) -> Iterator[str]:
        """Every decoder at rest, those of one box together."""
        for node, name in self._nodes.items():
            own = (str(s.number) for s in self.model.stations if self._node_of(s) == node)
            numbers = ", ".join(own)
            current_a, admittance_s = complex(net.standby_a[node]), complex(net.standby_s[node])
            if current_a or admittance_s:
                yield _note(f"standby of the decoders of stations {numbers}")
            if current_a:
                angle = degrees(cmath.phase(current_a))
                yield f"I{name} {name} 0 DC 0 AC {abs(current_a)!r} {angle!r}"
            if admittance_s:
                yield f"Rstandby_{name} {name} 0 {1 / admittance_s.real!r}"

    def _node_of(self, station: Station) -> int:
        return self.model.nodes[station.path, station.box]

    def _coil(
        self, station: Station, solenoid: Solenoid, coil: Coil, voltage_v: float
    ) -> Iterator[str]:
        """A coil behind its decoder's output: fixed drop in phase with E, then resistance."""
        name, start = self._names.new("coil", solenoid.id), self._nodes[coil.node]
        self.coil_nodes.append(name)
        kind = self.model.drawing.site.solenoid_kind[solenoid.kind]
        yield _note(
            f"station {station.number}, solenoid {solenoid.id}: expected {voltage_v:.4f} V, "
            f"minimum {kind.min_voltage_v:.4g} V"
        )
        if coil.drop_v:
            yield f"V{name} {start} drop_{name} DC 0 AC {coil.drop_v!r}"
            start = f"drop_{name}"
        yield from self._series(f"output_{name}", start, name, complex(coil.output_ohm))
        yield from self._series(name, name, "0", coil.z_ohm)

    def _series(self, name: str, start: str, end: str, z_ohm: complex) -> Iterator[str]:
        """Resistance and reactance in series; what is nothing becomes a plain connection."""
        r_ohm, x_ohm = complex(z_ohm).real, complex(z_ohm).imag
        between = f"within_{name}" if r_ohm and x_ohm else end
        if r_ohm:
            yield f"R{name} {start} {between} {r_ohm!r}"
            start = between
        if x_ohm > 0:
            yield f"L{name} {start} {end} {x_ohm / self._omega!r}"
        elif x_ohm < 0:
            yield f"C{name} {start} {end} {-1 / (x_ohm * self._omega)!r}"
        elif not r_ohm:
            yield f"Vjoin_{name} {start} {end} DC 0"


def _note(words: str) -> str:
    """A comment, whatever the words are."""
    return f"* {_words(words)}"


def _words(text: str) -> str:
    """Text of which nothing means anything to the simulator."""
    return _NOT_IN_WORDS.sub("?", text)
