"""One section of a bundle: the conductors between two boxes, and what was read of them.

Every conductor is parted from all others in both boxes before anything is read.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Literal

Kind = Literal["insulation", "return", "loop"]
State = Literal[
    "sound", "insulated", "leaks", "broken", "poor", "in doubt", "not needed", "not read"
]


@dataclass(frozen=True, slots=True)
class Conductor:
    """A conductor by its colour or number, and the most it should have over the section [ohm]."""

    name: str
    high_ohm: float


@dataclass(frozen=True, slots=True)
class Test:
    """One reading at the near box.

    insulation  the first conductor against all others together and earth; the others are joined
                in both boxes, its own far end is open
    return      out through the first conductor, back through all others together: all are joined
                in the far box, all others in the near one
    loop        out through the first, back through the second: these two alone are joined far away
    """

    __test__ = False  # for pytest: this is no case of a test

    kind: Kind
    first: str
    second: str = ""


@dataclass(frozen=True, slots=True)
class Section:
    """The conductors of a section, the one that serves best first, and the least insulation."""

    conductors: tuple[Conductor, ...]
    min_insulation_ohm: float

    @property
    def most_readings(self) -> int:
        """Two for each conductor."""
        return 2 * len(self.conductors)


Readings = Mapping[Test, float]  # SI; infinite where there is no end to the reading


@dataclass(frozen=True, slots=True)
class Decision:
    """What the readings of a section say.

    Either there is a `pair`, or a `next` reading to take, or neither: then no pair is sound.
    `why` says why more readings are asked than two for each conductor; else it is empty.
    """

    states: Mapping[str, State]
    pair: tuple[str, str] | None = None
    next: Test | None = None
    why: str = ""

    @property
    def abandoned(self) -> tuple[str, ...]:
        """What is left over once there is a pair: disconnected and capped in both boxes."""
        return tuple(name for name in self.states if self.pair and name not in self.pair)
