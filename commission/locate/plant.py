"""One output as the tests see it: cable when dead, transfer impedances when live, its stations."""

from __future__ import annotations

import math
from collections.abc import Mapping
from copy import copy
from dataclasses import dataclass, replace
from functools import cached_property

from commission.electrical.network import freeze_power
from commission.electrical.transfer import Transfer
from commission.expected.loops import path_loop
from commission.expected.model import OutputModel, rated_current_a
from commission.locate.view import View
from commission.site.schema import ROOT, Station

TRIP_OVER_RATED = 1.5
"""Current over the rated one at which an output of unknown protection gives up (judgement)."""


@dataclass(frozen=True, slots=True)
class Coils:
    """The coils of one station in parallel: where they hang, and their impedance in both states."""

    station: str
    path: str
    node: int
    holding_ohm: complex
    inrush_ohm: complex
    share: float  # of the voltage behind the decoder's output that is at the coil, in inrush
    drop_v: float
    min_v: float


class Plant:
    """An output under one set of causes. Pure; what is computed once is kept."""

    def __init__(self, model: OutputModel) -> None:
        self.model = model
        self.network = freeze_power(model.network)
        self.transfer = Transfer(self.network)
        self.parent, self.z_ohm = self.network.parent, self.network.z_ohm
        self._common: dict[int, list[float]] = {}
        self._without: dict[frozenset[int], Plant] = {}

    @cached_property
    def view(self) -> View:
        """The sound output with nothing running."""
        return View(self.transfer, list(self.transfer.open_v), list(self.transfer.driving_ohm))

    def without(self, cut: frozenset[int]) -> Plant:
        """The same output with nothing drawn at some nodes: an open conductor leaves them dead."""
        found = self._without.get(cut)
        if found is None:
            found = copy(self)
            found._without = {}
            net = self.network
            found.network = replace(
                net,
                standby_a=tuple(0j if n in cut else a for n, a in enumerate(net.standby_a)),
                standby_s=tuple(0j if n in cut else s for n, s in enumerate(net.standby_s)),
            )
            found.transfer = Transfer(found.network)
            for name in ("view", "standby_a", "standby_s"):
                found.__dict__.pop(name, None)
            self._without[cut] = found
        return found

    def below(self, node: int) -> frozenset[int]:
        """A node and everything that is fed through it."""
        return frozenset(n for n, above in enumerate(self.above) if node in above)

    def node(self, path: str, box: str) -> int:
        """The node of a box; 0 for the terminals."""
        return self.model.nodes[path, box]

    @cached_property
    def name_of(self) -> Mapping[int, tuple[str, str]]:
        """Node to (path, box)."""
        return {node: name for name, node in self.model.nodes.items() if name[1] != ROOT}

    @cached_property
    def coils(self) -> Mapping[str, Coils]:
        """The coils of every station by its id."""
        return {station.id: self._coils(station) for station in self.model.stations}

    def _coils(self, station: Station) -> Coils:
        held = self.model.coils(station, "holding")
        pulled = self.model.coils(station, "inrush")
        kinds = self.model.drawing.site.solenoid_kind
        worst = min(pulled, key=lambda coil: abs(coil.z_ohm / coil.total_z_ohm))
        return Coils(
            station=station.id,
            path=station.path,
            node=self.node(station.path, station.box),
            holding_ohm=1 / sum(1 / coil.total_z_ohm for coil in held),
            inrush_ohm=1 / sum(1 / coil.total_z_ohm for coil in pulled),
            share=abs(worst.z_ohm / worst.total_z_ohm),
            drop_v=held[0].drop_v,
            min_v=max(kinds[one.kind].min_voltage_v for one in station.solenoid),
        )

    @cached_property
    def always(self) -> tuple[str, ...]:
        """The stations that run whenever any does."""
        return tuple(station.id for station in self.model.always)

    @cached_property
    def trip_a(self) -> float:
        """The current at which the output's protection gives up, as far as the data tell."""
        output = self.model.output
        stated = [a for a in (output.fuse_a, output.current_limit_a) if a is not None]
        return min(stated) if stated else TRIP_OVER_RATED * rated_current_a(output)

    @cached_property
    def standby_a(self) -> Mapping[str, complex]:
        """Path to the fixed standby current of its decoders."""
        found: dict[str, complex] = {}
        for node, (path, _box) in self.name_of.items():
            found[path] = found.get(path, 0j) + self.network.standby_a[node]
        return found

    @cached_property
    def standby_s(self) -> Mapping[str, tuple[tuple[int, complex], ...]]:
        """Path to the nodes whose standby follows the voltage, with its admittance."""
        found: dict[str, list[tuple[int, complex]]] = {}
        for node, (path, _box) in self.name_of.items():
            if self.network.standby_s[node]:
                found.setdefault(path, []).append((node, self.network.standby_s[node]))
        return {path: tuple(rows) for path, rows in found.items()}

    @cached_property
    def route_ohm(self) -> list[float]:
        """Loop resistance from the terminals to every node [Ω]."""
        found = [0.0] * len(self.parent)
        for node in range(1, len(self.parent)):
            found[node] = found[self.parent[node]] + self.z_ohm[node].real
        return found

    @cached_property
    def loop_part(self) -> list[float]:
        """What decoders that conduct at an ohmmeter's voltage leave of the loop at every node."""
        found = [1.0] * len(self.parent)
        conducting = {
            path for path, _box in self.model.nodes if self.unbridged_ohm(path) < math.inf
        }
        for (path, box), node in self.model.nodes.items():
            if node and path in conducting:
                found[node] = self._loop_ohm(path, box) / self.route_ohm[node]
        return found

    def unbridged_ohm(self, path: str) -> float:
        """What the decoders of a sound path let an ohmmeter see; infinite where none conducts."""
        return self._loop_ohm(path, None)

    def _loop_ohm(self, path: str, box: str | None) -> float:
        model = self.model
        return path_loop(
            model.drawing, path, box,
            lambda one: self.z_ohm[self.node(path, one.to_box)].real, model.dc_factor,
        ).r_ohm  # fmt: skip

    @cached_property
    def first_share(self) -> list[float]:
        """The first conductor's part of the loop resistance into every node."""
        found = [0.5] * len(self.parent)
        for (path, box), node in self.model.nodes.items():
            if node:
                drawing = self.model.drawing
                cable = drawing.stretch(path, drawing.trees[path].feeds[box]).cable
                first, second = cable.first.r20_ohm_per_m, cable.second.r20_ohm_per_m
                found[node] = first / (first + second)
        return found

    @cached_property
    def above(self) -> list[frozenset[int]]:
        """The nodes on the way from the terminals to every node, itself included."""
        found: list[frozenset[int]] = [frozenset()]
        for node in range(1, len(self.parent)):
            found.append(found[self.parent[node]] | {node})
        return found

    def common_ohm(self, a: int, b: int) -> float:
        """Loop resistance that the ways to two nodes have in common [Ω]."""
        row = self._common.get(a)
        if row is None:
            on_way, row = self.above[a], [0.0] * len(self.parent)
            for node in range(1, len(self.parent)):
                row[node] = self.route_ohm[node] if node in on_way else row[self.parent[node]]
            self._common[a] = row
        return row[b]
