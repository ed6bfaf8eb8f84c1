"""What one meter shows at a real site, step by step of a walk, and how each reading is judged."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from random import Random

from commission.electrical.instruments import ReadingError
from commission.expected.asfound import Taken, Works
from commission.expected.sheet import Sheet, Spot
from commission.site.schema import Output, Site
from commission.verdict.judge import acceptance
from tests.expected.real_site import RealSite

# Half-widths of an invented meter: gain as a fraction, counts in SI.
GAIN = {"resistance": 0.005, "voltage": 0.005, "current": 0.01}
COUNTS = {"resistance": 0.02, "voltage": 0.02, "current": 0.0002}


class Walk:
    """Every reading that teaches something of the first output, mains at nominal."""

    def __init__(self, sheet: Sheet, real: RealSite, draw: Random) -> None:
        self.sheet, self.real, self.draw = sheet, real, draw
        self.output: Output = sheet.site.output[0]
        self.gain = {name: draw.uniform(-width, width) for name, width in GAIN.items()}
        self.together = [sheet.drawing.stations[one] for one in sheet.worst_sets[self.output.id]]

    def readings(self) -> Iterator[Taken]:
        """Loops, voltages and currents at rest, every station alone, the worst set."""
        real, idle = self.real, self.real.solve(self.output, ())
        paths = [path for path in self.sheet.site.path if path.output == self.output.id]
        terminals = (paths[0].id, "output")
        yield self._read("output-voltage", abs(idle.node_v[terminals]))
        for path in paths:
            yield self._read("standby-current", abs(idle.path_a[path.id]), path.id)
            for end in self.sheet.drawing.trees[path.id].ends():
                yield self._read("loop-resistance", real.loop_ohm(path, end), path.id, end)
                yield self._read("end-voltage", abs(idle.node_v[path.id, end]), path.id, end)
            for s in self.sheet.drawing.stations_on(path.id):
                ampere = abs(real.solve(self.output, (s,)).path_a[path.id])
                yield self._read("station-current", ampere, path.id, s.box, s.id)
        run, at = real.solve(self.output, self.together), self.together[-1]
        volt = abs(run.node_v[at.path, at.box])
        yield self._read("together-voltage", volt, at.path, at.box)
        yield self._read("together-output-voltage", abs(run.node_v[terminals]))

    def _read(
        self, name: str, truth: float, path: str = "", box: str = "", station: str = ""
    ) -> Taken:
        expected = self.sheet.expectation(name, Spot(self.output.id, path, box, station))
        assert expected is not None
        quantity = expected.quantity
        counts = COUNTS[quantity]
        shown = truth * (1 + self.gain[quantity]) + self.draw.uniform(-counts, counts)
        error = ReadingError(abs(shown) * GAIN[quantity], counts)
        low, high = acceptance(expected, error)
        return Taken(
            name, shown, low <= shown <= high, max(0.0, shown - high), path, box, station,
            quantity, GAIN[quantity], counts,
        )  # fmt: skip

    def really_works(self, minimum_v: float) -> bool:
        """Whether the worst set does work, in inrush, at lowest mains and in the warmest soil."""
        site = self.sheet.site
        lowest, warm_c = 1 - site.supply.lowest_fraction_below, site.soil.warmest_c
        found = self.real.solve(
            self.output, self.together, inrush=True, mains=lowest, soil_c=warm_c
        )
        return all(abs(v) > minimum_v for v in found.coil_v.values())


def with_minimum(site: Site, min_v: float) -> Site:
    """The same site, all its solenoids with one minimum."""
    kinds = {n: replace(kind, min_voltage_v=min_v) for n, kind in site.solenoid_kind.items()}
    return replace(site, solenoid_kind=kinds)


def near_its_minimum(site: Site, draw: Random) -> tuple[Sheet, float]:
    """A site whose solenoids need about what the worst set leaves them: a hard question."""
    model = Sheet(with_minimum(site, 20.0)).as_found(site.output[0].id)
    assert model is not None
    min_v = model.works([]).lowest_v + draw.uniform(-0.5, 0.4)
    return Sheet(with_minimum(site, min_v)), min_v


def judged(site: Site, draw: Random) -> tuple[Works, bool]:
    """What is said of a site's worst set after a walk, and whether it is so."""
    sheet, min_v = near_its_minimum(site, draw)
    walk = Walk(sheet, RealSite(sheet.site, draw), draw)
    model = sheet.as_found(walk.output.id)
    assert model is not None
    return model.works(walk.readings()), walk.really_works(min_v)
