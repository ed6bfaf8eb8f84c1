"""The tests that can be made to tell suspects apart, grouped by where they are made."""

from __future__ import annotations

from collections.abc import Collection, Sequence

from commission.locate.faults import ACROSS, Fault
from commission.locate.readings import FieldTest
from commission.locate.scene import Scene
from commission.site.schema import ROOT

_STATIONS = 6  # stations run while a voltage is read at one box
_ENDS = 4  # suspects whose nearest end is looked at
_CONDUCTORS = ("first", "second")


class Candidates:
    """Tests that a person can make there, chosen by what is suspected."""

    def __init__(
        self,
        scene: Scene,
        suspects: Sequence[tuple[float, tuple[Fault, ...]]],
        read: Collection[FieldTest],
        open_boxes: Collection[str],
    ) -> None:
        """`suspects` with their probabilities, the likeliest first; `read` was made already."""
        self.scene, self.plant = scene, scene.plant
        self._suspects, self._read, self._open = suspects, read, open_boxes

    def bundles(self, without: frozenset[str]) -> list[list[FieldTest]]:
        """The tests that can be made at the terminals, one by one, and those at each box."""
        path = self._path
        found = [[test] for test in self._at_terminals(path)]
        below = self.scene.model.drawing.trees[path].children
        for box in self._boxes(path):
            dead = [FieldTest("loop", path, box)]
            live = [FieldTest("voltage", path, box, station) for station in self._stations(path)]
            found += [dead, live, [*dead, *live]]
            found += [[test] for child in below[box] for test in self._sides(path, box, child)]
            at_box = [s.id for s in self.scene.model.stations if (s.path, s.box) == (path, box)]
            found += [[FieldTest("indicator", path, box, station)] for station in at_box]
        kept = [
            [test for test in tests if test not in self._read and test.kind not in without]
            for tests in found
        ]
        return [tests for tests in kept if tests]

    def _sides(self, path: str, box: str, child: str) -> list[FieldTest]:
        """What can be read of one cable alone, once its joint in a box was opened."""
        found = []
        if any(fault.kind in ACROSS for _, faults in self._suspects for fault in faults):
            found.append(FieldTest("side", path, box, beyond=child))
        if self._leaking:
            found += [FieldTest("insulation", path, box, "", c, child) for c in _CONDUCTORS]
        return found

    @property
    def _path(self) -> str:
        """The path that most hypotheses are on."""
        weight: dict[str, float] = dict.fromkeys(self.plant.standby_a, 0.0)
        for probability, faults in self._suspects:
            for fault in faults:
                if fault.path:
                    weight[fault.path] += probability
        return max(weight, key=lambda path: weight[path])

    def _at_terminals(self, path: str) -> list[FieldTest]:
        called = [s.id for s in self.scene.model.stations if s.path == path]
        found = [FieldTest("unbridged", path), FieldTest("current", path)]
        for child in self.scene.model.drawing.trees[path].children[ROOT]:
            found += self._sides(path, ROOT, child)
        found += [FieldTest("current", path, station=station) for station in called]
        if self._leaking:
            near = self._stations(path)
            found += [FieldTest("earth", path, ROOT, s, c) for s in near for c in _CONDUCTORS]
        return [test for test in found if test not in self._read]

    @property
    def _leaking(self) -> bool:
        return any(fault.kind == "leak" for _, faults in self._suspects for fault in faults)

    def _boxes(self, path: str) -> list[str]:
        """Boxes beside what is suspected, boxes open already, and an end beyond the suspects."""
        near: dict[str, None] = dict.fromkeys(
            box for box in sorted(self._open) if (path, box) in self.plant.model.nodes
        )
        for _, faults in self._suspects:
            for fault in faults:
                if fault.path == path and fault.box:
                    node = self.plant.node(path, fault.box)
                    near[fault.box] = None
                    if self.plant.parent[node]:
                        near[self.plant.name_of[self.plant.parent[node]][1]] = None
        for box in list(near)[:_ENDS]:
            near[self._end_beyond(path, box)] = None
        return list(near)

    def _end_beyond(self, path: str, box: str) -> str:
        """An end of the path that is fed through a box."""
        below = self.scene.model.drawing.trees[path].children
        while below[box]:
            box = below[box][0]
        return box

    def _stations(self, path: str) -> list[str]:
        """No station, and those whose boxes part the suspects, the likeliest first."""
        chosen: dict[str, None] = {"": None}
        for _, faults in self._suspects:
            for fault in faults:
                for station in self.scene.model.stations:
                    if station.path == path and station.box in self._around(path, fault.box):
                        chosen[station.id] = None
            if len(chosen) > _STATIONS:
                break
        return list(chosen)[: _STATIONS + 1]

    def _around(self, path: str, box: str) -> tuple[str, ...]:
        if not box or (path, box) not in self.plant.model.nodes or box == ROOT:
            return ()
        above = self.plant.parent[self.plant.node(path, box)]
        return (box, self.plant.name_of[above][1]) if above else (box,)
