"""From the site file to the numbers of the laws: conductors, routes, one name per cause."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace

from commission.electrical import conductors
from commission.electrical.conductors import Conductor
from commission.electrical.segments import Segment as Cable
from commission.site.schema import CableKind, Output, Segment, Site, Station
from commission.site.tree import PathTree
from commission.units import in_unit

# Rectangular half-widths of a length by how it was obtained (judgement; one error per method).
# By loop: the cable kind's resistance was read over this very length; its ends are cut afterwards.
LENGTH_ERROR = {"tape": 0.01, "wheel": 0.02, "drawing": 0.05, "estimate": 0.15, "loop": 0.005}
LENGTH_WORDS = {
    "tape": "lengths by tape",
    "wheel": "lengths by measuring wheel",
    "drawing": "lengths from the drawing",
    "estimate": "estimated lengths",
    "loop": "ends cut after the loop was read",
}
DC_ERROR = 0.20  # half-width of a decoder's stated d.c. resistance, a fraction (judgement)


def conductor(kind: CableKind, frequency_hz: float) -> Conductor:
    """The conductor of a cable kind; what its data sheet states overrides the size's standard."""
    per_hz = None
    if kind.reactance_ohm_per_m is not None:
        per_hz = kind.reactance_ohm_per_m / frequency_hz
    if kind.resistance_ohm_per_m is not None:
        return conductors.data_sheet(
            kind.resistance_ohm_per_m, kind.resistance_tolerance, per_hz, size=kind.conductor
        )
    size, unit = kind.conductor.split(" ")
    if unit == "AWG":
        found = conductors.awg(size, stranded=kind.stranded)
    else:
        found = conductors.metric(float(size))
    return found if per_hz is None else replace(found, x_ohm_per_m_per_hz=per_hz)


@dataclass(frozen=True, slots=True)
class Stretch:
    """One segment with everything known of it: the drawing's words and the law's numbers."""

    segment: Segment
    kinds: tuple[str, str]
    length_by: str
    cable: Cable


class Drawing:
    """A site with its trees and conductors resolved once; read-only."""

    def __init__(
        self, site: Site, trees: dict[str, PathTree], undated: Drawing | None = None
    ) -> None:
        """`undated` is the same drawing before the soil was measured, if it was."""
        self.site = site
        self.trees = trees
        self.undated = undated or self
        frequency_hz = site.site.frequency_hz
        self.conductors = {
            name: conductor(kind, frequency_hz) for name, kind in site.cable_kind.items()
        }
        self.outputs: dict[str, Output] = {output.id: output for output in site.output}
        self.stations: dict[str, Station] = {station.id: station for station in site.station}
        self.path_of = {path.id: path for path in site.path}
        self._stretches: dict[tuple[str, str], Stretch] = {}

    def degrees(self, temperature_c: float) -> str:
        """A temperature in words, in the unit that the site shows."""
        unit = "°F" if self.site.site.units == "US" else "°C"
        return f"{in_unit(temperature_c, unit, 'temperature'):.0f} {unit}"

    def stations_on(self, path: str) -> Iterator[Station]:
        """The stations of a path, in the order of their numbers."""
        yield from sorted(
            (station for station in self.site.station if station.path == path),
            key=lambda station: station.number,
        )

    def across_s(self, path: str) -> dict[str, dict[str, float]]:
        """What lies across the pair for an ohmmeter [S], by kind of decoder and box.

        Only kinds that state a d.c. resistance are in it: other inputs block at its voltage.
        """
        found: dict[str, dict[str, float]] = {}
        for station in self.stations_on(path):
            ohm = self.site.decoder_kind[station.decoder].dc_resistance_ohm
            if ohm:
                by_box = found.setdefault(station.decoder, {})
                by_box[station.box] = by_box.get(station.box, 0.0) + 1 / ohm
        return found

    def route(self, path: str, box: str) -> tuple[Stretch, ...]:
        """The segments from the output terminals to a box."""
        return tuple(self.stretch(path, segment) for segment in self.trees[path].route(box))

    def stretch(self, path: str, segment: Segment) -> Stretch:
        """One segment of a path with its cable; the path's defaults where it says nothing."""
        known = self._stretches.get((path, segment.to_box))
        if known is None or known.segment is not segment:
            known = self._stretches[path, segment.to_box] = self._stretch(path, segment)
        return known

    def _stretch(self, path: str, segment: Segment) -> Stretch:
        defaults = self.path_of[path]
        kinds = segment.cable or defaults.cable
        first, second = self.conductors[kinds[0]], self.conductors[kinds[1]]
        return Stretch(
            segment=segment,
            kinds=kinds,
            length_by=segment.length_by or defaults.length_by,
            cable=Cable(segment.length_m, first, second),
        )
