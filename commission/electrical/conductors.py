"""What one metre of copper conductor puts into a circuit.

Three numbers are kept apart and never mixed: the *nominal* resistance (the best estimate of a
conductor as delivered), the *interval* in which the delivered conductor lies (rectangular), and the
value used for *sizing*.  All are at 20 °C; `at_temperature` brings them to the soil.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final, Literal

from commission.electrical import sources

Basis = Literal["solid", "stranded", "IEC limit", "data sheet"]

COPPER_OHM_M: Final = 1e-6 / 58
"""Resistivity of annealed copper at 20 °C [Ω·m] (IEC 60028: 1/58 Ω·mm²/m)."""

COPPER_PER_K: Final = 0.00393
"""Temperature coefficient of resistance of copper, referred to 20 °C [1/K] (IEC 60028)."""

LAY_FACTOR: Final = 1.02
"""Stranded over solid resistance: each strand is longer than the conductor (ASTM B8)."""

AWG_TOLERANCE: Final = 0.02
"""±1 % on the diameter is ±2 % on the resistance, rectangular (ASTM B258)."""

METRIC_LOW: Final = 0.95
"""Least resistance to expect of a metric conductor, as a fraction of its limit (judgement)."""

MAX_METRIC_OHM_PER_KM: Final[dict[float, float]] = {
    0.5: 36.0,
    0.75: 24.5,
    1.0: 18.1,
    1.5: 12.1,
    2.5: 7.41,
    4.0: 4.61,
    6.0: 3.08,
    10.0: 1.83,
    16.0: 1.15,
    25.0: 0.727,
}
"""Nominal mm² -> maximum Ω/km at 20 °C, class 1 and 2, plain copper (IEC 60228)."""

AWG_REACTANCE_OHM_PER_1000FT: Final[dict[int, float]] = {
    14: 0.058,
    12: 0.054,
    10: 0.050,
    8: 0.052,
    6: 0.051,
    4: 0.048,
    3: 0.047,
    2: 0.045,
    1: 0.046,
    0: 0.044,
    -1: 0.043,
    -2: 0.042,
    -3: 0.041,
}
"""AWG number -> reactance of one conductor at 60 Hz in PVC conduit (NEC chapter 9 table 9)."""

_AUGHTS: Final = {"1/0": 0, "2/0": -1, "3/0": -2, "4/0": -3}
_THOUSAND_FEET_M: Final = 304.8
_TABLE_HZ: Final = 60.0


@dataclass(frozen=True, slots=True)
class Conductor:
    """What is known of one conductor, per metre of its own length, at 20 °C.

    `r20_ohm_per_m` is the best estimate; the real value lies between `low_r20_ohm_per_m` and
    `high_r20_ohm_per_m`, each value in between equally likely; `sizing_r20_ohm_per_m` is the one to
    size with (the limit of a metric size, the nominal of the others).  `x_ohm_per_m_per_hz` times
    the frequency is this conductor's share of the pair's reactance.
    """

    size: str
    basis: Basis
    r20_ohm_per_m: float
    low_r20_ohm_per_m: float
    high_r20_ohm_per_m: float
    sizing_r20_ohm_per_m: float
    x_ohm_per_m_per_hz: float
    source: str

    def x_ohm_per_m(self, frequency_hz: float) -> float:
        """Inductive reactance of this conductor at a frequency [Ω/m]."""
        return self.x_ohm_per_m_per_hz * frequency_hz


def awg_number(size: str | int) -> int:
    """Gauge number of a written size: '14' is 14, '1/0' is 0, '4/0' is -3; else ValueError."""
    text = str(size).strip()
    if text in _AUGHTS:
        return _AUGHTS[text]
    number = int(text) if text.lstrip("-").isdecimal() else None
    if number is None or not -3 <= number <= 40:
        raise ValueError(f"{text!r} is not a wire gauge: 40 to 0, or 1/0, 2/0, 3/0, 4/0")
    return number


def awg_diameter_m(number: int) -> float:
    """Diameter of a solid conductor, d = 0.127 mm x 92^((36 - n)/39) [m] (ASTM B258)."""
    return float(0.127e-3 * 92 ** ((36 - number) / 39))


def area_m2(diameter_m: float) -> float:
    """Cross-section of a round wire, A = π·d²/4 [m²]."""
    return math.pi * diameter_m * diameter_m / 4


def wire_r_ohm_per_m(area_m2: float, resistivity_ohm_m: float = COPPER_OHM_M) -> float:
    """Resistance of a metre of wire, r = ρ/A [Ω/m], with copper at 20 °C unless told otherwise."""
    return resistivity_ohm_m / area_m2


def at_temperature(
    r20_ohm_per_m: float,
    temperature_c: float,
    coefficient_per_k: float = COPPER_PER_K,
    reference_c: float = 20.0,
) -> float:
    """Resistance at a temperature, r(T) = r20·(1 + α·(T - 20)), in the unit given (IEC 60028).

    On another scale of temperature `reference_c` is 20 °C on that one.
    """
    return r20_ohm_per_m * (1 + coefficient_per_k * (temperature_c - reference_c))


def to_20_c(
    r_ohm: float,
    temperature_c: float,
    coefficient_per_k: float = COPPER_PER_K,
    reference_c: float = 20.0,
) -> float:
    """Resistance brought back to 20 °C, r20 = r(T)/(1 + α·(T - 20)), in the unit given."""
    return r_ohm / (1 + coefficient_per_k * (temperature_c - reference_c))


def at_frequency(x_ohm: float, frequency_hz: float, known_hz: float) -> float:
    """Reactance at another frequency, X·f/f_known because X = 2π·f·L, in the unit given."""
    return x_ohm * (frequency_hz / known_hz)


def reactance_ohm_per_m(area_m2: float, frequency_hz: float) -> float:
    """Reactance of one conductor of a pair, the 60 Hz table scaled by f/60 [Ω/m].

    The table's largest gauge that is not larger than the conductor counts; below 14 AWG the value
    of 14 AWG (judgement; the reactance is a few per cent of the resistance there).  Source: NEC
    chapter 9 table 9, PVC conduit.
    """
    ohm_per_1000ft = AWG_REACTANCE_OHM_PER_1000FT[14]
    for number, tabulated in AWG_REACTANCE_OHM_PER_1000FT.items():
        if awg_area_m2(number) <= area_m2 * (1 + 1e-9):
            ohm_per_1000ft = tabulated
    return at_frequency(ohm_per_1000ft / _THOUSAND_FEET_M, frequency_hz, _TABLE_HZ)


def awg_area_m2(number: int) -> float:
    """Cross-section of a gauge [m²]; a stranded conductor has the same metal (ASTM B258)."""
    return area_m2(awg_diameter_m(number))


def awg(size: str | int, *, stranded: bool) -> Conductor:
    """Conductor of an American wire gauge, ρ/A, with 2 % more for the lay of strands.

    Interval ±2 %, nominal for sizing.  A size that is no gauge is a ValueError.  Sources: IEC 60028
    (copper), ASTM B258 (diameter), ASTM B8 (lay), NEC chapter 9 table 9 (reactance).
    """
    number = awg_number(size)
    area = awg_area_m2(number)
    r20 = wire_r_ohm_per_m(area) * (LAY_FACTOR if stranded else 1.0)
    aughts = {value: text for text, value in _AUGHTS.items()}
    return Conductor(
        size=f"{aughts.get(number, number)} AWG",
        basis="stranded" if stranded else "solid",
        r20_ohm_per_m=r20,
        low_r20_ohm_per_m=r20 * (1 - AWG_TOLERANCE),
        high_r20_ohm_per_m=r20 * (1 + AWG_TOLERANCE),
        sizing_r20_ohm_per_m=r20,
        x_ohm_per_m_per_hz=reactance_ohm_per_m(area, 1.0),
        source=sources.LAY if stranded else sources.WIRE_GAUGE,
    )


def metric(mm2: float) -> Conductor:
    """Conductor of a metric size: its IEC 60228 limit for sizing, 97.5 % of it as best estimate.

    The mm² is a name, not an area, and the limit is no nominal: the delivered conductor is taken to
    lie evenly between 95 % and 100 % of the limit (judgement).  A size that is not in the table is
    a ValueError.
    """
    if mm2 not in MAX_METRIC_OHM_PER_KM:
        known = ", ".join(f"{size:g}" for size in MAX_METRIC_OHM_PER_KM)
        raise ValueError(f"{mm2:g} mm² is not a standard size here: {known}")
    limit = MAX_METRIC_OHM_PER_KM[mm2] / 1000
    return Conductor(
        size=f"{mm2:g} mm²",
        basis="IEC limit",
        r20_ohm_per_m=limit * (1 + METRIC_LOW) / 2,
        low_r20_ohm_per_m=limit * METRIC_LOW,
        high_r20_ohm_per_m=limit,
        sizing_r20_ohm_per_m=limit,
        x_ohm_per_m_per_hz=reactance_ohm_per_m(mm2 * 1e-6, 1.0),
        source=sources.METRIC_SIZES,
    )


def data_sheet(
    r20_ohm_per_m: float,
    tolerance_fraction: float = AWG_TOLERANCE,
    x_ohm_per_m_per_hz: float | None = None,
    *,
    size: str = "",
) -> Conductor:
    """Conductor as its maker states it; the stated resistance counts for everything.

    The interval is ± `tolerance_fraction`, rectangular.  A reactance that is not stated is the
    table's for the copper area that has this resistance.
    """
    if x_ohm_per_m_per_hz is None:
        x_ohm_per_m_per_hz = reactance_ohm_per_m(COPPER_OHM_M / r20_ohm_per_m, 1.0)
    return Conductor(
        size=size or f"{r20_ohm_per_m * 1000:.4g} Ω/km",
        basis="data sheet",
        r20_ohm_per_m=r20_ohm_per_m,
        low_r20_ohm_per_m=r20_ohm_per_m * (1 - tolerance_fraction),
        high_r20_ohm_per_m=r20_ohm_per_m * (1 + tolerance_fraction),
        sizing_r20_ohm_per_m=r20_ohm_per_m,
        x_ohm_per_m_per_hz=x_ohm_per_m_per_hz,
        source=sources.DATA_SHEET,
    )
