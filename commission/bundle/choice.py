"""The best sound pair of a section, or the reading to take next.

Each conductor is read at most twice: its insulation, then whether it goes through. The first that
is insulated is read out and back through all others together; once one is known to go through,
every further one is read in a loop with it. So N conductors take at most 2N readings. More are
asked only where a loop has an end but is too high: then either of its two may be the poor one, and
a loop of two that are in doubt decides.

The order matters: only a conductor that touches no other is read through, so that no way round
through a third one can be taken for its own.
"""

from __future__ import annotations

from collections.abc import Iterator
from itertools import combinations

from commission.bundle.section import Decision, Readings, Section, State, Test

OPEN_FROM_OHM = 1_000.0
"""From here a conductor is called broken, below it poor (judgement: wet breaks conduct)."""
_WHY = (
    "More than two readings for each conductor: a loop has an end but is too high, and either of "
    "its two may be the poor one"
)


def decide(section: Section, read: Readings) -> Decision:
    """What the readings say: the best sound pair, else the next reading, else neither.

    The best pair is that of the two sound conductors that come first in the section's order.
    """
    return _Deciding(section, read).decision()


class _Deciding:
    def __init__(self, section: Section, read: Readings) -> None:
        self._section, self._read = section, read
        self._high = {one.name: one.high_ohm for one in section.conductors}
        self._order = [one.name for one in section.conductors]
        self._known = self._first_known()

    def decision(self) -> Decision:
        pair = next(self._pairs(), None)
        test = None if pair else self._next()
        extra = test is not None and len(self._read) >= self._section.most_readings
        done = pair is not None or test is None
        states = {name: self._state(name, pair, done=done) for name in self._order}
        return Decision(states, pair, test, _WHY if extra else "")

    # what single readings say

    def _insulated(self, name: str) -> bool | None:
        ohm = self._read.get(Test("insulation", name))
        return None if ohm is None else ohm >= self._section.min_insulation_ohm

    def _loop(self, one: str, other: str) -> float | None:
        there = self._read.get(Test("loop", one, other))
        return self._read.get(Test("loop", other, one)) if there is None else there

    def _through(self, name: str) -> bool | None:
        """Whether it goes through, read against all others together."""
        ohm = self._read.get(Test("return", name))
        if ohm is None:
            return None
        back = max((high for other, high in self._high.items() if other != name), default=0.0)
        return ohm <= self._high[name] + back

    def _in_range(self, one: str, other: str) -> bool:
        ohm = self._loop(one, other)
        return ohm is not None and ohm <= self._high[one] + self._high[other]

    # what they say together

    def _first_known(self) -> str | None:
        """The first conductor known to be insulated and to go through."""
        good = (name for name in self._order if self._insulated(name) and self._through(name))
        return next(good, None)

    def _surely_poor(self, name: str) -> bool:
        """Whether it has too much by itself, however little the known one has."""
        if self._through(name) is False:
            return True
        ohm = self._loop(self._known, name) if self._known not in (None, name) else None
        if ohm is None or self._known is None:
            return False
        return ohm - self._read[Test("return", self._known)] > self._high[name]

    def _in_doubt(self, name: str) -> bool:
        """Whether its loop with the known one is too high, and either may be the poor one."""
        if self._known in (None, name) or self._surely_poor(name):
            return False
        assert self._known is not None
        return self._loop(self._known, name) is not None and not self._in_range(self._known, name)

    def _left(self) -> list[str]:
        """Who may still be one of a pair, in order."""
        out = (name for name in self._order if self._insulated(name) is not False)
        return [name for name in out if not self._surely_poor(name)]

    def _pairs(self) -> Iterator[tuple[str, str]]:
        for one, other in combinations(self._order, 2):
            if self._insulated(one) and self._insulated(other) and self._in_range(one, other):
                yield one, other

    # what to read next

    def _next(self) -> Test | None:
        left = self._left()
        if len(left) < 2:
            return None
        if self._known is None:
            return self._to_know_one(left)
        doubted = [name for name in left if self._in_doubt(name)]
        for one, other in combinations(doubted, 2):
            if self._loop(one, other) is None:
                return Test("loop", one, other)
        for name in left:
            if name != self._known and self._loop(self._known, name) is None:
                if self._insulated(name) is None:
                    return Test("insulation", name)
                return Test("loop", self._known, name)
        return None

    def _to_know_one(self, left: list[str]) -> Test | None:
        """Towards a first conductor that is insulated and goes through."""
        for name in left:
            if self._insulated(name) is None:
                return Test("insulation", name)
            if len(left) == 2 and self._insulated(left[1]):
                asked = self._loop(*left) is None
                return Test("loop", *left) if asked else None
            if len(left) > 2 and self._through(name) is None:
                return Test("return", name)
        return None

    # words

    def _state(self, name: str, pair: tuple[str, str] | None, *, done: bool) -> State:
        if pair and name in pair:
            return "sound"
        if self._insulated(name) is False:
            return "leaks"
        if self._surely_poor(name) and not (pair or self._known):
            return "in doubt"  # the fault may lie in the way back as well
        if self._surely_poor(name):
            return "broken" if self._most_read(name) >= OPEN_FROM_OHM else "poor"
        if name == self._known:
            return "sound" if not pair else "poor"  # a pair without it: it was what made them high
        if self._in_doubt(name):
            return "poor" if pair and self._known in pair else "in doubt"
        if self._most_read(name) > 0:
            return "in doubt"
        if self._insulated(name):
            return "insulated"
        return "not needed" if done else "not read"

    def _most_read(self, name: str) -> float:
        """The most that was read through it; 0 when nothing was."""
        return max((ohm for test, ohm in self._read.items() if _is_through(test, name)), default=0)


def _is_through(test: Test, name: str) -> bool:
    return test.kind != "insulation" and name in (test.first, test.second)
