"""Places, faults and statements in the drawing's words."""

from __future__ import annotations

import random
from dataclasses import replace

import pytest

from commission.locate.faults import Fault, Place
from commission.locate.posterior import posterior
from commission.locate.scene import Scene
from commission.locate.words import Words
from tests.locate import simulated
from tests.locate.simulated import Truth, World

LINE = [-1, 0, 1, 2, 3, 4, 5, 6]
LINE_M = [0.0, 50.0, 50.0, 50.0, 50.0, 50.0, 50.0, 50.0]
SITE = simulated.site_of(LINE, LINE_M)


@pytest.mark.parametrize(
    ("place", "words"),
    [
        (("segment", "A", "B1"), "between the output and B1"),
        (("segment", "A", "B4"), "between B3 and B4"),
        (("box", "A", "B4"), "at B4"),
        (("station", "S3"), "station 3 at B3"),
        (("pair", "S3", "S5"), "station 3 at B3 and station 5 at B5"),
        (("low supply",), "at the supply"),
    ],
)
def test_places(place: Place, words: str) -> None:
    assert Words(SITE).place(place) == words


def test_places_and_pairs_stand_as_people_count() -> None:
    line = list(range(-1, 11))
    words = Words(simulated.site_of(line, [0.0, *[50.0] * 11]))
    swapped = Fault("swapped", "A", station="S10", other="S2")
    assert words.place(swapped.place) == "station 2 at B2 and station 10 at B10"
    boxes: list[Place] = [("box", "A", "B10"), ("box", "A", "B2")]
    assert words.places(boxes) == "at B2; at B10"


def test_what_cannot_be_told_apart_is_said_together() -> None:
    said = Words(SITE).fault(Fault("joint", "A", "B2", ohm=7.64))
    assert said == "a joint of about 7.6 ohm (or longer or thinner cable than drawn)"


@pytest.mark.parametrize(("units", "whole"), [("SI", 50.0), ("US", 164.0)])
def test_a_short_lies_so_far_from_a_box(units: str, whole: float) -> None:
    truth = Truth("short", 5, ohm=0.4, along=0.5)
    world = World(LINE, LINE_M, (truth,), random.Random(4))
    scene = Scene(simulated.model_of(LINE, LINE_M))
    found = posterior(scene, world.known_at_start())
    site = replace(SITE, site=replace(SITE.site, units=units))  # type: ignore[arg-type]
    said = Words(site).position(found, truth.place)
    numbers, unit = said.rsplit(" from ", 1)[0].rsplit(" ", 1)
    low, high = (float(one) for one in numbers.split(" to "))
    assert said.endswith(" from B4")
    assert unit == {"SI": "m", "US": "ft"}[units]
    assert 0 <= low < high <= whole
    assert low <= truth.along * whole <= high


def test_a_statement_says_place_certainty_and_what_it_is() -> None:
    world = World(LINE, LINE_M, (Truth("same address", 3, 5),), random.Random(4))
    scene = Scene(simulated.model_of(LINE, LINE_M))
    said = Words(SITE).statement(posterior(scene, world.known_at_start()))
    assert said.startswith("station 3 at B3 and station 5 at B5 (more than 99 in 100): ")
    assert said.endswith("two decoders have the same address")


def test_dead_decoder_and_wrong_address_are_said_together() -> None:
    world = World(LINE, LINE_M, (Truth("decoder dead", 3),), random.Random(4))
    scene = Scene(simulated.model_of(LINE, LINE_M))
    said = Words(SITE).statement(posterior(scene, world.known_at_start()))
    assert "the decoder is dead" in said
    assert "the decoder has a wrong address" in said
    assert "the solenoid is open" in said
