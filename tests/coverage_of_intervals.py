"""Do stated intervals and probabilities hold what they say? Simulated sites against the program.

    python -m tests.coverage_of_intervals            # 10,000 sites, some minutes
    python -m tests.coverage_of_intervals 2000 7     # so many sites, from this random state

Every site is random, and real: each cause is drawn from its stated distribution, and what a perfect
meter would read is solved by other means (`tests.expected.real_site`). Counted is how often the
range that the program states holds it: value ± 2u (JCGM 100), and the 95 % interval of the stated
distributions (JCGM 101). Wanted are 93 to 97 %, and of ± 2u at least 94 %; where one rectangular
cause has over half the variance, ± 2u may hold more, as nothing can leave it.

Then a tenth as many sites are walked through with a meter, their solenoids needing about what the
worst set leaves them: of the statements with a probability p, about p of them have to be true.
"""

from __future__ import annotations

import sys
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from itertools import pairwise
from math import exp, lgamma, log, sqrt
from random import Random, SystemRandom

from commission.electrical.uncertainty import Budget
from commission.expected.asfound import Works
from commission.expected.sheet import Conditions, Sheet, Spot
from commission.expected.values import Expectation
from commission.site.schema import Site, Station
from tests.expected.random_sites import random_site
from tests.expected.real_readings import judged
from tests.expected.real_site import RealSite

SITES = 10_000
LOW, LOW_K2, HIGH = 0.93, 0.94, 0.97
COVERAGE = 0.95
RULES = 0.5  # part of the variance from which one cause rules
SELDOM = 1e-3  # as improbable as that, and it is no longer chance
GROUPS = (0.0, 0.05, 0.3, 0.7, 0.95, 1.0)  # of probabilities
MIN_PASSED_TRUE = 0.94


def at_most(count: int, of: int, share: float) -> float:
    """Probability of at most so many out of so many, each true with probability `share`."""
    logs = (
        lgamma(of + 1) - lgamma(k + 1) - lgamma(of - k + 1)
        + k * log(share) + (of - k) * log(1 - share)
        for k in range(count + 1)
    )  # fmt: skip
    return min(1.0, sum(exp(one) for one in logs))


@dataclass
class Count:
    """How often ranges of one sort held the truth."""

    ruled: bool  # one rectangular cause has over half the variance
    seen: int = 0
    by_k2: int = 0
    by_distribution: int = 0

    def add(self, expectation: Expectation, truth: float) -> None:
        """One more range, and the truth behind it."""
        low, high = Budget(expectation.value, expectation.budget).interval(COVERAGE)
        self.seen += 1
        self.by_k2 += (expectation.low or 0.0) <= truth <= (expectation.high or 0.0)
        self.by_distribution += low <= truth <= high

    def holds(self, seldom: float = SELDOM) -> bool:
        """Whether both kinds of range cover what they should, but for chance."""
        return (
            at_most(self.by_k2, self.seen, LOW_K2) >= seldom
            and at_most(self.by_distribution, self.seen, LOW) >= seldom
            and self._not_too_many(self.by_distribution, seldom)
            and (self.ruled or self._not_too_many(self.by_k2, seldom))
        )

    def _not_too_many(self, held: int, seldom: float) -> bool:
        return at_most(self.seen - held, self.seen, 1 - HIGH) >= seldom


@dataclass
class Study:
    """Counts by what was expected, and by whether one rectangular cause rules it."""

    counts: dict[tuple[str, bool], Count] = field(default_factory=dict)

    def add(self, expectation: Expectation, truth: float) -> None:
        """One more range, and the truth behind it."""
        ruled = is_ruled(expectation)
        self.counts.setdefault((expectation.name, ruled), Count(ruled)).add(expectation, truth)

    def holds(self, seldom: float = SELDOM) -> bool:
        """Whether all of it is as wanted, but for chance."""
        return all(count.holds(seldom) for count in self.counts.values())


def is_ruled(expectation: Expectation) -> bool:
    """Whether one rectangular cause has over half the variance."""
    budget = Budget(expectation.value, expectation.budget)
    return any(
        part.u**2 > RULES * budget.u**2
        for part in expectation.budget
        if part.distribution != "normal"
    )


def study(sites: int, state: int) -> Study:
    """Simulate sites and count."""
    draw, found = Random(state), Study()
    for _ in range(sites):
        site = random_site(draw)
        for expectation, truth in pairs(site, RealSite(site, draw), draw):
            found.add(expectation, truth)
    return found


def pairs(site: Site, real: RealSite, draw: Random) -> Iterator[tuple[Expectation, float]]:
    """What is expected at a few places of a site, and what is really there."""
    sheet, output = Sheet(site), site.output[0]
    path = draw.choice([p for p in site.path if any(s.path == p.id for s in site.station)])
    end = draw.choice(sheet.drawing.trees[path.id].ends())
    station = draw.choice([s for s in site.station if s.path == path.id])
    mains_v = site.supply.nominal_voltage_v * draw.uniform(0.92, 1.06)
    mains = mains_v / site.supply.nominal_voltage_v
    together = [sheet.drawing.stations[one] for one in sheet.worst_sets[output.id]]

    def expected(name: str, box: str = "", of: Station | None = None) -> Expectation:
        place = Spot(output.id, path.id, box, of.id if of else "")
        one = sheet.expectation(name, place, Conditions(mains_v={output.id: mains_v}))
        assert one is not None
        return one

    yield expected("loop-resistance", end), real.loop_ohm(path, end)
    idle = real.solve(output, (), mains=mains)
    yield expected("output-voltage"), abs(idle.node_v[path.id, "output"])
    yield expected("end-voltage", end), abs(idle.node_v[path.id, end])
    yield expected("standby-current"), abs(idle.path_a[path.id])
    alone = real.solve(output, (station,), mains=mains)
    at = (path.id, station.box)
    yield expected("station-current", station.box, station), abs(alone.path_a[path.id])
    yield expected("station-voltage", station.box, station), abs(alone.node_v[at])
    worst = real.solve(output, together, mains=mains)
    lowest = (together[-1].path, together[-1].box)
    yield expected("together-voltage"), abs(worst.node_v[lowest])
    yield expected("together-output-voltage"), abs(worst.node_v[path.id, "output"])


@dataclass(frozen=True)
class Group:
    """Statements that were about as sure, and how many of them were true."""

    words: str
    said: tuple[float, ...]
    true: int

    @property
    def mean(self) -> float:
        """The mean of what was said."""
        return sum(self.said) / len(self.said)

    @property
    def share(self) -> float:
        """The share that was true."""
        return self.true / len(self.said)

    def holds(self, k: float = 3.0) -> bool:
        """Whether about as many were true as was said: k deviations of chance, and one more."""
        chance = sqrt(sum(p * (1 - p) for p in self.said))
        return abs(self.true - sum(self.said)) <= k * chance + 1


def statements(sites: int, state: int) -> list[tuple[Works, bool]]:
    """What is said of worst sets after a walk, and whether it is so."""
    draw = Random(state)
    return [judged(random_site(draw), draw) for _ in range(sites)]


def groups(found: Sequence[tuple[Works, bool]]) -> Iterator[Group]:
    """Statements by how sure they are."""
    for low, high in pairwise(GROUPS):
        chosen = [
            (works.probability, true)
            for works, true in found
            if low <= works.probability and (works.probability < high or high == 1.0)
        ]
        if chosen:
            said, true = zip(*chosen, strict=True)
            yield Group(f"{low:.0%} to {high:.0%}", said, sum(true))


def passed(found: Sequence[tuple[Works, bool]]) -> tuple[int, int]:
    """How many worst sets passed, and how many of those do work."""
    true = [true for works, true in found if works.verdict == "pass"]
    return len(true), sum(true)


def main(arguments: list[str]) -> int:
    """Print both tables; 1 when something is not as wanted."""
    sites = int(arguments[0]) if arguments else SITES
    state = int(arguments[1]) if arguments[1:] else SystemRandom().getrandbits(32)
    print(f"{sites} simulated sites, random state {state}; wanted: 93 to 97 %, of 2u at least")
    print("94 %, and with one rectangular cause over half the variance no upper limit for 2u")
    print(f"{'expected':<24} {'ruled by one':<13} {'ranges':>7} {'2u':>8} {'JCGM 101':>9}")
    intervals = study(sites, state)
    for (name, ruled), count in sorted(intervals.counts.items()):
        shares = (count.by_k2 / count.seen, count.by_distribution / count.seen)
        said = "" if count.holds() else "   not as wanted"
        print(
            f"{name:<24} {'yes' if ruled else 'no':<13} {count.seen:>7} "
            f"{shares[0]:>8.1%} {shares[1]:>9.1%}{said}"
        )
    walked = max(1, sites // 10)
    print(f"\n{walked} sites walked through; wanted: as many true as said, but for chance")
    print(f"{'will the worst set work':<24} {'sites':>7} {'said':>8} {'true':>8}")
    found = statements(walked, state)
    calibrated = list(groups(found))
    for group in calibrated:
        said = "" if group.holds() else "   not as wanted"
        print(
            f"{group.words:<24} {len(group.said):>7} {group.mean:>8.1%} {group.share:>8.1%}{said}"
        )
    count_passed, true = passed(found)
    print(f"{count_passed} passed, {true} of them work (wanted: at least {MIN_PASSED_TRUE:.0%})")
    enough = at_most(true, count_passed, MIN_PASSED_TRUE) >= SELDOM
    return 0 if intervals.holds() and all(g.holds() for g in calibrated) and enough else 1


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
