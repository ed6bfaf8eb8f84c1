"""What was read and seen so far, sorted: what explains it asks here."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from functools import cached_property

from commission.locate.readings import DEAD_KINDS, SEEN_KINDS, Reading
from commission.locate.scene import Scene


class Facts:
    """All readings and observations of one output. Pure."""

    def __init__(self, scene: Scene, readings: Iterable[Reading]) -> None:
        self.scene = scene
        taken = tuple(readings)
        self.measured = [r for r in taken if r.test.kind not in SEEN_KINDS]
        self.live = [r for r in self.measured if r.test.kind not in DEAD_KINDS]
        self.water = {r.test.station: r.seen for r in taken if r.test.kind == "water"}
        self.not_watched = {r.test.station for r in taken if not r.elsewhere}
        self.indicator = {r.test.station: bool(r.seen) for r in taken if r.test.kind == "indicator"}
        self.current = {(r.test.path, r.test.station): r for r in taken if r.test.kind == "current"}

    @cached_property
    def calls(self) -> frozenset[str]:
        """The stations that were called."""
        live = {r.test.station for r in self.live if r.test.station}
        return frozenset(self.water) | frozenset(self.indicator) | live

    @cached_property
    def places(self) -> Mapping[str, list[int]]:
        """Station to where its readings stand."""
        found: dict[str, list[int]] = {}
        for i, reading in enumerate(self.measured):
            found.setdefault(reading.test.station, []).append(i)
        return found

    def current_of(self, station: str) -> Reading | None:
        """The current read while a station was called."""
        return self.current.get((self.scene.plant.coils[station].path, station))

    def reads_nothing(self, reading: Reading) -> bool:
        """Whether a live reading is no more than the counts of its meter."""
        accuracy = self.scene.meter.of(reading.test.unit)
        return reading.value <= accuracy.counts * accuracy.resolution

    @cached_property
    def all_off(self) -> bool:
        """Whether nothing live was ever read, so that the output may not stay on."""
        return bool(self.live) and all(self.reads_nothing(r) for r in self.live)

    @cached_property
    def tripped(self) -> frozenset[str]:
        """The stations whose call left no current at all, though there was some before."""
        return frozenset(
            station
            for (path, station), one in self.current.items()
            if station and self.reads_nothing(one) and self._idles(path)
        )

    def _idles(self, path: str) -> bool:
        """Whether a path was seen to draw anything with nothing called."""
        idle = self.current.get((path, ""))
        return idle is not None and not self.reads_nothing(idle)

    @cached_property
    def held_a(self) -> float:
        """The largest current at which the output was seen to stay on."""
        return max((one.value for one in self.current.values()), default=0.0)
