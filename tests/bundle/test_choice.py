"""The best sound pair of a section: against brute force over every pair, on simulated bundles."""

from __future__ import annotations

import math
import random
from itertools import combinations

import pytest

from commission.bundle.choice import decide
from commission.bundle.section import Conductor, Decision, Section, Test
from tests.bundle.ground import Ground, random_ground


def surveyed(ground: Ground) -> tuple[Decision, dict[Test, float]]:
    """Read whatever is asked for until nothing more is."""
    read: dict[Test, float] = {}
    while (test := (decision := decide(ground.section, read)).next) is not None:
        assert test not in read, "the same reading is never asked twice"
        read[test] = ground.read(test)
    return decision, read


def best_by_trying_all(ground: Ground) -> tuple[str, str] | None:
    order = [one.name for one in ground.section.conductors]
    pairs = (pair for pair in combinations(order, 2) if all(map(ground.sound, pair)))
    return next(pairs, None)


@pytest.mark.parametrize("ill", [0.0, 0.08, 0.2, 0.45])
def test_the_pair_is_that_of_brute_force(ill: float) -> None:
    rng = random.Random(int(ill * 100))
    with_pair = 0
    for _ in range(150):
        ground = random_ground(rng, rng.randint(2, 9), ill)
        decision, _ = surveyed(ground)
        best = best_by_trying_all(ground)
        with_pair += best is not None
        if not ground.poor:
            assert decision.pair == best, ground
        else:
            assert (decision.pair is None) <= (best is None), ground
            assert decision.pair is None or serves(ground, decision.pair), ground
    assert with_pair >= 10


def serves(ground: Ground, pair: tuple[str, str]) -> bool:
    """Whether two conductors are insulated, go through, and have no more than both together may.

    A loop tells a sum: what one has too much may hide in what the other has too little.
    """
    high = sum(one.high_ohm for one in ground.section.conductors if one.name in pair)
    through = all(name not in ground.breaks and ground.insulated(name) for name in pair)
    return through and sum(ground.ohm[n] + ground.poor.get(n, (0, 0))[1] for n in pair) <= high


def test_never_more_than_two_readings_for_each_unless_told_why() -> None:
    rng = random.Random(7)
    most = 0.0
    for _ in range(300):
        ground = random_ground(rng, rng.randint(2, 8), rng.choice((0.1, 0.3, 0.6)))
        read: dict[Test, float] = {}
        while (decision := decide(ground.section, read)).next is not None:
            over = len(read) >= ground.section.most_readings
            assert bool(decision.why) == over
            read[decision.next] = ground.read(decision.next)
        if not ground.poor:
            most = max(most, len(read) / ground.section.most_readings)
    assert most <= 1.0


def test_a_sound_bundle_takes_four_readings_whatever_its_size() -> None:
    for count in (3, 5, 9):
        ground = Ground({str(n): 1.0 for n in range(count)})
        decision, read = surveyed(ground)
        assert decision.pair == ("0", "1")
        assert len(read) == 4
        assert decision.abandoned == tuple(str(n) for n in range(2, count))


# Worked by hand: the smallest bundles, one thing wrong each.

THREE = {"white": 0.5, "red": 0.9, "blue": 0.9}


def test_two_conductors_take_three_readings() -> None:
    decision, read = surveyed(Ground({"white": 0.5, "red": 0.9}))
    assert decision.pair == ("white", "red")
    assert list(read) == [
        Test("insulation", "white"),
        Test("insulation", "red"),
        Test("loop", "white", "red"),
    ]


def test_a_broken_conductor_is_named_and_left_out() -> None:
    decision, read = surveyed(Ground(THREE, breaks={"white": 0.5}))
    assert decision.pair == ("red", "blue")
    assert decision.states == {"white": "broken", "red": "sound", "blue": "sound"}
    assert read[Test("return", "white")] == math.inf
    assert decision.abandoned == ("white",)


def test_a_conductor_down_to_earth_is_named_and_left_out() -> None:
    decision, _ = surveyed(Ground(THREE, leaks={"white": (0.3, 2_000.0)}))
    assert decision.pair == ("red", "blue")
    assert decision.states["white"] == "leaks"


def test_two_that_touch_are_both_left_out() -> None:
    four = {**THREE, "black": 0.9}
    decision, _ = surveyed(Ground(four, shorts=[("white", "blue", 0.4, 1.0)]))
    assert decision.pair == ("red", "black")
    assert decision.states["white"] == decision.states["blue"] == "leaks"


def test_a_poor_conductor_is_told_from_its_partner_by_a_third_loop() -> None:
    four = {**THREE, "black": 0.9}
    ground = Ground(four, poor={"white": (0.5, 0.55)})  # its return is just within range
    decision, read = surveyed(ground)
    assert Test("loop", "red", "blue") in read
    assert decision.pair == ("red", "blue")
    assert decision.states["white"] == "poor"


def test_without_two_sound_ones_there_is_no_pair() -> None:
    ground = Ground(THREE, breaks={"white": 0.2, "red": 0.8})
    decision, read = surveyed(ground)
    assert decision.pair is None
    assert decision.next is None
    assert len(read) <= ground.section.most_readings
    assert "broken" not in decision.states.values(), "no way back is known to be whole"


def test_one_conductor_is_no_pair_and_nothing_is_read() -> None:
    section = Section((Conductor("white", 1.0),), 5e5)
    assert decide(section, {}).next is None
