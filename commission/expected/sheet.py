"""All expectations of a site, found by the name that a checklist uses and the place it is asked."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from functools import cached_property
from types import MappingProxyType
from typing import Protocol

from commission.expected import voltages
from commission.expected.inputs import Drawing
from commission.expected.limits import site_limit
from commission.expected.loops import loop_expectation
from commission.expected.together import worst_set
from commission.expected.values import Expectation
from commission.site.schema import Site
from commission.site.tree import build_trees


class Place(Protocol):
    """Where a reading is taken: the ids that apply, others empty."""

    @property
    def output(self) -> str: ...
    @property
    def path(self) -> str: ...
    @property
    def box(self) -> str: ...
    @property
    def station(self) -> str: ...


@dataclass(frozen=True, slots=True)
class Conditions:
    """What was measured earlier and bears on later expectations."""

    mains_v: Mapping[str, float] = field(default_factory=lambda: MappingProxyType({}))  # by output


NOMINAL = Conditions()


class Sheet:
    """The expectations of one site. Pure: the same site and conditions give the same numbers."""

    def __init__(self, site: Site) -> None:
        self.site = site
        self.drawing = Drawing(site, build_trees(site))
        self._known: dict[tuple[str, ...], Expectation | None] = {}

    @cached_property
    def worst_sets(self) -> dict[str, tuple[str, ...]]:
        """Output id to the ids of the stations run together there, the worst last."""
        return {output.id: worst_set(self.drawing, output.id) for output in self.site.output}

    def expectation(
        self, name: str, place: Place, conditions: Conditions = NOMINAL
    ) -> Expectation | None:
        """The expectation or limit of that name at a place; None when there is none for it."""
        mains_v = conditions.mains_v.get(place.output)
        key = (name, place.output, place.path, place.box, place.station, str(mains_v))
        if key not in self._known:
            self._known[key] = self._compute(name, place, mains_v)
        return self._known[key]

    def _compute(self, name: str, place: Place, mains_v: float | None) -> Expectation | None:
        drawing, output = self.drawing, place.output
        if name in ("loop-resistance", "loop-reversed"):
            return loop_expectation(drawing, place.path, place.box)
        if name == "output-voltage":
            return voltages.output_voltage(drawing, output, mains_v)
        if name == "standby-current":
            return voltages.standby_current(drawing, place.path, mains_v)
        if name == "end-voltage":
            return voltages.end_voltage(drawing, place.path, place.box, mains_v)
        if name.startswith("station-"):
            station = drawing.stations[place.station]
            if name == "station-current":
                return voltages.station_current(drawing, station, mains_v)
            return voltages.station_voltage(drawing, station)
        if name.startswith("together-"):
            return self._together(name, output, mains_v)
        return site_limit(drawing, name)

    def _together(self, name: str, output: str, mains_v: float | None) -> Expectation | None:
        running = self.worst_sets[output]
        if not running:
            return None
        if name == "together-voltage":
            return voltages.together_voltage(self.drawing, output, running)
        if name == "together-output-voltage":
            return voltages.together_output_voltage(self.drawing, output, running, mains_v)
        return voltages.together_current(self.drawing, output)
