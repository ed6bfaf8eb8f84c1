"""What tests read with faults in the ground, against the simulation's own nodal solver."""

from __future__ import annotations

import math
import random
from dataclasses import replace

import pytest

from commission.electrical.earth_faults import Leak, solve_with_earth
from commission.electrical.network import Coil
from commission.expected.inputs import Drawing
from commission.expected.slopes import loop
from commission.locate.faults import BRIDGE_OHM, OPEN_OHM, Fault
from commission.locate.plant import Plant
from commission.locate.readings import FieldTest
from commission.locate.situation import Situation
from tests.locate import simulated
from tests.locate.simulated import Truth, World

PARENT = [-1, 0, 1, 2, 2, 4, 1, 6, 7]  # B1 parts to B2 and B6, B2 to B3 and B4
DRAWN_M = [0.0, 40.0, 25.0, 60.0, 30.0, 45.0, 20.0, 80.0, 15.0]


class Exact(random.Random):
    """Draws the middle of everything: a site without errors, a meter without errors."""

    def uniform(self, a: float, b: float) -> float:
        return (a + b) / 2

    def random(self) -> float:
        return 0.0


def pair(*truths: Truth) -> tuple[World, Situation]:
    """The same faults in the simulation and in the program."""
    faults = []
    for truth in truths:
        kind = truth.kind
        box, station = simulated.box_name(truth.node), simulated.station_name(truth.node)
        if kind in ("joint", "short", "open"):
            ohm = OPEN_OHM if kind == "open" else truth.ohm
            faults.append(Fault(kind, "A", box, ohm=ohm, along=truth.along))  # type: ignore[arg-type]
        else:
            other = simulated.station_name(truth.other) if truth.other else ""
            faults.append(Fault(kind, "A", box, station, other, truth.ohm))  # type: ignore[arg-type]
    world = World(PARENT, DRAWN_M, truths, Exact())
    return world, Situation(Plant(simulated.model_of(PARENT, DRAWN_M)), faults)


CASES = [
    (),
    (Truth("joint", 2, ohm=7.5),),
    (Truth("joint", 1, ohm=2.0), Truth("joint", 7, ohm=30.0)),
    (Truth("short", 7, ohm=4.0, along=0.3),),
    (Truth("short", 1, ohm=4.5, along=0.6),),
    (Truth("short", 3, ohm=3.0, along=0.9), Truth("short", 8, ohm=4.9, along=0.1)),
    (Truth("joint", 6, ohm=9.0), Truth("short", 5, ohm=4.0, along=0.5)),
    (Truth("open", 2),),
    (Truth("open", 2), Truth("short", 7, ohm=4.0, along=0.5)),
    (Truth("decoder dead", 5),),
    (Truth("wrong address", 5),),
    (Truth("same address", 3, 8),),
    (Truth("swapped", 3, 8),),
    (Truth("solenoid open", 4),),
    (Truth("solenoid shorted", 4, ohm=9.0),),
    (Truth("solenoid joint", 4, ohm=60.0),),
]


@pytest.mark.parametrize("truths", CASES, ids=lambda t: "+".join(x.kind for x in t) or "sound")
def test_loops_with_every_fault(truths: tuple[Truth, ...]) -> None:
    world, situation = pair(*truths)
    for node in range(1, len(PARENT)):
        read = situation.dead(FieldTest("loop", "A", simulated.box_name(node)))
        assert read == pytest.approx(world.ohms(bridged=node), rel=1e-3)
        before = simulated.box_name(PARENT[node]) if PARENT[node] else "output"
        into = FieldTest("side", "A", before, beyond=simulated.box_name(node))
        side = situation.dead(into)
        assert side == pytest.approx(world.ohms(opened=node), rel=1e-3)
    assert situation.dead(FieldTest("unbridged", "A")) == pytest.approx(world.ohms(), rel=1e-3)


@pytest.mark.parametrize("truths", CASES, ids=lambda t: "+".join(x.kind for x in t) or "sound")
def test_currents_and_voltages_with_every_fault(truths: tuple[Truth, ...]) -> None:
    world, situation = pair(*truths)
    world.trip_a = math.inf
    world.least_v = [0.0] * len(PARENT)
    world.pull_in_v = [0.0] * len(PARENT)  # every coil that is switched holds
    for called in range(len(PARENT)):
        station = simulated.station_name(called) if called else ""
        volts, current, _ = world.call(called)
        read = situation.live(FieldTest("current", "A", station=station))
        assert read == pytest.approx(current, rel=1e-3, abs=1e-4)
        for node in range(1, len(PARENT)):
            test = FieldTest("voltage", "A", simulated.box_name(node), station)
            assert situation.live(test) == pytest.approx(abs(volts[node]), rel=1e-3, abs=1e-3)


def test_a_forgotten_bridge_is_a_short_at_its_box() -> None:
    plant = Plant(simulated.model_of(PARENT, DRAWN_M))
    bridge = Situation(plant, [Fault("bridge", "A", "B6", ohm=BRIDGE_OHM)])
    short = Situation(plant, [Fault("short", "A", "B6", ohm=BRIDGE_OHM, along=1.0)])
    for box in ("B3", "B6", "B8"):
        test = FieldTest("loop", "A", box)
        assert bridge.dead(test) == pytest.approx(short.dead(test), rel=1e-9)
    idle = FieldTest("voltage", "A", "B8")
    assert bridge.live(idle) == pytest.approx(short.live(idle), rel=1e-6)


def test_low_supply_lowers_every_voltage_by_the_same() -> None:
    plant = Plant(simulated.model_of(PARENT, DRAWN_M))
    sound, low = Situation(plant, []), Situation(plant, [Fault("low supply", ohm=0.2)])
    for box in ("output", "B3", "B8"):
        lost = sound.live(FieldTest("voltage", "A", box)) - low.live(FieldTest("voltage", "A", box))
        assert lost == pytest.approx(0.2 * plant.network.source_v, rel=1e-2)


@pytest.mark.parametrize("conductor", ["first", "second"])
def test_volts_to_earth_with_one_leak_on_a_floating_output(conductor: str) -> None:
    # Against the program's elimination of both conductors with earth (tested for itself).
    plant = Plant(simulated.model_of(PARENT, DRAWN_M))
    situation = Situation(plant, [Fault("leak", "A", "B5", ohm=5e3, conductor=conductor)])
    coils = plant.coils["S8"]
    leak = Leak(plant.node("A", "B5"), conductor, 5e3)  # type: ignore[arg-type]
    for station, running in (("", []), ("S8", [Coil(coils.node, coils.holding_ohm)])):
        solved = solve_with_earth(plant.network, running, [leak], insulation_ohm=1e12)
        for name, volts in (("first", solved.first_v[0]), ("second", solved.second_v[0])):
            test = FieldTest("earth", "A", "output", station, name)
            assert situation.live(test) == pytest.approx(abs(volts), rel=1e-3, abs=1e-3)


def test_one_side_of_an_opened_joint_shows_where_a_leak_is() -> None:
    plant = Plant(simulated.model_of(PARENT, DRAWN_M))
    situation = Situation(plant, [Fault("leak", "A", "B4", ohm=5e3, conductor="first")])
    into = FieldTest("insulation", "A", "B1", conductor="first", beyond="B2")
    assert situation.dead(into) == 5e3
    assert situation.dead(replace(into, box="output", beyond="")) == 5e3
    assert math.isinf(situation.dead(replace(into, beyond="B6")))
    assert math.isinf(situation.dead(replace(into, conductor="second")))


def test_decoders_that_conduct_are_in_the_loops_of_a_search() -> None:
    """Sound: the loop expected. With a joint of 3 ohm at the first box, 3 ohm more of it."""
    sound = simulated.model_of(PARENT, DRAWN_M)
    site = sound.drawing.site
    kinds = {name: replace(k, dc_resistance_ohm=2e3) for name, k in site.decoder_kind.items()}
    drawing = Drawing(replace(site, decoder_kind=kinds), sound.drawing.trees)
    plant = Plant(replace(sound, drawing=drawing))
    end = FieldTest("loop", "A", simulated.box_name(8))
    expected = loop(plant.model, "A", end.box)[0]
    assert Situation(plant, []).dead(end) == pytest.approx(expected, rel=1e-12)
    assert expected < 0.999 * loop(sound, "A", end.box)[0]
    joint = Fault("joint", "A", simulated.box_name(1), ohm=3.0)
    assert Situation(plant, [joint]).dead(end) == pytest.approx(expected + 3.0, rel=1e-2)
    assert plant.unbridged_ohm("A") < 2e3 < Plant(sound).unbridged_ohm("A")
