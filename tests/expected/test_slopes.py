"""Slopes over every variable of an output against whole solutions with that variable moved."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from typing import Literal

import pytest

from commission.electrical.solenoids import State
from commission.expected.causes import coil_key
from commission.expected.model import OutputModel, on_test_day, working_case
from commission.expected.sheet import Sheet
from commission.expected.slopes import Slope, Slopes, loop
from commission.resources import samples
from commission.site.load import load_site
from commission.site.schema import Site, Station

STEP = 1e-4
Value = Callable[[OutputModel], tuple[float, Slope]]


def unlike(site: Site) -> Site:
    """A sample with every model of standby, decoders that lose volts and ohms, and that conduct."""
    models: tuple[Literal["current", "resistance"], ...] = ("current", "resistance", "current")
    kinds = {
        name: replace(
            kind,
            standby_model=models[i % 3],
            output_resistance_ohm=0.8,
            output_drop_v=0.6,
            dc_resistance_ohm=5e3 if i else 1e3,
            standby_current_a=kind.standby_current_a * (1 + i),
        )
        for i, (name, kind) in enumerate(site.decoder_kind.items())
    }
    return replace(site, decoder_kind=kinds)


def variables(model: OutputModel, running: tuple[Station, ...]) -> list[str]:
    """Every variable of an output: causes, segments, the coils of what runs."""
    segments = [f"segment/{path}/{box}" for (path, box), node in model.nodes.items() if node]
    return [
        *(cause.key for cause in model.causes), *segments[:: max(1, len(segments) // 6)],
        *(f"own/{station.id}" for station in running),
        *(coil_key(station, one) for station in running for one in station.solenoid),
    ]  # fmt: skip


def values(model: OutputModel, running: tuple[Station, ...], state: State) -> dict[str, Value]:
    """Everything that is watched: terminals, a box, a path's current, the output's, each coil."""
    at = running[-1] if running else model.stations[-1]

    def slopes(m: OutputModel) -> Slopes:
        return Slopes(m, running, state)

    watched: dict[str, Value] = {
        "terminals": lambda m: slopes(m).terminals(),
        "box": lambda m: slopes(m).voltage(at.path, at.box),
        "path": lambda m: slopes(m).current(at.path),
        "output": lambda m: slopes(m).current(),
        "loop": lambda m: loop(m, at.path, at.box),
    }
    for number in range(len(slopes(model).coils)):
        watched[f"coil {number}"] = lambda m, number=number: slopes(m).coil(number)  # type: ignore[misc]
    return watched


@pytest.mark.parametrize("moved_before", [False, True])
@pytest.mark.parametrize("name", ["small-garden", "two-paths", "converted-bundle"])
def test_every_slope_is_that_of_whole_solutions(name: str, moved_before: bool) -> None:
    sheet = Sheet(unlike(load_site(samples()[name])))
    output = sheet.site.output[0].id
    running = tuple(sheet.drawing.stations[one] for one in sheet.worst_sets[output])
    cases: list[tuple[OutputModel, tuple[Station, ...], State]] = [
        (on_test_day(sheet.drawing, output, None), (), "holding"),
        (on_test_day(sheet.drawing, output, 117.0), running[:1], "holding"),
        (working_case(sheet.drawing, output), running, "inrush"),
    ]
    for model, chosen, state in cases:
        keys = variables(model, chosen)
        if moved_before:  # away from the best estimate, as after readings
            for i, key in enumerate(keys):
                model = model.shifted(key, 0.02 if i % 2 else -0.01)
        for words, value_of in values(model, chosen, state).items():
            value, slope = value_of(model)
            for key in keys:
                at = model.shifts.get(key, 0.0)
                up, down = (value_of(model.shifted(key, at + by))[0] for by in (STEP, -STEP))
                known = (up - down) / (2 * STEP)
                assert slope.get(key, 0.0) == pytest.approx(known, rel=1e-4, abs=1e-6 * value), (
                    words,
                    key,
                )


def test_standby_of_constant_power_moves_nearly_as_it_should() -> None:
    """Held at its current the slope is a little off, by the standby's own part of the drops."""
    site = load_site(samples()["sixty-boxes"])
    kinds = {n: replace(kind, standby_model="power") for n, kind in site.decoder_kind.items()}
    sheet = Sheet(replace(site, decoder_kind=kinds))
    model = on_test_day(sheet.drawing, "1", None)
    path = sheet.site.path[0].id
    end = sheet.drawing.trees[path].ends()[-1]
    value, slope = Slopes(model, (), "holding").voltage(path, end)
    for cause in model.causes:
        up, down = (
            Slopes(model.shifted(cause.key, by), (), "holding").voltage(path, end)[0]
            for by in (STEP, -STEP)
        )
        known = (up - down) / (2 * STEP)
        assert slope.get(cause.key, 0.0) == pytest.approx(known, rel=0.05, abs=1e-3 * value)
