"""All expectations of a site, found by the name that a checklist uses and the place it is asked."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from functools import cached_property
from types import MappingProxyType
from typing import TYPE_CHECKING, Protocol

from commission.expected import voltages
from commission.expected.inputs import Drawing
from commission.expected.limits import site_limit, unbridged_limit
from commission.expected.loops import loop_expectation
from commission.expected.model import OutputModel, on_test_day, working_case
from commission.expected.soil import MEASURED_SOIL_K, soil_expectation
from commission.expected.to_earth import volts_to_earth
from commission.expected.together import worst_set
from commission.expected.values import Expectation
from commission.site.schema import Site
from commission.site.tree import build_trees

if TYPE_CHECKING:
    from commission.expected.asfound import AsFound
    from commission.expected.load import Carried


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
class Spot:
    """A place on the site, for looking up one expectation."""

    output: str = ""
    path: str = ""
    box: str = ""
    station: str = ""


@dataclass(frozen=True, slots=True)
class Conditions:
    """What was measured earlier and bears on later expectations."""

    mains_v: Mapping[str, float] = field(default_factory=lambda: MappingProxyType({}))  # by output
    soil_c: float | None = None  # at cable depth, on the test day


NOMINAL = Conditions()


# What is read with the supply on, at most one station running; at the mains measured.
_LIVE: Mapping[str, Callable[[Drawing, Place, float | None], Expectation]] = {
    "output-voltage": lambda d, at, v: voltages.output_voltage(d, at.output, v),
    "standby-current": lambda d, at, v: voltages.standby_current(d, at.path, v),
    "first-volts-to-earth": lambda d, at, v: volts_to_earth(d, at.path, "first", v),
    "second-volts-to-earth": lambda d, at, v: volts_to_earth(d, at.path, "second", v),
    "end-voltage": lambda d, at, v: voltages.end_voltage(d, at.path, at.box, v),
    "station-current": lambda d, at, v: voltages.station_current(d, d.stations[at.station], v),
    "station-voltage": lambda d, at, v: voltages.station_voltage(d, d.stations[at.station], v),
}


class Sheet:
    """The expectations of one site. Pure: the same site and conditions give the same numbers."""

    def __init__(self, site: Site) -> None:
        self.site = site
        self.drawing = Drawing(site, build_trees(site))
        self._known: dict[tuple[str, ...], Expectation | None] = {}
        self._at_soil: dict[float, Drawing] = {}
        self._margins: dict[str, dict[str, float]] = {}
        self._carried: dict[str, tuple[Carried, ...]] = {}

    @cached_property
    def worst_sets(self) -> dict[str, tuple[str, ...]]:
        """Output id to the ids of the stations run together there, the worst last."""
        return {output.id: worst_set(self.drawing, output.id) for output in self.site.output}

    def carried(self, output: str) -> tuple[Carried, ...]:
        """Whether an output will carry the most that may run at once; empty without stations."""
        from commission.expected.load import carried  # a start does without

        if output not in self._carried:
            self._carried[output] = carried(self.drawing, output)
        return self._carried[output]

    def as_found(
        self, output: str, conditions: Conditions = NOMINAL, running: Sequence[str] = ()
    ) -> AsFound | None:
        """What is believed of an output before its readings; None without stations.

        Of its worst set, unless other stations are named.
        """
        from commission.expected.asfound import AsFound  # a start does without

        running = running or self.worst_sets[output]
        if not running:
            return None
        drawing = self._drawing_at(conditions.soil_c)
        return AsFound(
            self.on_test_day(output, conditions),
            replace(working_case(drawing, output), sizing=False),
            [drawing.stations[one] for one in running],
        )

    def on_test_day(self, output: str, conditions: Conditions = NOMINAL) -> OutputModel:
        """An output as the tests of a day find it, under the conditions measured."""
        drawing = self._drawing_at(conditions.soil_c)
        return on_test_day(drawing, output, conditions.mains_v.get(output))

    def expectation(
        self, name: str, place: Place, conditions: Conditions = NOMINAL
    ) -> Expectation | None:
        """The expectation or limit of that name at a place; None when there is none for it."""
        mains_v, soil_c = conditions.mains_v.get(place.output), conditions.soil_c
        where = (place.output, place.path, place.box, place.station)
        key = (name, *where, str(mains_v), str(soil_c))
        if key not in self._known:
            self._known[key] = self._compute(self._drawing_at(soil_c), name, place, mains_v)
        return self._known[key]

    def _drawing_at(self, soil_c: float | None) -> Drawing:
        """The drawing with the soil as measured on the test day, where it was."""
        if soil_c is None:
            return self.drawing
        if soil_c not in self._at_soil:
            soil = replace(
                self.site.soil, test_day_c=soil_c, test_day_uncertainty_k=MEASURED_SOIL_K
            )
            site = replace(self.site, soil=soil)
            self._at_soil[soil_c] = Drawing(site, self.drawing.trees, self.drawing)
        return self._at_soil[soil_c]

    def _compute(
        self, drawing: Drawing, name: str, place: Place, mains_v: float | None
    ) -> Expectation | None:
        if name == "soil-temperature":
            return soil_expectation(self.drawing)
        if name in ("loop-resistance", "loop-reversed"):
            loop = loop_expectation(drawing, place.path, place.box)
            return replace(loop, max_fault=self._margin_ohm(place.path, place.box))
        if name == "unbridged-resistance":
            return unbridged_limit(drawing, place.path)
        if name in _LIVE:
            return _LIVE[name](drawing, place, mains_v)
        if name.startswith("together-"):
            return self._together(drawing, name, place.output, mains_v)
        return site_limit(drawing, name)

    def _margin_ohm(self, path: str, box: str) -> float | None:
        """What the first segment of a route may have too much, in ohm; None where it bears none.

        The path's own worst set, in inrush, at lowest mains and in the warmest soil: where it is
        below its minimum as drawn, "will it work" says so, and no loop can.
        """
        from commission.expected.slopes import margin_ohm  # a start does without

        if path not in self._margins:
            output = self.drawing.path_of[path].output
            self._margins[path] = margin_ohm(working_case(self.drawing, output), path)
        first = self.drawing.trees[path].route(box)[0].to_box
        return self._margins[path].get(first)

    def _together(
        self, drawing: Drawing, name: str, output: str, mains_v: float | None
    ) -> Expectation | None:
        running = self.worst_sets[output]
        if not running:
            return None
        if name == "together-voltage":
            return voltages.together_voltage(drawing, output, running, mains_v)
        if name == "together-output-voltage":
            return voltages.together_output_voltage(drawing, output, running, mains_v)
        return voltages.together_current(drawing, output, running, mains_v)
