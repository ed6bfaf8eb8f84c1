"""What is concluded from readings of the simulation, and what is left open."""

from __future__ import annotations

import random

import pytest

from commission.locate.faults import Fault
from commission.locate.posterior import Posterior, posterior
from commission.locate.priors import STATEMENT, Priors
from commission.locate.readings import FieldTest, Reading
from commission.locate.scene import Scene
from commission.locate.words import Words, along_interval, short_interval
from tests.locate import simulated
from tests.locate.simulated import KINDS, Truth, World

LINE = [-1, 0, 1, 2, 3, 4, 5, 6]  # seven boxes in a row
LINE_M = [0.0, 50.0, 50.0, 50.0, 50.0, 50.0, 50.0, 50.0]


def found_for(*truths: Truth, seed: int = 1, parent: list[int] = LINE) -> tuple[World, Posterior]:
    drawn = [0.0] + [50.0] * (len(parent) - 1)
    world = World(parent, drawn, truths, random.Random(seed))
    scene = Scene(simulated.model_of(parent, drawn))
    return world, posterior(scene, world.known_at_start())


@pytest.mark.parametrize(
    "truth",
    [
        Truth("open", 5),
        Truth("decoder dead", 3),
        Truth("wrong address", 3),
        Truth("same address", 2, 6),
        Truth("swapped", 2, 6),
        Truth("solenoid open", 4),
        Truth("solenoid shorted", 7, ohm=8.0),
    ],
    ids=lambda truth: truth.kind,
)
def test_what_shows_in_one_station_or_one_row_is_named_at_once(truth: Truth) -> None:
    _, found = found_for(truth)
    assert found.sure
    assert found.best[0] == {truth.place}


def test_a_swap_names_both_stations() -> None:
    _, found = found_for(Truth("swapped", 2, 6))
    assert Words(simulated.site_of(LINE, LINE_M)).places(found.best[0]) == (
        "station 2 at B2 and station 6 at B6"
    )


def test_a_joint_behind_the_decoder_is_at_its_station() -> None:
    _, found = found_for(Truth("solenoid joint", 4, ohm=80.0))
    assert found.best[0] == {("station", "S4")}
    assert next(iter(found.kinds(found.best[0]))) == ("solenoid joint",)


def test_low_supply_is_no_fault_of_the_path() -> None:
    world = World(LINE, LINE_M, (), random.Random(1))
    world.e_v *= 0.8
    scene = Scene(simulated.model_of(LINE, LINE_M))
    found = posterior(scene, world.known_at_start())
    assert found.best[0] == {("low supply",)}
    assert found.at(found.best[0])[0].faults[0].ohm == pytest.approx(0.2, abs=0.06)


def test_a_forgotten_bridge_is_a_dead_short_at_its_box() -> None:
    # at the box itself, or in the last half metre on either side: no reading tells them apart
    truth = Truth("short", 4, ohm=0.02, along=1.0)
    world = World(LINE, LINE_M, (truth,), random.Random(1))
    scene = Scene(simulated.model_of(LINE, LINE_M))
    readings = [*world.known_at_start(), world.read(FieldTest("unbridged", "A"))]
    found = posterior(scene, readings)
    likely = {place for places in list(found.by_places)[:4] for place in places}
    assert ("box", "A", "B4") in likely
    assert truth.place in likely


def test_a_segment_of_shorter_cable_than_drawn_shows_in_the_loops_beyond_it() -> None:
    parent = [-1, 0, 1, 2, 1, 4, 5]  # B1 parts to B2, B3 and to B4, B5, B6
    drawn = [0.0, 50.0, 50.0, 50.0, 150.0, 50.0, 50.0]
    world = World(parent, drawn, (), random.Random(1))
    world.r_ohm[4] *= 0.4
    scene = Scene(simulated.model_of(parent, drawn))
    found = posterior(scene, world.known_at_start())
    assert found.best[0] <= {("segment", "A", f"B{i}") for i in (4, 5, 6)}
    assert next(iter(found.kinds(found.best[0]))) == ("cable",)


def test_nothing_is_never_named_as_the_fault() -> None:
    _, found = found_for()
    assert found.best[0] == frozenset()
    assert found.explained
    assert not found.sure


def test_a_joint_on_a_row_of_boxes_stays_open_between_neighbours() -> None:
    # one loop sees the whole row; only 3 ohm against coils of ±5 % tell the segments apart
    _, found = found_for(Truth("joint", 4, ohm=3.0))
    assert not found.sure
    assert all(place[0] == "segment" for places in found.by_places for place in places)
    words = Words(simulated.site_of(LINE, LINE_M))
    assert words.undecidable(found).startswith("cannot be decided with this meter: between ")


def test_a_dead_short_lies_where_its_resistance_says() -> None:
    # L = R/(r1 + r2), DOMAIN's rule for a low unbridged reading, on the drawing's middle values
    scene = Scene(simulated.model_of(LINE, LINE_M))
    ohm = 2.90
    at_15_c = simulated.R20_OHM_PER_M * (1 - 0.00393 * 5)
    away_m = (ohm - 0.04) / (2 * at_15_c)
    found = posterior(
        scene,
        [
            Reading(FieldTest("unbridged", "A"), ohm),
            Reading(FieldTest("loop", "A", "B7"), ohm),
            Reading(FieldTest("current", "A"), 0.0),
        ],
    )
    (place,) = found.best[0]
    assert place == ("segment", "A", f"B{int(away_m // 50) + 1}")
    interval = short_interval(found, place)
    assert interval is not None
    low, high = interval
    assert low * 50 - 2 < away_m % 50 < high * 50 + 2


def test_readings_that_no_fault_explains_make_nobody_sure() -> None:
    world = World(LINE, LINE_M, (), random.Random(1))
    scene = Scene(simulated.model_of(LINE, LINE_M))
    readings = [
        Reading(one.test, one.value * 1.5) if one.test.kind == "current" else one
        for one in world.known_at_start()
    ]
    found = posterior(scene, readings)
    assert not found.explained
    assert not found.sure
    words = Words(simulated.site_of(LINE, LINE_M))
    assert words.statement(found).endswith("but that does not explain all readings")


def test_two_independent_faults_are_named_as_two() -> None:
    _, found = found_for(Truth("decoder dead", 2), Truth("solenoid shorted", 6, ohm=8.0))
    assert found.sure
    assert found.best[0] == {("station", "S2"), ("station", "S6")}


def test_a_known_fault_is_taken_as_given() -> None:
    world = World(
        LINE,
        LINE_M,
        (Truth("decoder dead", 2), Truth("solenoid open", 6)),
        random.Random(1),
    )
    scene = Scene(simulated.model_of(LINE, LINE_M))
    known = Fault("decoder dead", "A", "B2", "S2")
    found = posterior(scene, world.known_at_start(), (known,))
    assert found.best[0] == {("station", "S2"), ("station", "S6")}


def test_priors_can_be_overridden_and_say_that_they_are_judgement() -> None:
    assert "judgement" in STATEMENT
    world = World(LINE, LINE_M, (Truth("wrong address", 3),), random.Random(1))
    model = simulated.model_of(LINE, LINE_M)
    kinds = dict(Priors().kinds) | {"decoder dead": 1e-6, "solenoid open": 1e-6}
    found = posterior(Scene(model, priors=Priors(kinds=kinds)), world.known_at_start())
    assert next(iter(found.kinds(found.best[0]))) == ("wrong address",)


def test_probabilities_add_up() -> None:
    for kind in KINDS:
        world = simulated.world(random.Random(kind), 12, kind)
        scene = Scene(simulated.model_of(world.parent, world.drawn_m))
        found = posterior(scene, world.known_at_start())
        assert sum(found.by_places.values()) == pytest.approx(1.0, abs=1e-6)


def test_an_interval_of_position_holds_the_middle_of_what_is_believed() -> None:
    # evenly believed in all of a segment: 5 % is left out at either end
    even = [((2 * i + 1) / 18, 1.0) for i in range(9)]
    assert along_interval(even) == pytest.approx((0.05, 0.95))
    assert along_interval([(0.5, 1.0), (1 / 18, 0.0), (3 / 18, 0.0)]) == pytest.approx(
        (0.5 - 0.9 / 18, 0.5 + 0.9 / 18)
    )


@pytest.mark.parametrize("seed", [2, 8, 10])
def test_two_opens_are_named_where_another_end_is_sound(seed: int) -> None:
    """One open near the controller fits the resistances nearly as well: the stations decide."""
    world = simulated.world(random.Random(seed), 18, "open", "open")
    scene = Scene(simulated.model_of(world.parent, world.drawn_m))
    found = posterior(scene, world.known_at_start())
    assert found.sure
    assert found.best[0] == {fault.place for fault in world.faults}
