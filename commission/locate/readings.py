"""What can be tested in the field to find a fault, what it told, and with which meter."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Final, Literal

from commission.electrical.instruments import Accuracy
from commission.site.schema import ROOT

FieldTestKind = Literal[
    "loop",  # ohms at the terminals with the pair bridged at a box
    "unbridged",  # ohms at the terminals without a bridge
    "side",  # ohms between the conductors of one cable whose joint in a box was opened
    "current",  # path current at the terminals, a station called or none
    "voltage",  # volts between the conductors at a box or the terminals, a station called or none
    "earth",  # volts from one conductor to earth at the terminals, a station called or none
    "insulation",  # ohms to earth of one conductor, of the path or of one cable opened in a box
    "water",  # which valves gave water when a station was called
    "indicator",  # whether a station's indicator answered when it was called
]
DEAD_KINDS: Final = frozenset({"loop", "unbridged", "side", "insulation"})
SEEN_KINDS: Final = frozenset({"water", "indicator"})
Unit = Literal["ohm", "volt", "amp"]
_UNITS: Final[dict[str, Unit]] = {"current": "amp", "voltage": "volt", "earth": "volt"}


@dataclass(frozen=True, slots=True)
class FieldTest:
    """One test at one place; `station` is the one called, "" for none.

    `conductor` is "first" or "second" where a test looks at one of them against earth. `beyond` is
    the box that a cable leads to whose joint in `box` was opened, so that it alone is looked into.
    """

    kind: FieldTestKind
    path: str
    box: str = ROOT
    station: str = ""
    conductor: str = ""
    beyond: str = ""

    @property
    def opens(self) -> str:
        """The box that must be open for it, "" for none: the terminals are at hand."""
        return self.box if self.box != ROOT else ""

    @property
    def unit(self) -> Unit:
        """The quantity that the meter is set to."""
        return _UNITS.get(self.kind, "ohm")


@dataclass(frozen=True, slots=True)
class Reading:
    """What a test told: a value in SI (infinite for over-range), or the stations seen to answer.

    `elsewhere` says whether the other stations were looked at too, while one was called.
    """

    test: FieldTest
    value: float = 0.0
    seen: frozenset[str] = frozenset()
    elsewhere: bool = True


@dataclass(frozen=True, slots=True)
class Meter:
    """The instrument: accuracy per quantity, and the part of each percentage that is common.

    That part is the same error in all readings of one quantity; the rest is new each time.
    """

    ohm: Accuracy = field(default_factory=lambda: Accuracy(0.5, 2, 0.01))
    volt: Accuracy = field(default_factory=lambda: Accuracy(1.0, 3, 0.01))
    amp: Accuracy = field(default_factory=lambda: Accuracy(1.5, 3, 0.0001))
    common: float = 2 / 3

    def of(self, unit: Unit) -> Accuracy:
        """The accuracy in one quantity."""
        return {"ohm": self.ohm, "volt": self.volt, "amp": self.amp}[unit]
