"""Which stations are run together, to see the worst."""

from __future__ import annotations

from commission.expected.inputs import Drawing
from commission.expected.model import working_case


def worst_set(drawing: Drawing, output: str) -> tuple[str, ...]:
    """Ids of the stations of an output's worst permitted set, its worst station last.

    Exact, in inrush together, at lowest mains and in the warmest soil.
    """
    model = working_case(drawing, output)
    found = model.worst_set()
    if found is None:
        return ()
    by_number = {station.number: station.id for station in model.stations}
    others = [by_number[number] for number in found.stations if number != found.station]
    return (*others, by_number[found.station])
