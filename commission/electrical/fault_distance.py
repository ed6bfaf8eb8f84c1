"""How far away a short or an earth fault lies, from readings at one end.

On a branched path a distance can be several places: the caller lists them.
"""

from __future__ import annotations


def short_distance_m(loop_ohm: float, first_ohm_per_m: float, second_ohm_per_m: float) -> float:
    """Distance of a dead short between the conductors, L = R/(r₁ + r₂) [m].

    Resistance of the short itself makes it look farther away: an upper bound.
    """
    return loop_ohm / (first_ohm_per_m + second_ohm_per_m)


def murray_ohm(loop_ohm: float, sound_arm: float, faulty_arm: float) -> float:
    """Resistance of the faulty conductor up to the fault by Murray's loop [Ω].

    The bridge balances at sound_arm : faulty_arm, x = R_loop·Q/(P + Q); the far end is bridged.
    Source: Murray loop test, textbooks of power systems.
    """
    return loop_ohm * faulty_arm / (sound_arm + faulty_arm)


def murray_m(length_m: float, sound_arm: float, faulty_arm: float) -> float:
    """Distance by Murray's loop when both conductors are of the same cable of this length [m]."""
    return murray_ohm(2 * length_m, sound_arm, faulty_arm)


def varley_ohm(loop_ohm: float, sound_arm: float, faulty_arm: float, added_ohm: float) -> float:
    """Resistance of the faulty conductor up to the fault by Varley's loop [Ω].

    With `added_ohm` S in series with the faulty conductor the bridge balances at fixed arms P : Q,
    x = (Q·R_loop - P·S)/(P + Q).  Source: Varley loop test, textbooks of power systems.
    """
    return (faulty_arm * loop_ohm - sound_arm * added_ohm) / (sound_arm + faulty_arm)
