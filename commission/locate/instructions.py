"""A test in words: what to do, what to take care of, and what its outcomes would mean."""

from __future__ import annotations

import math
from collections.abc import Iterable

from commission.locate.faults import Place
from commission.locate.next_test import Suggestion
from commission.locate.outcomes import Outcome
from commission.locate.readings import DEAD_KINDS, FieldTest
from commission.locate.words import Words, chance
from commission.site.schema import ROOT, Site
from commission.units import Quantity, show

QUANTITIES: dict[str, tuple[Quantity, str]] = {
    "ohm": ("resistance", "ohm"),
    "volt": ("voltage", "V"),
    "amp": ("current", "A"),
}
"""What a meter is set to: the quantity, and the unit in which it is said and typed."""

_MAINS = (
    "Isolate the supply, lock it off, prove dead before the conductors come off the terminals; "
    "a licensed person works on the supply."
)
_LIVE = "The path is live. Everyone reads back; nobody has hands in another joint."
_BOX = "Look before you reach in: insects and snakes. Do not enter a flooded or confined box."
_JOINT = "A sealed joint that was opened is remade with new connectors, and recorded."
_BRIDGE = "Take the bridge off again, and read unbridged: a forgotten bridge is a dead short."
_METER_ONLY = (
    "Decoders are connected: read with the multimeter. Never put an insulation tester on this path "
    "before every decoder is off it."
)
_DIG = (
    "Locate buried services before you dig. Local codes and the authority having jurisdiction "
    "decide how."
)
_LIGHTNING = "No work on paths while lightning is about."


class Instructions:
    """Says tests of one site."""

    def __init__(self, site: Site) -> None:
        self._stations = {station.id: station for station in site.station}
        self._words = Words(site)

    def test(self, test: FieldTest) -> str:
        """What to do, in one sentence."""
        at = "at the output terminals" if test.box == ROOT else f"in box {test.box}"
        running = self._running(test)
        path = f"path {test.path}"
        if test.kind == "loop":
            return (
                f"Bridge the conductors of {path} {at}, and read the loop resistance at the "
                "controller"
            )
        if test.kind == "unbridged":
            return f"Read ohms between the conductors of {path} at the controller, nothing bridged"
        if test.kind == "side":
            return (
                f"Open the joint {at} that leads to {test.beyond}, and read ohms between the two "
                f"conductors of that cable"
            )
        if test.kind == "insulation" and test.beyond:
            return (
                f"Open the joint {at} that leads to {test.beyond}, and read ohms from the "
                f"{test.conductor} conductor of that cable to earth"
            )
        if test.kind == "insulation":
            return f"Read ohms from the {test.conductor} conductor of {path} to earth"
        if test.kind == "current":
            return f"Read the current of {path} at the output terminals, {running}"
        if test.kind == "earth":
            return f"Read volts from the {test.conductor} conductor of {path} to earth, {running}"
        if test.kind == "voltage":
            return f"Read a.c. volts between the conductors of {path} {at}, {running}"
        if test.kind == "indicator":
            return f"Run {self._station(test.station)} and look at its indicator"
        return f"Run {self._station(test.station)} and look which valves give water"

    def _running(self, test: FieldTest) -> str:
        return f"{self._station(test.station)} running" if test.station else "nothing running"

    def _station(self, name: str) -> str:
        return f"station {self._stations[name].number}"

    def effort(self, suggestion: Suggestion) -> str:
        """What a test costs, in words."""
        box = f"opening box {suggestion.test.box}" if suggestion.opens else "no box to open"
        return f"about {math.ceil(suggestion.minutes)} minutes, {box}"

    def cautions(self, test: FieldTest) -> tuple[str, ...]:
        """What to take care of."""
        dead = test.kind in DEAD_KINDS
        said = [_MAINS if dead else _LIVE]
        if test.kind == "loop":
            said.append(_BRIDGE)
        if dead:
            said.append(_METER_ONLY)
        if test.kind in ("side", "insulation") and test.beyond:
            said.append(_JOINT)
        if test.opens:
            said.append(_BOX)
        return (*said, _LIGHTNING)

    def cautions_of_repair(self, places: Iterable[Place]) -> tuple[str, ...]:
        """What to take care of while these places are put right."""
        buried = (_DIG,) if any(place[0] == "segment" for place in places) else ()
        return (_MAINS, *buried, _JOINT, _BOX, _LIGHTNING)

    def outcome(self, test: FieldTest, outcome: Outcome) -> str:
        """One outcome: what would be read or seen, how likely, and what it would speak for."""
        places = "; or ".join(self._words.places(one) for one in outcome.places[:_MOST])
        more = len(outcome.places) - _MOST
        places += f"; or one of {more} more places" if more > 0 else ""
        return f"{self.range(test, outcome)} ({chance(outcome.probability)}): {places}"

    def range(self, test: FieldTest, outcome: Outcome) -> str:
        """What would be read or seen."""
        low, high = self.value(test, outcome.low), self.value(test, outcome.high)
        return high if low == high or test.kind == "indicator" else f"{low} to {high}"

    def value(self, test: FieldTest, value: float) -> str:
        """One value of a test, as it would be read or seen."""
        if test.kind == "indicator":
            return "it answers" if value >= 1 else "it stays dark"
        if not math.isfinite(value):
            return "over range"
        quantity, unit = QUANTITIES[test.unit]
        return show(value, unit, quantity, 4 if value >= _MANY else 3)


_MOST = 4  # places named for one outcome
_MANY = 10.0  # from here four digits are shown
