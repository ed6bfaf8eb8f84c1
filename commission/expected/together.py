"""Which stations are run together, to see the worst."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from commission.electrical.solenoids import State
from commission.electrical.worst_set import WorstSet
from commission.expected.inputs import Drawing
from commission.expected.model import OutputModel, working_case
from commission.site.schema import Solenoid, Station


@dataclass(frozen=True, slots=True)
class Run:
    """A worst set as the site knows it: its stations by number, and the solenoid left the least."""

    stations: tuple[Station, ...]
    worst: Station
    solenoid: Solenoid
    min_v: float  # of that solenoid

    @property
    def ids(self) -> tuple[str, ...]:
        """The ids of the stations."""
        return tuple(station.id for station in self.stations)


def run_of(model: OutputModel, found: WorstSet) -> Run:
    """What a search found on an output, in the words of its site."""
    by_number = {station.number: station for station in model.stations}
    worst = by_number[found.station]
    solenoid = worst.solenoid[found.coil]
    min_v = model.drawing.site.solenoid_kind[solenoid.kind].min_voltage_v
    return Run(tuple(by_number[number] for number in found.stations), worst, solenoid, min_v)


def own_coils_v(
    model: OutputModel, station: Station, running: Iterable[Station], state: State
) -> dict[str, float]:
    """Solenoid id to the voltage at it, for one station while `running` stations run."""
    found = model.coil_voltages_v(running, state)
    return {one: voltage for (owner, one), voltage in found.items() if owner == station.id}


def worst_set(drawing: Drawing, output: str) -> tuple[str, ...]:
    """Ids of the stations of an output's worst permitted set, its worst station last.

    Exact, in inrush together, at lowest mains and in the warmest soil.
    """
    model = working_case(drawing, output)
    found = model.worst_set()
    if found is None:
        return ()
    run = run_of(model, found)
    return (*(one for one in run.ids if one != run.worst.id), run.worst.id)
