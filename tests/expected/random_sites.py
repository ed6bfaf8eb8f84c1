"""Random sites of mixed kinds: cables, decoders, solenoids and trees that no sample has."""

from __future__ import annotations

from random import Random
from typing import Literal

from commission.site.schema import (
    ROOT,
    CableKind,
    Controller,
    DecoderKind,
    Earth,
    Output,
    Path,
    Segment,
    Site,
    SiteText,
    Soil,
    Solenoid,
    SolenoidKind,
    Station,
    Supply,
)

METHODS: tuple[Literal["tape", "wheel", "drawing", "estimate"], ...] = (
    "tape", "wheel", "drawing", "estimate",
)  # fmt: skip
STANDBY: tuple[Literal["current", "resistance", "power"], ...] = ("current", "resistance", "power")
GAUGES, METRIC = ("18 AWG", "16 AWG", "14 AWG", "12 AWG"), ("1.5 mm²", "2.5 mm²", "4 mm²")


def random_site(draw: Random, *, outputs: int = 1, max_boxes: int = 8) -> Site:
    """A site that the loader would accept, its numbers within what is found in the ground."""
    frequency_hz = draw.choice((50.0, 60.0))
    solenoids = {f"valve-{k}": _solenoid_kind(draw, known_r=k % 2 == 0) for k in range(3)}
    decoders = {f"decoder-{k}": _decoder_kind(draw, STANDBY[k]) for k in range(3)}
    cables = _cable_kinds(draw)
    paths: list[Path] = []
    stations: list[Station] = []
    for output in range(1, outputs + 1):
        for _ in range(draw.choice((1, 1, 2))):
            path = _path(draw, len(paths), str(output), tuple(cables), max_boxes)
            paths.append(path)
            boxes = [segment.to_box for segment in path.segment]
            kept = [box for box in boxes if draw.random() < 0.8] or boxes[-1:]
            for box in kept:
                number = len(stations) + 1
                stations.append(_station(draw, number, path.id, box, tuple(decoders), solenoids))
    return Site(
        kind="commission site",
        format=1,
        site=SiteText(name="Random", invented=True, units="SI", frequency_hz=frequency_hz),
        soil=Soil(
            test_day_c=draw.uniform(5, 22), test_day_uncertainty_k=draw.choice((3.0, 8.0)),
            segment_uncertainty_k=2.0, warmest_c=draw.uniform(23, 32),
        ),
        controller=Controller(description="random"),
        supply=Supply(nominal_voltage_v=230.0),
        output=tuple(_output(draw, str(k)) for k in range(1, outputs + 1)),
        earth=Earth(),
        solenoid_kind=solenoids,
        decoder_kind=decoders,
        cable_kind=cables,
        path=tuple(paths),
        station=tuple(stations),
    )  # fmt: skip


def _solenoid_kind(draw: Random, *, known_r: bool) -> SolenoidKind:
    """A coil whose data sheet states its resistance, or is silent about it."""
    inrush_a = draw.uniform(0.25, 0.45)
    return SolenoidKind(
        rated_frequency_hz=draw.choice((50.0, 60.0)),
        inrush_current_a=inrush_a,
        holding_current_a=inrush_a * draw.uniform(0.5, 0.7),
        coil_resistance_ohm=24 / inrush_a * draw.uniform(0.4, 0.6) if known_r else None,
        min_voltage_v=draw.uniform(18, 20),
    )


def _decoder_kind(draw: Random, model: Literal["current", "resistance", "power"]) -> DecoderKind:
    return DecoderKind(
        solenoids=2,
        standby_current_a=draw.uniform(0.5e-3, 6e-3),
        standby_model=model,
        output_resistance_ohm=draw.choice((0.0, 0.8)),
        output_drop_v=draw.choice((0.0, 0.4)),
    )


def _cable_kinds(draw: Random) -> dict[str, CableKind]:
    """A gauge, a metric size, and one with a data sheet."""
    return {
        "gauge": CableKind(conductor=draw.choice(GAUGES), stranded=draw.random() < 0.5),
        "metric": CableKind(conductor=draw.choice(METRIC)),
        "sheet": CableKind(
            conductor="14 AWG",
            resistance_ohm_per_m=draw.uniform(6e-3, 10e-3),
            resistance_tolerance=draw.choice((0.02, 0.04)),
            reactance_ohm_per_m=2e-4,
        ),
    }


def _output(draw: Random, own: str) -> Output:
    """A source by its regulation, or by its open voltage and impedance."""
    at_once = draw.choice((1, 2, 3))
    if draw.random() < 0.5:
        return Output(
            id=own, rating_va=draw.uniform(40, 100), regulation=draw.uniform(0.08, 0.15),
            stations_at_once=at_once,
        )  # fmt: skip
    return Output(
        id=own, open_circuit_voltage_v=draw.uniform(26, 29), rated_current_a=2.0,
        source_resistance_ohm=draw.uniform(0.3, 1.2), source_reactance_ohm=draw.uniform(0, 0.4),
        stations_at_once=at_once,
    )  # fmt: skip


def _path(draw: Random, number: int, output: str, cables: tuple[str, ...], max_boxes: int) -> Path:
    """A random tree; some segments of other cable, or measured another way, than the path."""
    own = chr(ord("A") + number)
    names = [ROOT] + [f"{own}{k}" for k in range(1, draw.randint(2, max_boxes) + 1)]
    segments = tuple(
        Segment(
            from_box=names[draw.randint(max(0, k - 3), k - 1)],
            to_box=names[k],
            length_m=draw.uniform(8, 70),
            length_by=draw.choice((None, *METHODS)),
            cable=(draw.choice(cables), draw.choice(cables)) if draw.random() < 0.4 else None,
        )
        for k in range(1, len(names))
    )
    kind = draw.choice(cables)
    return Path(
        id=own, output=output, cable=(kind, kind), length_by=draw.choice(METHODS),
        segment=segments,
    )  # fmt: skip


def _station(
    draw: Random,
    number: int,
    path: str,
    box: str,
    decoders: tuple[str, ...],
    solenoids: dict[str, SolenoidKind],
) -> Station:
    coils = tuple(
        Solenoid(id=f"V{number}{letter}", kind=draw.choice(tuple(solenoids)))
        for letter in "ab"[: draw.choice((1, 1, 1, 2))]
    )
    return Station(
        id=f"S{number}", number=number, address=number, path=path, box=box,
        decoder=draw.choice(decoders), solenoid=coils,
        runs_with_every_station=draw.random() < 0.05,
    )  # fmt: skip
