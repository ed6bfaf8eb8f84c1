"""The expectations of a site as numbers for programs: SI, full precision, conditions stated."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from commission.commands.for_programs import head
from commission.electrical.solenoids import State
from commission.expected.alone import Alone, each_alone
from commission.expected.earth import earth_document
from commission.expected.load import Carried
from commission.expected.loops import loop_expectation
from commission.expected.model import OutputModel, working_case
from commission.expected.sheet import Sheet
from commission.expected.sizing import sizing_document
from commission.expected.to_earth import CONDUCTORS, volts_to_earth
from commission.expected.together import own_coils_v, run_of
from commission.site.schema import Station

KIND = "commission expectations"
FORMAT = 1
STATES: tuple[State, ...] = ("inrush", "holding")


def document(sheet: Sheet) -> dict[str, Any]:
    """The whole document: every output with its paths, ends, stations and worst set."""
    site = sheet.site
    return {
        **head(KIND, FORMAT),
        "site": site.site.name,
        **({"invented": True} if site.site.invented else {}),
        "conditions": {
            "dead_tests": {"soil_c": site.soil.test_day_c},
            "working": {
                "soil_c": site.soil.warmest_c,
                "mains_v": site.supply.lowest_voltage_v,
            },
            "load": {
                "soil_c": site.soil.test_day_c,
                "mains_v": site.supply.nominal_voltage_v,
            },
        },
        "outputs": [_output(sheet, output.id) for output in site.output],
        "earth": earth_document(sheet),
        "sizing": sizing_document(sheet),
    }


def _output(sheet: Sheet, output_id: str) -> dict[str, Any]:
    model = working_case(sheet.drawing, output_id)
    idle = model.solve((), "holding")
    paths = [path.id for path in sheet.site.path if path.output == output_id]
    alone = {state: each_alone(model, state) for state in STATES}
    return {
        "output": output_id,
        "standby_current_a": abs(idle.source_a),
        "together": together(sheet, model),
        "load": [_carried(carried) for carried in sheet.carried(output_id)],
        "paths": [
            {
                "path": path,
                "standby_current_a": model.path_current_a(idle, path),
                "volts_to_earth": _volts_to_earth(sheet, path),
                "ends": _ends(sheet, path),
                "stations": [
                    _station(station, alone) for station in sheet.drawing.stations_on(path)
                ],
                "together": together(sheet, model, path),
            }
            for path in paths
        ],
    }


def _volts_to_earth(sheet: Sheet, path: str) -> list[dict[str, Any]]:
    """Each conductor against earth, nothing running; no voltage where there is only a limit."""
    found = [(one, volts_to_earth(sheet.drawing, path, one, None)) for one in CONDUCTORS]
    return [
        {
            "conductor": conductor,
            "voltage_v": volts.value if volts.sides == "interval" else None,
            "low_v": volts.low,
            "high_v": volts.high,
        }
        for conductor, volts in found
    ]


def _ends(sheet: Sheet, path: str) -> list[dict[str, Any]]:
    loops = [(box, loop_expectation(sheet.drawing, path, box)) for box in ends_of(sheet, path)]
    return [
        {
            "box": box,
            "loop_resistance_ohm": loop.value,
            "low_ohm": loop.low,
            "high_ohm": loop.high,
        }
        for box, loop in loops
    ]


def ends_of(sheet: Sheet, path: str) -> tuple[str, ...]:
    """The leaves of a path's tree."""
    return sheet.drawing.trees[path].ends()


def _station(station: Station, alone: Mapping[State, Mapping[str, Alone]]) -> dict[str, Any]:
    """One station running alone, with what always runs."""
    found: dict[str, Any] = {"station": station.id, "box": station.box}
    of_state = {state: alone[state][station.id] for state in STATES}
    for state, one in of_state.items():
        found[f"{state}_voltage_v"] = one.lowest_v
    for state, one in of_state.items():
        found[f"{state}_path_current_a"] = one.path_current_a
    found["solenoids"] = [
        {
            "solenoid": solenoid.id,
            **{f"{state}_voltage_v": one.coils_v[solenoid.id] for state, one in of_state.items()},
        }
        for solenoid in station.solenoid
    ]
    return found


def together(sheet: Sheet, model: OutputModel, path: str | None = None) -> dict[str, Any]:
    """The worst set of an output, or of one path: its worst solenoid and how low that one gets.

    The probability is that of all its solenoids staying above their minimum, before any reading.
    """
    found = model.worst_set(path)
    if found is None:
        return {}
    run = run_of(model, found)
    held = own_coils_v(model, run.worst, run.stations, "holding")
    believed = sheet.as_found(model.output.id, running=run.ids)
    return {
        "stations": list(run.ids),
        "solenoid": run.solenoid.id,
        "inrush_voltage_v": abs(found.coil_v),
        "staggered_voltage_v": model.staggered_v(run.stations, run.worst),
        "holding_voltage_v": held[run.solenoid.id],
        "minimum_v": run.min_v,
        "ratio": found.ratio,
        "exact": found.proven,
        "probability_above_minimum": believed.works([]).probability if believed else None,
    }


def _carried(carried: Carried) -> dict[str, Any]:
    """The most that an output may have to carry, against what it may."""
    return {
        "state": carried.state,
        "stations": list(carried.stations),
        "current_a": carried.current_a,
        "u_a": carried.u_a,
        "limit_a": carried.limit_a,
        "limited_by": carried.limited_by,
        "probability_kept": carried.probability,
        "verdict": carried.verdict,
    }
