"""Typed text to SI numbers and back: the one place that knows units.

People type `11.6`, `11,6 ohm`, `1.2k`, `0.4 MΩ`, `OL`, `>200 M`; files say "180 ft" or "14 AWG".
Both are parsed here, by our own rules, because general unit parsers guess: they take a decimal
comma for nothing and "ma" for milliyears. Units are whitelisted by quantity. The factors of the
units in daily use stand below (a test proves each against pint); the rest of the whitelist is
converted by pint itself, which is built on first need because that takes a quarter of a second.

SI here means: ohm, volt, ampere, metre, second, hertz, pascal, volt-ampere, kelvin for
differences; temperatures are degrees Celsius; fractions are 1 for 100 %.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from functools import cache
from math import floor, log10
from typing import Any, Literal

Quantity = Literal[
    "resistance",
    "voltage",
    "current",
    "length",
    "resistivity",
    "resistance per length",
    "temperature",
    "temperature difference",
    "power",
    "frequency",
    "time",
    "pressure",
    "fraction",
    "area",
    "number",
]
Relation = Literal["=", "<", ">", "OL"]

FOOT_M = 0.3048
INCH_M = 0.0254

# quantity -> unit as written -> SI per unit. The first unit of a quantity is its SI unit.
EVERYDAY: dict[str, dict[str, float]] = {
    "resistance": {"ohm": 1.0, "mohm": 1e-3, "kohm": 1e3, "Mohm": 1e6, "Gohm": 1e9},
    "voltage": {"V": 1.0, "mV": 1e-3, "kV": 1e3},
    "current": {"A": 1.0, "mA": 1e-3, "µA": 1e-6},
    "length": {"m": 1.0, "mm": 1e-3, "cm": 1e-2, "km": 1e3, "ft": FOOT_M, "in": INCH_M},
    "resistivity": {"ohm m": 1.0, "ohm cm": 1e-2},
    "resistance per length": {
        "ohm/m": 1.0,
        "ohm/km": 1e-3,
        "mohm/m": 1e-3,
        "ohm/1000 ft": 1e-3 / FOOT_M,
        "ohm/ft": 1.0 / FOOT_M,
    },
    "temperature": {"°C": 1.0, "°F": 5.0 / 9.0},
    "temperature difference": {"K": 1.0, "°C": 1.0, "°F": 5.0 / 9.0},
    "power": {"VA": 1.0, "W": 1.0, "kVA": 1e3},
    "frequency": {"Hz": 1.0},
    "time": {"s": 1.0, "ms": 1e-3, "min": 60.0},
    "pressure": {"Pa": 1.0, "kPa": 1e3, "bar": 1e5, "psi": 6894.757293168361},
    "fraction": {"": 1.0, "%": 1e-2},
    "area": {"m²": 1.0, "mm²": 1e-6},
    "number": {"": 1.0},
}

# The rest of the whitelist, converted by pint: quantity -> unit as written -> pint's name.
SELDOM: dict[str, dict[str, str]] = {
    "resistance": {"µohm": "microohm"},
    "voltage": {"µV": "microvolt"},
    "current": {"nA": "nanoampere", "kA": "kiloampere"},
    "length": {"yd": "yard", "mil": "thou", "mi": "mile", "dm": "decimeter"},
    "resistivity": {"ohm mm²/m": "ohm*millimeter**2/meter", "ohm ft": "ohm*foot"},
    "resistance per length": {"mohm/ft": "milliohm/foot", "ohm/mi": "ohm/mile"},
    "pressure": {"MPa": "megapascal", "mbar": "millibar", "inHg": "inch_Hg"},
    "time": {"h": "hour"},
    "area": {"in²": "inch**2", "cmil": "circular_mil", "kcmil": "kilocircular_mil"},
}

SI_UNIT: dict[str, str] = {
    quantity: "K" if quantity == "temperature difference" else next(iter(units))
    for quantity, units in EVERYDAY.items()
}

# Other spellings, after the marks below have been unified; matched as typed.
_SPELLINGS = {
    "volt": "V", "volts": "V", "v": "V", "mv": "mV", "kv": "kV", "KV": "kV",
    "amp": "A", "amps": "A", "a": "A", "ma": "mA", "uA": "µA", "ua": "µA", "µa": "µA",
    "metre": "m", "metres": "m", "meter": "m", "meters": "m",
    "foot": "ft", "feet": "ft", "'": "ft", "FT": "ft", "inch": "in", "inches": "in", '"': "in",
    "yards": "yd", "yard": "yd", "miles": "mi", "mile": "mi",
    "hz": "Hz", "HZ": "Hz", "sec": "s", "seconds": "s", "second": "s",
    "PSI": "psi", "Psi": "psi", "KPA": "kPa", "kpa": "kPa", "pa": "Pa", "Bar": "bar",
    "va": "VA", "w": "W", "percent": "%", "pct": "%",
    "C": "°C", "F": "°F", "degC": "°C", "degF": "°F", "deg C": "°C", "deg F": "°F",
    "megohm": "Mohm", "Megohm": "Mohm", "meg": "Mohm", "kilohm": "kohm", "gigohm": "Gohm",
    "mm2": "mm²", "mm^2": "mm²", "sq mm": "mm²", "m2": "m²", "in2": "in²",
}  # fmt: skip
_PREFIXABLE = {
    "resistance": {"k", "K", "M", "G"},
    "voltage": {"k", "m", "µ"},
    "current": {"m", "µ"},
}
_MARKS = str.maketrans(
    {"Ω": "ohm", "\u2126": "ohm", "\u00b5": "µ", "\u03bc": "µ", "\u2212": "-",
     "\u00a0": " ", "\u202f": " ", "\u2009": " ", "\u00b7": " ", "\u2032": "'", "\u2033": '"',
     "\u00ba": "°", "\u2103": "°C", "\u2109": "°F"}
)  # fmt: skip
_OHM = re.compile(r"ohms?\b", re.IGNORECASE)
_NUMBER = re.compile(r"(?P<sign>[+-]?)(?P<digits>[0-9.,]+)(?P<exp>[eE][+-]?[0-9]{1,2}(?![0-9]))?")
_PLAIN = re.compile(r"(?P<whole>[0-9]{0,15})(?:(?P<mark>[.,])(?P<part>[0-9]{1,15}))?")
_OVER = re.compile(r"\.?[O0]\.?L\.?(?P<unit> ?[^ .].*)?", re.IGNORECASE)
MAX_TYPED = 60  # characters; the longest unit needs a dozen


@dataclass(frozen=True, slots=True)
class Reading:
    """What a meter showed, as typed.

    `value` is SI (None for "OL"), `digit` the SI weight of the last digit typed, `relation` is
    "=" for a value, "<" or ">" for under-range and over-range with a bound, "OL" without one.
    """

    text: str
    relation: Relation
    value: float | None
    digit: float


def _decimal(text: str) -> tuple[str, int]:
    """Return an unsigned decimal text with a point, and its number of digits after it."""
    plain_text = _PLAIN.fullmatch(text)
    if plain_text is None or not (plain_text["whole"] or plain_text["part"]):
        raise ValueError(
            f"'{text}' is not one number; write it with one decimal mark at most, between digits"
        )
    whole, part = plain_text["whole"].lstrip("0"), plain_text["part"] or ""
    if len(part) == 3 and whole:
        short = f"{whole}.{part.rstrip('0') or '0'}"
        clear = f"{short}0" if short.endswith(part) else short  # three digits are never clear
        raise ValueError(
            f"'{text}' can be read as {whole}{part} or as {short}; write {whole}{part} or {clear}"
        )
    return f"{whole or '0'}.{part or '0'}", len(part)


def _split(text: str) -> tuple[float, float, str]:
    """Split typed text into value, weight of the last digit, and unit text."""
    match = _NUMBER.match(text)
    if match is None:
        raise ValueError(f"'{text}' does not start with a number")
    decimal, places = _decimal(match["digits"])
    exponent = match["exp"] or "e0"
    value = float(f"{match['sign']}{decimal}{exponent}")
    return value, float(f"1e{int(exponent[1:]) - places}"), text[match.end() :].strip()


def _unify(text: str) -> str:
    """Return typed text with one spelling of ohm, micro, minus and blank; refuse the unreadable."""
    if len(text) > MAX_TYPED:
        raise ValueError(f"longer than {MAX_TYPED} characters; write one number and its unit")
    text = text.translate(_MARKS)
    if not text.isprintable():
        raise ValueError("it holds a character that cannot be printed")
    if any(character.isdigit() and character not in "0123456789²³" for character in text):
        raise ValueError("write numbers with the digits 0 to 9")
    return re.sub(r" +", " ", _OHM.sub("ohm", text).strip())


def _unit_spelling(unit: str, quantity: str) -> str:
    unit = _SPELLINGS.get(unit, unit)
    if unit in EVERYDAY[quantity] or unit in SELDOM.get(quantity, {}):
        return unit
    tight = re.sub(r"\s*([/*.])\s*", r"\1", unit).replace("*", " ").replace(".", " ")
    if quantity == "resistance per length":
        tight = re.sub(r"/(1000|k) ?ft$", "/1000 ft", tight)
    if quantity in ("resistivity", "resistance"):
        tight = re.sub(r"ohm-?(c?m|ft)$", r"ohm \1", tight)
        tight = re.sub(r"^([kK]) ?ohm$", "kohm", tight)
        tight = re.sub(r"^([MGmµ]) ohm$", r"\1ohm", tight)
    return tight


@cache
def _pint_factor(name: str, quantity: str) -> float:
    """SI per unit, from pint (a plain factor: no offset units are in SELDOM)."""
    import pint

    registry: Any = pint.UnitRegistry()
    si = {"resistance per length": "ohm/meter", "resistivity": "ohm*meter"}
    target = si.get(quantity) or {"m²": "meter**2"}.get(SI_UNIT[quantity], SI_UNIT[quantity])
    return float(registry.Quantity(1.0, name).to(target).magnitude)


def si_per_unit(unit: str, quantity: Quantity) -> float:
    """Return SI per `unit` of `quantity`; raises ValueError naming the units that are known."""
    spelled = _unit_spelling(unit, quantity)
    everyday = EVERYDAY[quantity].get(spelled)
    if everyday is not None:
        return everyday
    seldom = SELDOM.get(quantity, {}).get(spelled)
    if seldom is not None:
        return _pint_factor(seldom, quantity)
    known = ", ".join(name for name in EVERYDAY[quantity] if name)
    if not known:
        raise ValueError(f"'{unit}' after the number is not understood; write the number alone")
    if not unit:
        raise ValueError(f"a unit is missing; {quantity} is written in {known}")
    raise ValueError(f"'{unit}' is not a unit of {quantity}; use {known}")


def _to_si(value: float, unit: str, quantity: Quantity) -> float:
    si = value * si_per_unit(unit, quantity)
    if quantity == "temperature" and _unit_spelling(unit, quantity) == "°F":
        si -= 160.0 / 9.0
    return si


def parse_quantity(text: str, quantity: Quantity) -> float:
    """Return the SI value of file text such as "180 ft"; the unit must be written.

    Raises ValueError in words a person can act on. Temperatures come back in °C.
    """
    value, _digit, unit = _split(_unify(text))
    return _to_si(value, unit, quantity)


def _typed_unit(unit: str, quantity: Quantity, default_unit: str) -> str:
    """Complete the unit of a reading: none means the unit shown, `k` alone means kilo of it."""
    if not unit:
        return default_unit
    base = SI_UNIT[quantity]
    if unit in _PREFIXABLE.get(quantity, ()):
        return ("k" if unit == "K" else unit) + base
    if quantity == "resistance" and unit == "m":
        raise ValueError("'m' could be milli or mega; write mohm or Mohm")
    if unit == "MA" and quantity == "current":
        raise ValueError("'MA' would be mega-ampere; write mA or A")
    return unit


def parse_reading(text: str, quantity: Quantity, default_unit: str) -> Reading:
    """Return the `Reading` that was typed; without a unit it is in `default_unit`.

    Raises ValueError in words a person can act on; it never guesses.
    """
    typed = _unify(text)
    if not typed:
        raise ValueError("nothing was typed")
    over = _OVER.fullmatch(typed)
    if over:
        si_per_unit(_typed_unit((over["unit"] or "").strip(), quantity, default_unit), quantity)
        return Reading(text.strip(), "OL", None, 0.0)
    relation: Relation = "="
    if typed[0] in "<>":
        relation = "<" if typed[0] == "<" else ">"
        typed = typed[1:].strip()
    value, digit, unit = _split(typed)
    unit = _typed_unit(unit, quantity, default_unit)
    factor = si_per_unit(unit, quantity)
    return Reading(text.strip(), relation, _to_si(value, unit, quantity), digit * factor)


def in_unit(value_si: float, unit: str, quantity: Quantity) -> float:
    """Return an SI value expressed in `unit`."""
    if quantity == "temperature" and _unit_spelling(unit, quantity) == "°F":
        return value_si * 9.0 / 5.0 + 32.0
    return value_si / si_per_unit(unit, quantity)


def length_unit(units_shown: str) -> str:
    """The unit of lengths along the ground where "US" or "SI" units are shown."""
    return "ft" if units_shown == "US" else "m"


def length_words(length_m: float, units_shown: str) -> str:
    """A length along the ground, to the foot or metre, in the units that are shown."""
    unit = length_unit(units_shown)
    return f"{in_unit(length_m, unit, 'length'):.0f} {unit}"


def show(value_si: float, unit: str, quantity: Quantity, digits: int = 3) -> str:
    """Return a value for people: `digits` significant digits, then the unit."""
    return f"{plain(in_unit(value_si, unit, quantity), digits)} {unit}".strip()


def of_a_difference(quantity: Quantity) -> Quantity:
    """What a step, an uncertainty or a gap is: half a degree of it is no temperature."""
    return "temperature difference" if quantity == "temperature" else quantity


def plain(value: float, digits: int = 3) -> str:
    """Return a number with about `digits` significant digits and no exponent.

    Never three decimals after a non-zero whole part: that could be read as thousands.
    """
    if value == 0:
        return "0"
    decimals = _decimals(value, digits)
    decimals = _decimals(float(f"{value:.{decimals}f}") or value, digits)  # 0.9996 is 1.00
    if decimals == 3 and abs(value) >= 0.9995:
        decimals = 4
    return f"{value:.{decimals}f}"


def _decimals(value: float, digits: int) -> int:
    return max(0, min(9, digits - 1 - floor(log10(abs(value)))))
