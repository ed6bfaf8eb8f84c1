"""What may be wrong, and where: faults as plain values."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final, Literal

from commission.text import as_counted

FaultKind = Literal[
    "none",
    "joint",  # a resistive joint in the cable
    "cable",  # another size or length of cable than drawn
    "open",
    "short",
    "leak",
    "bridge",  # one that was forgotten
    "decoder dead",
    "wrong address",
    "same address",  # of two stations
    "swapped",  # the addresses of two stations
    "solenoid open",
    "solenoid shorted",
    "solenoid joint",  # between decoder and solenoid
    "low supply",
]
IN_SERIES: Final = frozenset({"joint", "cable", "open"})
ACROSS: Final = frozenset({"short", "bridge"})
AT_STATION: Final = frozenset(
    {"decoder dead", "wrong address", "solenoid open", "solenoid shorted", "solenoid joint"}
)

OPEN_OHM: Final = 1e6
"""What an open conductor is taken as [Ω]: far above whatever a loop can be."""

BRIDGE_OHM: Final = 0.02
"""A forgotten bridge with its clips [Ω] (judgement)."""

Place = tuple[str, ...]
"""("segment", path, box it feeds), ("box", path, box), ("station", id), ("pair", id, id), ..."""


@dataclass(frozen=True, slots=True)
class Fault:
    """One fault.

    `path` and `box` name the segment by the box that it feeds; `along` is how far along it the
    fault lies, from 0 to 1; `ohm` its resistance, or for a low supply the fraction that is missing.
    `conductor` is the one that leaks, "first" or "second".
    """

    kind: FaultKind
    path: str = ""
    box: str = ""
    station: str = ""
    other: str = ""
    ohm: float = 0.0
    along: float = 0.0
    conductor: str = ""

    @property
    def place(self) -> Place:
        """Where it is. What one repair would set right together is one place."""
        if self.kind in ("joint", "cable", "open", "short"):
            return ("segment", self.path, self.box)
        if self.kind in ("bridge", "leak"):
            return ("box", self.path, self.box)
        if self.kind in ("same address", "swapped"):
            return ("pair", *sorted((self.station, self.other), key=as_counted))
        if self.station:
            return ("station", self.station)
        return (self.kind,)
