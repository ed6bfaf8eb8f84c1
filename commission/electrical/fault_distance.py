"""How far along a conductor an earth fault lies, in ohms, by the balance of a bridge at one end."""

from __future__ import annotations


def murray_ohm(loop_ohm: float, sound_arm: float, faulty_arm: float) -> float:
    """Resistance of the faulty conductor up to the fault by Murray's loop [Ω].

    The bridge balances at sound_arm : faulty_arm, x = R_loop·Q/(P + Q); the far end is bridged.
    Source: Murray loop test, textbooks of power systems.
    """
    return loop_ohm * faulty_arm / (sound_arm + faulty_arm)


def varley_ohm(loop_ohm: float, sound_arm: float, faulty_arm: float, added_ohm: float) -> float:
    """Resistance of the faulty conductor up to the fault by Varley's loop [Ω].

    With `added_ohm` S in series with the faulty conductor the bridge balances at fixed arms P : Q,
    x = (Q·R_loop - P·S)/(P + Q).  Source: Varley loop test, textbooks of power systems.
    """
    return (faulty_arm * loop_ohm - sound_arm * added_ohm) / (sound_arm + faulty_arm)
