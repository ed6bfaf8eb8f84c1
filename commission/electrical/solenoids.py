"""What a 24 V solenoid puts into a circuit, pulling in and holding.

A coil is a resistance and a reactance in series.  While the plunger is out (inrush) its reactance
is low and its current high; seated (holding) it is the other way round.  The copper is the same, so
one coil resistance serves both states.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final, Literal

from commission.electrical.arithmetic import sqrt

State = Literal["inrush", "holding"]

UNKNOWN_R_FRACTION: Final = 0.5
"""Coil resistance over inrush impedance where the data sheet is silent (judgement)."""

UNKNOWN_R_ERROR: Final = 0.3
"""Rectangular half-width of that resistance, a fraction; the impedances stay (judgement)."""

DEFAULT_MIN_V: Final = 20.0
"""Least voltage at which a solenoid surely pulls in, unless stated [V] (common practice)."""


@dataclass(frozen=True, slots=True)
class Solenoid:
    """A solenoid as its data sheet states it; `r_ohm` None when the sheet is silent."""

    rated_v: float
    inrush_a: float
    holding_a: float
    rated_hz: float
    r_ohm: float | None = None
    min_v: float = DEFAULT_MIN_V


def impedance_ohm(rated_v: float, rated_a: float) -> float:
    """Magnitude of the impedance, |Z| = V/I [Ω] (definition)."""
    return rated_v / rated_a


def reactance_ohm(
    impedance_ohm: float, r_ohm: float, frequency_hz: float, rated_hz: float
) -> float:
    """Reactance X = √(|Z|² - R²), scaled by f/f_rated because X = 2π·f·L [Ω]."""
    return sqrt(impedance_ohm * impedance_ohm - r_ohm * r_ohm) * (frequency_hz / rated_hz)


def coil_r_ohm(solenoid: Solenoid) -> float:
    """Resistance of the coil, the same in both states [Ω]."""
    if solenoid.r_ohm is not None:
        return solenoid.r_ohm
    return UNKNOWN_R_FRACTION * impedance_ohm(solenoid.rated_v, solenoid.inrush_a)


def coil_z_ohm(solenoid: Solenoid, state: State, frequency_hz: float) -> complex:
    """Impedance R + jX of the coil in one state at a frequency [Ω].

    A coil resistance above the impedance itself is a ValueError: one of the two is wrong.
    """
    rated_a = solenoid.inrush_a if state == "inrush" else solenoid.holding_a
    magnitude_ohm = impedance_ohm(solenoid.rated_v, rated_a)
    r_ohm = coil_r_ohm(solenoid)
    if r_ohm > magnitude_ohm * (1 + 1e-12):
        raise ValueError(
            f"a coil of {r_ohm:.4g} Ω cannot draw {rated_a:.4g} A at {solenoid.rated_v:.4g} V"
        )
    r_ohm = min(r_ohm, magnitude_ohm)
    return r_ohm + 1j * reactance_ohm(magnitude_ohm, r_ohm, frequency_hz, solenoid.rated_hz)
