"""What may be wrong at a station: its decoder, its address, its solenoid."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import replace

from commission.locate.cells import by_ratio
from commission.locate.evidence import Evidence
from commission.locate.faults import Fault
from commission.locate.readings import FieldTest

_CELLS = 7
_HALVINGS = 20
_ABOUT = 0.3  # of a sound coil's current: spread of coils, supply and meter are well within
_ONE_MORE = 1.4  # times the sound current: one coil more
_AROUND = 1.3  # times the size that the current asks for, either way


def at_station(
    evidence: Evidence, given: tuple[Fault, ...], station: str
) -> Iterator[tuple[Fault, float]]:
    """Every fault at a station, with the logarithm of the part of its sizes that it stands for."""
    plant, priors = evidence.scene.plant, evidence.scene.priors
    coils = plant.coils[station]
    here = Fault("decoder dead", coils.path, plant.name_of[coils.node][1], station)
    if not _runs(evidence, station):
        yield from _silent_or_shorted(evidence, given, here)
    joint = replace(here, kind="solenoid joint")
    low, high = priors.solenoid_joint_ohm
    for ohm, width in _sizes(evidence, given, joint, low, high):
        yield replace(joint, ohm=ohm), math.log(width / (ohm * math.log(high / low)))


def _runs(evidence: Evidence, station: str) -> bool:
    """Whether a station gave water with about its current: then most faults are out of question."""
    read = evidence.facts.current_of(station)
    if read is None or station not in evidence.facts.water.get(station, ()):
        return False
    scene = evidence.scene
    test = FieldTest("current", read.test.path)
    idle = evidence.facts.current.get((read.test.path, ""))
    sound_a = scene.sound.live(read.test) - scene.sound.live(test)
    drawn_a = read.value - (idle.value if idle else scene.sound.live(test))
    return abs(drawn_a - sound_a) < _ABOUT * sound_a


def _silent_or_shorted(
    evidence: Evidence, given: tuple[Fault, ...], here: Fault
) -> Iterator[tuple[Fault, float]]:
    """What makes a station silent, or its coil draw far too much."""
    station, priors = here.station, evidence.scene.priors
    yield here, 0.0
    yield replace(here, kind="wrong address"), 0.0
    yield replace(here, kind="solenoid open"), 0.0
    shorted = replace(here, kind="solenoid shorted")
    low, high = priors.solenoid_short_ohm
    for ohm, width in _sizes(evidence, given, shorted, low, high):
        yield replace(shorted, ohm=ohm), math.log(width / (high - low))
    for other in _mixed_up_with(evidence, station):
        yield replace(here, kind="same address", other=other), 0.0
        if station < other:
            yield replace(here, kind="swapped", other=other), 0.0


def _sizes(
    evidence: Evidence, given: tuple[Fault, ...], fault: Fault, low: float, high: float
) -> list[tuple[float, float]]:
    """Sizes of a fault behind a decoder: around the one that its current asks for, or all."""
    scene, read = evidence.scene, evidence.facts.current_of(fault.station)
    if read is None:
        return by_ratio(low, high, _CELLS)
    idle = evidence.facts.current.get((fault.path, ""))
    idle_a = idle.value if idle else scene.sound.live(FieldTest("current", fault.path))
    drawn_a = read.value - idle_a

    def more_a(ohm: float) -> float:
        run = scene.situation((*given, replace(fault, ohm=ohm))).run(fault.station)
        return abs(run.coil_a(fault.path))

    if not more_a(high) < drawn_a < more_a(low):
        return by_ratio(low, high, _CELLS)
    start, end = low, high
    for _ in range(_HALVINGS):
        middle = math.sqrt(start * end)
        start, end = (middle, end) if more_a(middle) > drawn_a else (start, middle)
    return by_ratio(max(low, start / _AROUND), min(high, start * _AROUND), 2 * _CELLS)


def _mixed_up_with(evidence: Evidence, station: str) -> Iterator[str]:
    """The stations that seem to answer with a station, or for it."""
    own = evidence.facts.water.get(station)
    if own is not None and station in own:
        return
    for other in evidence.scene.plant.coils:
        if other != station and _answers_for(evidence, station, other):
            yield other


def _answers_for(evidence: Evidence, station: str, other: str) -> bool:
    """Whether calling `other` showed `station`'s valve, or the current of one more coil."""
    seen = evidence.facts.water.get(other)
    if seen is not None:
        return station in seen
    read = evidence.facts.current_of(other)
    return read is not None and read.value > _ONE_MORE * evidence.scene.sound.live(read.test)
