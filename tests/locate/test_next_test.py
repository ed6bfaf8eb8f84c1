"""Which test is suggested, what it is worth, and what its outcomes are said to mean."""

from __future__ import annotations

import math
import random

import pytest

from commission.locate.next_test import Advisor, Costs
from commission.locate.outcomes import outcomes
from commission.locate.posterior import Posterior, posterior
from commission.locate.readings import FieldTest, Reading
from commission.locate.scene import Scene
from tests.locate import simulated
from tests.locate.simulated import Truth, World

LINE = list(range(-1, 10))
LINE_M = [0.0] + [40.0] * 10


def unclear_joint() -> tuple[World, Scene, list[Reading], Posterior]:
    world = World(LINE, LINE_M, (Truth("joint", 5, ohm=4.0),), random.Random(2))
    scene = Scene(simulated.model_of(LINE, LINE_M))
    readings = world.known_at_start()
    return world, scene, readings, posterior(scene, readings)


def test_the_test_made_moves_the_belief_as_was_said_before() -> None:
    world, scene, readings, found = unclear_joint()
    advisor = Advisor(found)
    suggestion = advisor.best()
    assert suggestion is not None
    said = outcomes(advisor, suggestion.test)
    reading = world.read(suggestion.test)
    after = posterior(scene, [*readings, reading])
    here = [one for one in said if one.low <= reading.value <= one.high]
    assert len(here) == 1
    assert after.best[0] in here[0].places


def test_an_open_box_costs_nothing_to_open() -> None:
    _, _, _, found = unclear_joint()
    closed, opened = Advisor(found), Advisor(found, {"B10"})
    test = [FieldTest("voltage", "A", "B10", "S5")]
    assert closed.information(test) == pytest.approx(opened.information(test))
    first, again = closed.best(), opened.best()
    assert first is not None
    assert again is not None
    assert first.opens
    assert not again.opens
    assert again.minutes < first.minutes


def test_the_way_to_a_box_is_walked_from_the_nearest_open_one() -> None:
    # ten boxes 40 m apart in a row: B10 is 400 m from the controller, 80 m from B8
    _, _, _, found = unclear_joint()
    costs, test = Costs(), FieldTest("loop", "A", "B10")
    assert Advisor(found).way(test) == pytest.approx(costs.open_box + 400 / 50)
    assert Advisor(found, {"B8"}).way(test) == pytest.approx(costs.open_box + 80 / 50)
    assert Advisor(found, {"B10"}).way(test) == 0
    assert Advisor(found).way(FieldTest("unbridged", "A")) == 0


def test_information_is_at_most_what_is_not_known() -> None:
    _, _, _, found = unclear_joint()
    entropy = -sum(p * math.log(p) for p in found.by_places.values() if p)
    advisor = Advisor(found)
    tests = [FieldTest("voltage", "A", "B10", f"S{i}") for i in range(1, 11)]
    one, many = advisor.information(tests[4:5]), advisor.information(tests)
    assert 0 <= one <= many <= entropy + 0.05  # hypotheses of 0.2 % and less are left out


def test_nothing_is_suggested_once_only_one_place_is_left() -> None:
    world = World(LINE, LINE_M, (Truth("decoder dead", 3),), random.Random(2))
    scene = Scene(simulated.model_of(LINE, LINE_M))
    assert Advisor(posterior(scene, world.known_at_start())).best() is None


def test_a_test_that_was_made_is_not_suggested_again() -> None:
    world, scene, readings, found = unclear_joint()
    seen = set()
    for _ in range(6):
        suggestion = Advisor(found, world.opened).best()
        if suggestion is None:
            break
        assert suggestion.test not in seen
        seen.add(suggestion.test)
        readings.append(world.read(suggestion.test))
        found = posterior(scene, readings)


def test_a_kind_of_test_can_be_left_out() -> None:
    _, _, _, found = unclear_joint()
    suggestion = Advisor(found).best(without=frozenset({"voltage"}))
    assert suggestion is not None
    assert suggestion.test.kind != "voltage"


def test_a_path_without_a_leak_floats_about_half_and_half() -> None:
    world = World(LINE, LINE_M, (), random.Random(2))
    tests = [
        FieldTest("earth", "A", "output", station, conductor)
        for station in ("", "S4", "S10")
        for conductor in ("first", "second")
    ]
    floating = [Reading(test, 12.9 + i) for i, test in enumerate(tests)]
    scene = Scene(simulated.model_of(LINE, LINE_M))
    found = posterior(scene, [*world.known_at_start(), *floating])
    assert found.explained
    assert found.best[0] == frozenset()


def test_a_leak_is_looked_for_with_volts_to_earth() -> None:
    # first conductor down at B7: its terminal shows what is lost on half the way there
    scene = Scene(simulated.model_of(LINE, LINE_M))
    world = World(LINE, LINE_M, (), random.Random(2))
    readings = [
        *world.known_at_start(),
        Reading(FieldTest("insulation", "A", conductor="first"), 4e3),
        Reading(FieldTest("insulation", "A", conductor="second"), math.inf),
    ]
    found = posterior(scene, readings)
    assert {place[0] for places in list(found.by_places)[:10] for place in places} == {"box"}
    suggestion = Advisor(found).best()
    assert suggestion is not None
    assert suggestion.test.kind == "earth"
    volts, _, _ = world.call(10)
    for conductor, lost in (("first", 1.0), ("second", -1.0)):
        way_v = abs(volts[0] - volts[7]) / 2
        value = way_v if lost > 0 else abs(volts[0]) - way_v
        readings.append(Reading(FieldTest("earth", "A", "output", "S10", conductor), value))
    found = posterior(scene, readings)
    assert ("box", "A", "B7") in found.best[0] | list(found.by_places)[1]
