"""Typed readings against a reader of our own: the same value and unit, or refused in words.

The other reader knows the grammar from the README's words, counts in exact decimals and asks pint,
a general library for units, what a unit is worth. Both refusing is fine; the program may refuse
more; but what it takes must be what the other reader finds.
"""

from __future__ import annotations

import random
import re
from decimal import Decimal
from functools import cache

import pint

from commission.units import EVERYDAY, SELDOM, Quantity, parse_reading
from tests.campaign.rows import Row, timed
from tests.test_units import GROUPS

CLOSE = Decimal("1e-6")  # psi and inHg are known to seven digits
# A unit as written -> the name that pint knows; every other is written alike.
PINT = {
    "ohm": "ohm", "mohm": "milliohm", "kohm": "kiloohm", "Mohm": "megaohm", "Gohm": "gigaohm",
    "ohm m": "ohm*m", "ohm cm": "ohm*cm", "ohm/m": "ohm/m", "ohm/km": "ohm/km",
    "mohm/m": "milliohm/m", "ohm/1000 ft": "ohm/(1000*foot)", "ohm/ft": "ohm/foot",
    "°C": "kelvin", "°F": "rankine", "K": "kelvin", "in": "inch", "ft": "foot", "%": "1 percent",
    "": "1 dimensionless", "m²": "m**2", "mm²": "mm**2", "µA": "microampere", "VA": "volt*ampere",
    "W": "watt", "kVA": "kilovolt*ampere",
}  # fmt: skip
SI = {
    "resistance": "ohm", "voltage": "volt", "current": "ampere", "length": "m",
    "resistivity": "ohm*m", "resistance per length": "ohm/m", "temperature": "kelvin",
    "temperature difference": "kelvin", "power": "watt", "frequency": "hertz", "time": "s",
    "pressure": "pascal", "fraction": "dimensionless", "area": "m**2", "number": "dimensionless",
}  # fmt: skip
UNITS: list[tuple[Quantity, str]] = [
    (quantity, unit)  # type: ignore[misc]
    for quantity in EVERYDAY
    for unit in (*EVERYDAY[quantity], *SELDOM.get(quantity, {}))
]
OHMS = ("ohm", "Ohm", "OHM", "ohms", "Ω", "\u2126")
SHORT = {"k": "kilo", "K": "kilo", "M": "mega", "G": "giga", "m": "milli", "µ": "micro"}
NUMBER = re.compile(r"([+-]?)([0-9]*)(?:[.,]([0-9]+))?(?:[eE]([+-]?[0-9]{1,2}))?(?![0-9.,])(.*)")
NOISE = "0123456789.,+-eE<>OLolkKMGmµuohmΩVA%°CF/* '\"²\u00a0()_٣\u2212"


@cache
def registry() -> pint.UnitRegistry[float]:
    """pint's own units."""
    return pint.UnitRegistry()


@cache
def worth(name: str, quantity: str) -> Decimal:
    """SI per unit, by pint."""
    found = float(registry().Quantity(name).to(SI[quantity]).magnitude)
    return Decimal(repr(found))


def typed_unit(rng: random.Random, unit: str, quantity: str) -> tuple[str, str]:
    """A unit as somebody types it, and pint's name of it."""
    name = SELDOM.get(quantity, {}).get(unit) or PINT.get(unit, unit)
    if quantity == "resistance" and unit.endswith("ohm"):
        prefix = unit.removesuffix("ohm")
        written = prefix.replace("µ", rng.choice("µ\u00b5\u03bc")) + rng.choice(OHMS)
        if prefix in ("k", "M", "G") and rng.random() < 0.3:
            written = prefix
        return written, name
    return unit.replace("µ", rng.choice("µ\u00b5\u03bc")), name


def meant(rng: random.Random) -> tuple[str, Quantity, str, Decimal | None]:
    """A reading as it may be typed, its quantity and default unit, and what it must mean in SI.

    None where three digits after one mark must be refused: they may be thousands.
    """
    quantity, default = rng.choice(UNITS)
    unit = rng.choice((default, "", *(u for q, u in UNITS if q == quantity)))
    written, name = typed_unit(rng, unit, quantity) if unit else ("", PINT.get(default, ""))
    if not unit:
        name = SELDOM.get(quantity, {}).get(default) or PINT.get(default, default)
        unit = default
    whole, places = str(rng.randrange(10 ** rng.randint(0, 6))), rng.choice((0, 0, 1, 2, 2, 3, 4))
    part = f"{rng.randrange(10**places):0{places}}" if places else ""
    sign, mark = rng.choice(("", "", "", "-", "\u2212", "+")), rng.choice(".,")
    number = whole + (mark + part if part else "")
    gap = rng.choice(("", " ", "\u00a0", "\u202f", "  ")) if written else ""
    text = rng.choice(("", " ")) + sign + number + gap + written + rng.choice(("", " "))
    if len(part) == 3 and whole.lstrip("0"):
        return text, quantity, default, None
    value = Decimal(f"{whole}.{part or 0}") * (-1 if sign in ("-", "\u2212") else 1)
    return text, quantity, default, si(value, unit, name, quantity)


def si(value: Decimal, unit: str, name: str, quantity: str) -> Decimal:
    """A value in SI; degrees on a scale are degrees Celsius."""
    if quantity == "temperature":
        return (value - 32) * 5 / 9 if unit == "°F" else value
    return value * worth(name, quantity)


def run(count: int, seed: int) -> list[Row]:
    """So many readings with a meaning, as many of mere noise, and the table of hand-picked ones."""
    rng = random.Random(seed)
    sense = Row("input", "readings with a meaning: value and unit right, or refused", seed)
    noise = Row("input", "readings of noise: refused, or no number but the one typed", seed)
    picked = Row("input", "readings picked by hand (tests/data/readings.toml)", seed)
    taken = 0
    with timed(sense):
        for _ in range(count // 2):
            taken += _sensible(rng, sense)
    with timed(noise):
        for _ in range(count - count // 2):
            _noisy(rng, noise)
    for group in GROUPS:
        for text, value in group.get("value", {}).items():
            _compare(picked, text, group["quantity"], group["unit"], Decimal(repr(value)))
        for text in group.get("refused", {}):
            _compare(picked, text, group["quantity"], group["unit"], None)
    if taken < sense.times * 0.8:
        sense.escape(f"only {taken} of {sense.times} were taken")
    sense.measured = f"{100 * taken / max(1, sense.times):.0f} % taken"
    return [sense, noise, picked]


def _sensible(rng: random.Random, row: Row) -> bool:
    text, quantity, default, wanted = meant(rng)
    return _compare(row, text, quantity, default, wanted)


def _compare(row: Row, text: str, quantity: Quantity, default: str, wanted: Decimal | None) -> bool:
    """Whether the program takes a reading; what it takes must be what was meant."""
    row.times += 1
    try:
        found = parse_reading(text, quantity, default)
    except ValueError as error:
        if not str(error) or not str(error).isprintable():
            row.escape(f"{text!r} is refused with {str(error)!r}")
        return False
    if found.value is None or wanted is None:
        row.escape(f"{text!r} as {quantity} is read as {found}, not {wanted}")
    elif abs(Decimal(repr(found.value)) - wanted) > CLOSE * max(abs(wanted), Decimal(1) / 1000):
        row.escape(f"{text!r} as {quantity} is {found.value}, not {wanted}")
    return True


def _noisy(rng: random.Random, row: Row) -> None:
    """Noise, or a sensible reading spoilt: its digits, read from the left, are the value."""
    row.times += 1
    text, quantity, default, _ = meant(rng)
    for _ in range(rng.randint(1, 4)):
        place = rng.randrange(len(text) + 1)
        text = text[:place] + rng.choice(NOISE) + text[place + rng.randrange(2) :]
    if rng.random() < 0.3:
        text = "".join(rng.choices(NOISE, k=rng.randint(1, 12)))
    try:
        found = parse_reading(text, quantity, default)
    except ValueError as error:
        if not str(error) or not str(error).isprintable():
            row.escape(f"{text!r} is refused with {str(error)!r}")
        return
    except Exception as error:
        row.escape(f"{text!r}: {type(error).__name__}")
        return
    if found.value is not None and not _as_typed(text, quantity, default, found.value):
        row.escape(f"{text!r} as {quantity}, {default!r} shown, is {found.value}")


def _as_typed(text: str, quantity: Quantity, default: str, value: float) -> bool:
    """Whether a value is the number that stands at the beginning of a text, in some known unit."""
    plain = re.sub(r"[\u00a0\u202f]", " ", text).replace("\u2212", "-").strip()
    plain = plain.lstrip("<>").strip()
    found = NUMBER.fullmatch(plain)
    if found is None:
        return False
    sign, whole, part, exponent, tail = found.groups()
    if len(part or "") == 3 and whole.lstrip("0"):
        return False
    number = Decimal(f"{whole or 0}.{part or 0}") * Decimal(10) ** int(exponent or 0)
    number = -number if sign == "-" else number
    units = {unit for q, unit in UNITS if q == quantity} if tail.strip() else {default}
    for unit in units:
        name = SELDOM.get(quantity, {}).get(unit) or PINT.get(unit, unit)
        wanted = si(number, unit, name, quantity)
        if abs(Decimal(repr(value)) - wanted) <= CLOSE * max(abs(wanted), Decimal("1e-30")):
            return True
    return False
