"""Typed readings against a reader of our own: the same value and unit, or refused in words.

What must be the same is all that a reading says: the value in SI, the weight of its last digit, and
whether it is a value, a bound, or over-range. The other reader knows the grammar from the README's
words, counts in exact decimals and asks pint, a general library for units, what a unit is worth.
Both refusing is fine; the program may refuse more; but what it takes must be what the other finds.
"""

from __future__ import annotations

import random
import re
from collections.abc import Iterator
from dataclasses import dataclass
from decimal import Decimal
from functools import cache
from typing import Any

import pint

from commission.units import EVERYDAY, SELDOM, Quantity, Reading, parse_reading
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
OVER = ("OL", "ol", "O.L", "0L", "0.L", "OL.", "O.L.", ".OL")
NOISE = "0123456789.,+-eE<>OLolkKMGmµuohmΩVA%°CF/* '\"²\u00a0()_٣\u2212"


@dataclass(frozen=True, slots=True)
class Meant:
    """What a reading must say; what is None is not compared, but `value` of what is over-range."""

    relation: str
    value: Decimal | None = None
    digit: Decimal | None = None


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


def meant(rng: random.Random) -> tuple[str, Quantity, str, Meant | None]:
    """A reading as it may be typed, its quantity and default unit, and what it must mean.

    None where three digits after one mark must be refused: they may be thousands.
    """
    quantity, default = rng.choice(UNITS)
    unit = rng.choice((default, "", *(u for q, u in UNITS if q == quantity)))
    written, name = typed_unit(rng, unit, quantity) if unit else ("", PINT.get(default, ""))
    if not unit:
        name = SELDOM.get(quantity, {}).get(default) or PINT.get(default, default)
        unit = default
    if rng.random() < 0.05:
        return f"{rng.choice(OVER)} {written}", quantity, default, Meant("OL")
    whole, places = str(rng.randrange(10 ** rng.randint(0, 6))), rng.choice((0, 0, 1, 2, 2, 3, 4))
    part = f"{rng.randrange(10**places):0{places}}" if places else ""
    sign, mark = rng.choice(("", "", "", "-", "\u2212", "+")), rng.choice(".,")
    number = whole + (mark + part if part else "")
    relation = rng.choice(("", "", "", "", "<", ">"))
    before = rng.choice(("", " ")) + relation + rng.choice(("", " ")) * bool(relation)
    gap = rng.choice(("", " ", "\u00a0", "\u202f", "  ")) if written else ""
    text = before + sign + number + gap + written + rng.choice(("", " "))
    if len(part) == 3 and whole.lstrip("0"):
        return text, quantity, default, None
    value = Decimal(f"{whole}.{part or 0}") * (-1 if sign in ("-", "\u2212") else 1)
    digit = si(Decimal(10) ** -places, unit, name, quantity) - si(Decimal(0), unit, name, quantity)
    wanted = Meant(relation or "=", si(value, unit, name, quantity), digit)
    return text, quantity, default, wanted


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
        for text, wanted in _picked(group):
            _compare(picked, text, group["quantity"], group["unit"], wanted)
    if taken < sense.times * 0.8:
        sense.escape(f"only {taken} of {sense.times} were taken")
    sense.measured = f"{100 * taken / max(1, sense.times):.0f} % taken"
    return [sense, noise, picked]


def _picked(group: dict[str, Any]) -> Iterator[tuple[str, Meant | None]]:
    """The texts of a group of the table, with what each must mean."""
    for text, value in group.get("value", {}).items():
        yield text, Meant("=", Decimal(repr(value)))
    for text, digit in group.get("digit", {}).items():
        yield text, Meant("=", digit=Decimal(repr(digit)))
    for text, (relation, value) in group.get("bound", {}).items():
        yield text, Meant(relation, Decimal(repr(value)))
    for text in group.get("over", []):
        yield text, Meant("OL")
    for text in group.get("refused", {}):
        yield text, None


def _sensible(rng: random.Random, row: Row) -> bool:
    text, quantity, default, wanted = meant(rng)
    return _compare(row, text, quantity, default, wanted)


def _compare(row: Row, text: str, quantity: Quantity, default: str, wanted: Meant | None) -> bool:
    """Whether the program takes a reading; what it takes must be what was meant."""
    row.times += 1
    try:
        found = parse_reading(text, quantity, default)
    except ValueError as error:
        if not str(error) or not str(error).isprintable():
            row.escape(f"{text!r} is refused with {str(error)!r}")
        return False
    if wanted is None or found.relation != wanted.relation:
        row.escape(f"{text!r} as {quantity} is read as {found}, not {wanted}")
    elif wanted.relation == "OL":
        if found.value is not None:
            row.escape(f"{text!r} as {quantity} is over-range, and {found.value}")
    elif not (_close(found.value, wanted.value) and _close(found.digit, wanted.digit)):
        row.escape(f"{text!r} as {quantity} is {found}, not {wanted}")
    return True


def _close(found: float | None, wanted: Decimal | None) -> bool:
    """Whether a number is the one that was meant; any is, where none is told."""
    if found is None or wanted is None:
        return found is not None
    return abs(Decimal(repr(found)) - wanted) <= CLOSE * max(abs(wanted), Decimal("1e-9"))


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
    if not _as_typed(text, quantity, default, found):
        row.escape(f"{text!r} as {quantity}, {default!r} shown, is {found}")


def _as_typed(text: str, quantity: Quantity, default: str, reading: Reading) -> bool:
    """Whether a reading is the number that stands at the beginning of a text, in a known unit."""
    plain = re.sub(r"[\u00a0\u202f]", " ", text).replace("\u2212", "-").strip()
    if reading.value is None:
        return reading.relation == "OL" and plain.replace(".", "")[:2].upper() in ("OL", "0L")
    if reading.relation != (plain[0] if plain[0] in "<>" else "="):
        return False
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
        if abs(Decimal(repr(reading.value)) - wanted) <= CLOSE * max(abs(wanted), Decimal("1e-30")):
            return True
    return False
