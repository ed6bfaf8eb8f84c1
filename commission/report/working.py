"""Will it work at the worst? Voltages that no meter is quick enough to see, SI.

Lowest mains, warmest soil, the conductors' sizing resistance: at the coil by the network, and at
the box by the chart rule.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from commission.electrical.solenoids import State
from commission.expected.model import OutputModel, working_case
from commission.expected.sheet import Sheet
from commission.expected.voltages import chart_voltage_v, min_solenoid_v
from commission.site.schema import Station


def working_tables(sheet: Sheet) -> list[dict[str, Any]]:
    """Every output: its conditions, each station alone, and the worst set together."""
    return [_output(sheet, output.id) for output in sheet.site.output]


def _output(sheet: Sheet, output: str) -> dict[str, Any]:
    model, supply = working_case(sheet.drawing, output), sheet.site.supply
    table: dict[str, Any] = {
        "output": output,
        "mains_v": supply.nominal_voltage_v * model.mains,
        "soil_c": model.temperature_c,
        "alone": [
            {
                "station": station.number,
                **_coil_v(model, station, (station,)),
                "chart_rule_v": chart_voltage_v(sheet.drawing, station),
                "min_v": min_solenoid_v(sheet.drawing, station),
            }
            for station in model.stations
        ],
    }
    running = [sheet.drawing.stations[one] for one in sheet.worst_sets[output]]
    if running:
        table["together"] = {
            "stations": [station.number for station in running],
            "worst": running[-1].number,
            **_coil_v(model, running[-1], running),
            "min_v": min_solenoid_v(sheet.drawing, running[-1]),
        }
    return table


def _coil_v(model: OutputModel, station: Station, running: Sequence[Station]) -> dict[str, float]:
    """The lowest voltage at a coil of a station while these run, in inrush and held."""
    states: tuple[State, ...] = ("inrush", "holding")
    return {
        f"{state}_v": min(
            volts
            for (owner, _coil), volts in model.coil_voltages_v(running, state).items()
            if owner == station.id
        )
        for state in states
    }
