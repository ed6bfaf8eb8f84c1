"""Where a leak or a contact of one conductor lies, with the help of a sound one beside it.

The sound conductor and the faulty one are joined in the far box; the loop is a bridge whose balance
divides it at the fault, whatever the resistance of the fault itself (Murray, Varley). The faulty
conductor has to go through, and a third point (earth, or the conductor that it touches) closes the
bridge.
"""

from __future__ import annotations

from dataclasses import dataclass

from commission.electrical.fault_distance import murray_ohm, varley_ohm


@dataclass(frozen=True, slots=True)
class Lines:
    """The two conductors over a section: their length and what one metre of each has."""

    length_m: float
    sound_ohm_per_m: float
    faulty_ohm_per_m: float

    @property
    def loop_ohm(self) -> float:
        """Out through the sound one and back through the faulty one."""
        return self.length_m * (self.sound_ohm_per_m + self.faulty_ohm_per_m)


def by_murray_m(lines: Lines, ratio: float) -> float:
    """Distance of the fault from the near box [m], from the ratio of the arms at balance.

    `ratio` is the arm at the sound conductor over the arm at the faulty one, positive. What lies
    beyond the far box comes out as more than the section's length: the fault is on neither.
    Source: Murray loop test, textbooks of power systems.
    """
    return murray_ohm(lines.loop_ohm, ratio, 1.0) / lines.faulty_ohm_per_m


def by_varley_m(lines: Lines, added_ohm: float) -> float:
    """Distance of the fault from the near box [m], arms equal, `added_ohm` with the faulty one.

    Source: Varley loop test, textbooks of power systems.
    """
    return varley_ohm(lines.loop_ohm, 1.0, 1.0, added_ohm) / lines.faulty_ohm_per_m
