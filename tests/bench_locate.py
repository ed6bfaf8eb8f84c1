"""Does it find the fault, and how many boxes does that cost: python -m tests.bench_locate.

Simulated faults on random trees of 10 to 60 boxes, read by a solver and a meter of the simulation's
own (`tests.locate.simulated`), searched by the program's suggestions until one place is sure at
95 %. Beside it a person who bisects the stretch that the resistances leave possible, and one who
walks from the controller. Then joints too small for most meters, two faults at once (what is named
is repaired and everything read again), and the time of one suggestion.

`--faults N` for another number of single faults than 1,050, the other tables in proportion;
`--seed N` for other sites and faults.
"""

from __future__ import annotations

import argparse
import random
import sys
import time
from collections import defaultdict
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field

from commission.locate.next_test import Advisor
from commission.locate.posterior import Posterior, posterior
from commission.locate.readings import FieldTest, Reading
from commission.locate.scene import Scene
from commission.locate.words import short_interval
from tests.locate import simulated
from tests.locate.simulated import KINDS, World

MAX_TESTS = 40
MIN_BOXES, MAX_BOXES = 10, 60
CABLE = ("joint", "short")


@dataclass
class Search:
    """How one search went."""

    kind: str
    right: bool
    decided: bool
    boxes: int
    tests: int
    statements: list[tuple[float, bool]] = field(default_factory=list)
    named: frozenset[tuple[str, ...]] = frozenset()
    short: tuple[float, float, float] | None = None  # interval along its segment, and the truth


def truth_of(world: World) -> frozenset[tuple[str, ...]]:
    """The places that should be named."""
    return frozenset(fault.place for fault in world.faults)


def search(world: World, scene: Scene, kind: str) -> Search:
    """Follow the program's suggestions until it is sure or has none left."""
    readings = world.known_at_start()
    truth, statements = truth_of(world), list[tuple[float, bool]]()
    begun = len(readings)
    while True:
        found = posterior(scene, readings)
        places, probability = found.best
        statements.append((probability, bool(places) and places <= truth))
        done = len(readings) - begun
        if found.sure or done == MAX_TESTS:
            break
        suggestion = Advisor(found, world.opened).best()
        if suggestion is None:
            break
        readings.append(world.read(suggestion.test))
    places, right = found.best[0], statements[-1][1]
    one = Search(kind, right, found.sure, len(world.opened), done, statements, places)
    fault = world.faults[0]
    if fault.kind == "short" and places == {fault.place} and one.decided:
        interval = short_interval(found, fault.place)
        one.short = (*interval, fault.along) if interval else None
    return one


def search_all(world: World, scene: Scene, kind: str) -> Search:
    """The same for several faults: what is named is repaired, and everything is read again."""
    tests, statements, right = 0, list[tuple[float, bool]](), True
    for _ in range(len(world.faults) + 1):
        one = search(world, scene, kind)
        tests, statements = tests + one.tests, statements + one.statements
        if not one.decided or not one.named or not one.named <= truth_of(world):
            right = False
            break
        world.repair(one.named)
        if not world.faults:
            break
    return Search(kind, right, one.decided, len(world.opened), tests, statements)


# the baselines: resistances only


def bisect(world: World, scene: Scene) -> int:
    """Boxes opened by a person who halves the stretch that is still possible at 99 %."""
    readings = [r for r in world.known_at_start() if r.test.kind == "loop"]
    for _ in range(MAX_TESTS):
        found = posterior(scene, readings)
        if found.sure:
            break
        test = middle(world, scene, found, readings)
        if test is None:
            break
        readings.append(world.read(test))
    return len(world.opened)


def middle(
    world: World, scene: Scene, found: Posterior, readings: Sequence[Reading]
) -> FieldTest | None:
    """A bridged loop at the box nearest the middle of what is possible, or one side of a joint."""
    possible, total = [], 0.0
    for places, probability in found.by_places.items():
        possible += [scene.plant.node(p[1], p[2]) for p in places if p[0] == "segment"]
        total += probability
        if total >= 0.99:
            break
    read = {reading.test for reading in readings}
    tests = [
        FieldTest("loop", "A", simulated.box_name(n)) for n in _nearest(world, scene, possible)
    ]
    tests += [
        FieldTest("side", "A", simulated.box_name(world.parent[n]), beyond=simulated.box_name(n))
        for n in _nearest(world, scene, possible)
        if world.parent[n]
    ]
    return next((test for test in tests if test not in read), None)


def _nearest(world: World, scene: Scene, possible: list[int]) -> list[int]:
    """The boxes at the possible segments, those that halve their length best first."""
    whole = sum(world.drawn_m[node] for node in possible)
    boxes = set(possible) | {world.parent[node] for node in possible if world.parent[node]}

    def off_middle(box: int) -> float:
        before = sum(world.drawn_m[n] for n in possible if n in scene.plant.above[box])
        return abs(before - whole / 2)

    halves = [
        box
        for box in boxes
        if 0 < sum(n in scene.plant.above[box] for n in possible) < len(possible)
    ]
    return sorted(halves or boxes, key=off_middle)


def walk(world: World, scene: Scene) -> int:
    """Boxes opened by a person who goes from box to box from the controller."""
    node = world.faults[0].node
    return len(scene.plant.above[node])


# what is printed


def worlds(rng: random.Random, count: int, *kinds: str) -> Iterator[World]:
    """Random sites with these faults."""
    for _ in range(count):
        own = random.Random(rng.randrange(1 << 30))
        yield simulated.world(own, own.randint(MIN_BOXES, MAX_BOXES), *kinds)


def scene_of(world: World) -> Scene:
    """What the program knows of a site."""
    return Scene(simulated.model_of(world.parent, world.drawn_m))


def singles(seed: int, each: int) -> tuple[list[Search], dict[str, list[tuple[int, int, int]]]]:
    """Every kind the same number of times; for cable faults the boxes of the three ways."""
    searches: list[Search] = []
    boxes: dict[str, list[tuple[int, int, int]]] = defaultdict(list)
    for kind in KINDS:
        for world in worlds(random.Random(f"{kind} {seed}"), each, kind):
            scene = scene_of(world)
            searches.append(search(world, scene, kind))
            if kind in CABLE:
                ours = len(world.opened)
                world.opened.clear()
                boxes[kind].append((ours, bisect(world, scene), walk(world, scene)))
    return searches, boxes


def small_joints(seed: int, count: int) -> list[Search]:
    """Joints of 0.3 to 2 ohm."""
    rng = random.Random(f"small {seed}")
    return [search(w, scene_of(w), "small joint") for w in worlds(rng, count, "small joint")]


def pairs(seed: int, count: int) -> list[Search]:
    """Two faults of kinds drawn at random."""
    rng, found = random.Random(f"pairs {seed}"), []
    for _ in range(count):
        kinds = [rng.choice(KINDS), rng.choice(KINDS)]
        for world in worlds(rng, 1, *kinds):
            found.append(search_all(world, scene_of(world), " + ".join(sorted(kinds))))
    return found


def mean(values: Sequence[float]) -> float:
    """Arithmetic mean; 0 of nothing."""
    return sum(values) / len(values) if values else 0.0


def print_kinds(searches: Sequence[Search]) -> None:
    """Results per kind of fault."""
    print(
        f"{'kind':<18}{'faults':>7}{'right':>8}{'wrong':>7}{'undecided':>11}{'boxes':>7}{'tests':>7}"
    )
    for kind in dict.fromkeys(one.kind for one in searches):
        here = [one for one in searches if one.kind == kind]
        wrong = sum(one.decided and not one.right for one in here)
        undecided = sum(not one.decided for one in here)
        print(
            f"{kind:<18}{len(here):>7}{share_right(here):>8.1%}{wrong:>7}{undecided:>11}"
            f"{mean([one.boxes for one in here]):>7.2f}{mean([one.tests for one in here]):>7.2f}"
        )


def share_right(searches: Sequence[Search]) -> float:
    """Part of the searches that named the right place, and nothing else, at 95 %."""
    return mean([one.decided and one.right for one in searches])


def print_boxes(boxes: dict[str, list[tuple[int, int, int]]]) -> None:
    """Boxes opened beside the baselines."""
    rows = {**boxes, "both": [row for rows in boxes.values() for row in rows]}
    for kind, here in rows.items():
        ours, halving, walking = (mean([row[i] for row in here]) for i in range(3))
        ratio = f"{ours / halving:.2f}" if halving else "-"
        print(
            f"boxes opened, {kind}: {ours:.2f}; bisection {halving:.2f}; walking {walking:.2f}; "
            f"over bisection {ratio} (goal for both: at most 0.60)"
        )


def print_calibration(searches: Sequence[Search]) -> None:
    """Of statements made with a probability near a value, how many are true."""
    for low, high in ((0.5, 0.7), (0.7, 0.85), (0.85, 0.95), (0.95, 1.01)):
        here = [s for one in searches for s in one.statements if low <= s[0] < high]
        said, true = mean([p for p, _ in here]), mean([t for _, t in here])
        print(
            f"statements at {low:.2f} to {min(high, 1):.2f}: {len(here)}, "
            f"on average {said:.3f} is said, {true:.3f} are true"
        )


def print_positions(searches: Sequence[Search]) -> None:
    """Whether shorts lie in the interval that is said to hold them with 90 %."""
    here = [one.short for one in searches if one.short]
    inside = mean([low <= along <= high for low, high, along in here])
    width = mean([high - low for low, high, _ in here])
    print(
        f"intervals of position at 0.90: {len(here)} shorts, {inside:.3f} lie inside; "
        f"on average they are {width:.2f} of a segment wide"
    )


def print_small(searches: Sequence[Search]) -> None:
    """Small joints: undecided counts as right, a wrong statement at 95 % as failure."""
    wrong = sum(one.decided and not one.right for one in searches)
    undecided = sum(not one.decided for one in searches)
    print(
        f"joints of 0.3 to 2 ohm: {len(searches)}, place named rightly "
        f"{share_right(searches):.1%}, cannot be decided {undecided}, named wrongly {wrong}; "
        f"boxes {mean([one.boxes for one in searches]):.2f}"
    )


def print_pairs(together: Sequence[Search], alone: Sequence[Search]) -> None:
    """Both faults named, with how many boxes, beside twice those of single faults."""
    only_cable = [one for one in together if set(one.kind.split(" + ")) <= set(CABLE)]
    named = share_right(together)
    print(
        f"two faults: {len(together)}, both named {named:.1%} (goal 80 %); boxes "
        f"{mean([one.boxes for one in together]):.2f}, twice those of a single fault "
        f"{2 * mean([one.boxes for one in alone]):.2f}; of {len(only_cable)} with nothing but "
        f"joints and shorts {share_right(only_cable):.1%}"
    )


def print_times() -> None:
    """Time of one suggestion, and how it grows."""
    times: dict[int, list[float]] = {}
    for boxes in (60, 120, 250):
        for kind in ("joint", "short", "decoder dead"):
            world = simulated.world(random.Random(5), boxes, kind)
            scene, readings = scene_of(world), world.known_at_start()
            begun = time.perf_counter()
            Advisor(posterior(scene, readings)).best()
            times.setdefault(boxes, []).append(time.perf_counter() - begun)
    for boxes, taken in times.items():
        words = ", ".join(f"{one:.2f}" for one in taken)
        ratio = mean(taken) / mean(times[60])
        print(
            f"one suggestion, {boxes} boxes (joint, short, dead decoder): {words} s; x {ratio:.1f}"
        )


def main() -> int:
    """Run everything and print it."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--faults", type=int, default=1050)
    parser.add_argument("--seed", type=int, default=1)
    chosen = parser.parse_args()
    begun = time.perf_counter()
    searches, boxes = singles(chosen.seed, max(1, round(chosen.faults / len(KINDS))))
    print_kinds(searches)
    print(f"right place at 95 %: {share_right(searches):.1%} of {len(searches)} (goal 95 %)")
    print_boxes(boxes)
    small = small_joints(chosen.seed, max(1, chosen.faults // 10))
    print_calibration([*searches, *small])
    print_positions(searches)
    print_small(small)
    print_pairs(pairs(chosen.seed, max(1, chosen.faults // 15)), searches)
    print_times()
    print(f"{time.perf_counter() - begun:.0f} s in all")
    return 0


if __name__ == "__main__":
    sys.exit(main())
