"""Conductor sizes: read from words, and what is next larger in the same family.

Two families, each with the steps in which cable for this work is sold: every second wire gauge up
to 6 AWG, and the standard sizes in mm² up to 16 mm² (judgement).
"""

from __future__ import annotations

from typing import Final

from commission.electrical import conductors
from commission.site.schema import CableKind
from commission.units import parse_quantity

AWG: Final = ("18 AWG", "16 AWG", "14 AWG", "12 AWG", "10 AWG", "8 AWG", "6 AWG")
METRIC: Final = ("0.75 mm²", "1 mm²", "1.5 mm²", "2.5 mm²", "4 mm²", "6 mm²", "10 mm²", "16 mm²")


def is_awg(size: str) -> bool:
    """Whether a size is a wire gauge; else it is in mm²."""
    return size.endswith("AWG")


def conductor_of(text: str) -> conductors.Conductor:
    """The solid conductor of a size in words, "14 AWG" or "2.5 mm²"; ValueError says what is wrong.

    Its resistance for sizing is the nominal one of a gauge, the IEC 60228 limit of a metric size.
    """
    words = text.strip()
    if len(words) < 20 and words.upper().endswith("AWG"):
        number = words[:-3].strip()
        if not number.removesuffix("/0").isdecimal():
            raise ValueError(f"'{number}' is no wire gauge")
        return conductors.awg(number, stranded=False)
    try:
        area_m2 = parse_quantity(words, "area")
    except ValueError as error:
        raise ValueError(f"'{words[:20]}' is no conductor size") from error
    return conductors.metric(round(area_m2 * 1e6, 6))


def area_m2(size: str) -> float:
    """Copper of one conductor [m²]: of a gauge by its diameter, of a metric size by its name."""
    number = size.split(" ")[0]
    if is_awg(size):
        return conductors.awg_area_m2(conductors.awg_number(number))
    return float(number) * 1e-6


def larger(kind: CableKind) -> tuple[CableKind, ...]:
    """Cable of the same family and stranding with more copper than `kind`, the next size first."""
    own = kind.conductor
    family, stranded = (AWG, kind.stranded) if is_awg(own) else (METRIC, False)
    return tuple(
        CableKind(conductor=size, stranded=stranded)
        for size in family
        if area_m2(size) > area_m2(own) * (1 + 1e-9)
    )
