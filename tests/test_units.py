"""Typed text to SI and back, against pint, NIST SP 811 and a table picked by hand."""

from __future__ import annotations

import math
import re
import tomllib
from pathlib import Path
from typing import Any, cast

import pint
import pytest
from hypothesis import example, given
from hypothesis import strategies as st

from commission.units import (
    EVERYDAY,
    SELDOM,
    SI_UNIT,
    Quantity,
    in_unit,
    length_words,
    parse_quantity,
    parse_reading,
    plain,
    show,
    si_per_unit,
)

TABLE = Path(__file__).parent / "data" / "readings.toml"
GROUPS: list[dict[str, Any]] = tomllib.loads(TABLE.read_text("utf-8"))["group"]
QUANTITIES = cast("list[Quantity]", list(EVERYDAY))


def rows(key: str) -> list[Any]:
    """(quantity, unit shown, typed text, what is expected) of every group."""
    return [
        pytest.param(group["quantity"], group["unit"], text, expected, id=f"{text!r}")
        for group in GROUPS
        for text, expected in group.get(key, {}).items()
    ]


def test_table_is_large_enough() -> None:
    assert sum(len(rows(key)) for key in ("value", "digit", "bound", "refused")) >= 200
    assert len(rows("refused")) >= 60


@pytest.mark.parametrize(("quantity", "unit", "text", "si"), rows("value"))
def test_typed_value(quantity: Quantity, unit: str, text: str, si: float) -> None:
    reading = parse_reading(text, quantity, unit)
    assert reading.relation == "="
    # psi has the seven digits that NIST prints; everything else is exact.
    assert reading.value == pytest.approx(si, rel=1e-7 if "psi" in text.lower() else 1e-14)
    assert reading.text == text.strip()


@pytest.mark.parametrize(("quantity", "unit", "text", "si"), rows("digit"))
def test_weight_of_the_last_digit(quantity: Quantity, unit: str, text: str, si: float) -> None:
    assert parse_reading(text, quantity, unit).digit == pytest.approx(si, rel=1e-14)


@pytest.mark.parametrize(("quantity", "unit", "text", "expected"), rows("bound"))
def test_under_and_over_a_bound(
    quantity: Quantity, unit: str, text: str, expected: list[Any]
) -> None:
    reading = parse_reading(text, quantity, unit)
    assert [reading.relation, reading.value] == expected


@pytest.mark.parametrize(("quantity", "unit", "text", "word"), rows("refused"))
def test_refused_with_words(quantity: Quantity, unit: str, text: str, word: str) -> None:
    with pytest.raises(ValueError, match=re.escape(word)):
        parse_reading(text, quantity, unit)


@pytest.mark.parametrize(
    ("quantity", "unit", "text"),
    [(g["quantity"], g["unit"], text) for g in GROUPS for text in g.get("over", [])],
)
def test_over_range_has_no_value(quantity: Quantity, unit: str, text: str) -> None:
    reading = parse_reading(text, quantity, unit)
    assert (reading.relation, reading.value) == ("OL", None)


@pytest.mark.parametrize("quantity", [q for q in QUANTITIES if q not in ("number", "fraction")])
def test_a_file_must_write_the_unit(quantity: Quantity) -> None:
    with pytest.raises(ValueError, match="unit is missing"):
        parse_quantity("12", quantity)


@pytest.mark.parametrize("text", ["OL", "<5 ohm", ">5 ohm", "1,200 ohm", "5 k", "5 m"])
def test_a_file_holds_plain_quantities_only(text: str) -> None:
    with pytest.raises(ValueError, match=r"number|can be read|not a unit"):
        parse_quantity(text, "resistance")


@pytest.mark.parametrize(
    ("text", "clear"),
    [("1,200", "1200 or 1.2"), ("1.250", "1250 or 1.25"), ("3,000", "3000 or 3.0"),
     ("1,205", "1205 or 1.2050")],
)  # fmt: skip
def test_what_can_be_read_in_two_ways_is_proposed_in_two_that_can_not(
    text: str, clear: str
) -> None:
    with pytest.raises(ValueError, match=f"write {clear}$"):
        parse_quantity(f"{text} ohm", "resistance")
    for one in clear.split(" or "):
        parse_quantity(f"{one} ohm", "resistance")


# --- factors against pint's registry (its definitions follow NIST SP 811 and BIPM) ---

PINT_NAMES = {
    "": "dimensionless",
    "%": "percent",
    "ohm m": "ohm*meter",
    "ohm cm": "ohm*centimeter",
    "ohm/1000 ft": "ohm/kilofoot",
    "mohm": "milliohm",
    "kohm": "kiloohm",
    "Mohm": "megaohm",
    "Gohm": "gigaohm",
    "mohm/m": "milliohm/meter",
    "µA": "microampere",
    "in": "inch",
    "VA": "volt*ampere",
    "kVA": "kilovolt*ampere",
    "m²": "meter**2",
    "mm²": "millimeter**2",
    "°C": "delta_degC",
    "°F": "delta_degF",
    "min": "minute",
}
SI_NAMES = {
    "temperature": "kelvin",
    "power": "watt",
    "area": "meter**2",
    "resistivity": "ohm*meter",
    "number": "dimensionless",
    "fraction": "dimensionless",
}


@pytest.fixture(scope="module")
def registry() -> Any:
    return pint.UnitRegistry()


@pytest.mark.parametrize(
    ("quantity", "unit", "factor"), [(q, u, f) for q, us in EVERYDAY.items() for u, f in us.items()]
)
def test_everyday_factor(registry: Any, quantity: str, unit: str, factor: float) -> None:
    si = SI_NAMES.get(quantity, SI_UNIT[quantity])
    by_pint = registry.Quantity(1.0, PINT_NAMES.get(unit, unit)).to(si).magnitude
    assert factor == pytest.approx(by_pint, rel=1e-14)


# NIST SP 811, appendix B.8 and B.9, as printed there (from memory); circular mil: π/4 mil².
NIST = {
    "µohm": 1e-6,
    "µV": 1e-6,
    "nA": 1e-9,
    "kA": 1e3,
    "yd": 0.9144,
    "mil": 2.54e-5,
    "mi": 1609.344,
    "dm": 0.1,
    "ohm mm²/m": 1e-6,
    "ohm ft": 0.3048,
    "mohm/ft": 1e-3 / 0.3048,
    "ohm/mi": 1 / 1609.344,
    "MPa": 1e6,
    "mbar": 100.0,
    "inHg": 3386.389,
    "h": 3600.0,
    "in²": 6.4516e-4,
    "cmil": 5.067075e-10,
    "kcmil": 5.067075e-7,
}


@pytest.mark.parametrize(("quantity", "unit"), [(q, u) for q, us in SELDOM.items() for u in us])
def test_seldom_factor(quantity: Quantity, unit: str) -> None:
    assert si_per_unit(unit, quantity) == pytest.approx(NIST[unit], rel=2e-6)


def test_every_unit_has_one_meaning() -> None:
    for quantity, units in SELDOM.items():
        assert not set(units) & set(EVERYDAY[quantity])


@pytest.mark.parametrize(
    ("celsius", "fahrenheit"), [(0, 32), (100, 212), (-40, -40), (15, 59), (37, 98.6)]
)
def test_temperature_scales(celsius: float, fahrenheit: float) -> None:
    # Definition of the Fahrenheit scale, NIST SP 811 appendix B.
    assert parse_quantity(f"{fahrenheit} °F", "temperature") == pytest.approx(celsius, abs=1e-12)
    for unit in ("°F", "F", "degF"):
        assert in_unit(celsius, unit, "temperature") == pytest.approx(fahrenheit)


# --- what is shown can be typed ---

UNITS = [(quantity, unit) for quantity in QUANTITIES for unit in EVERYDAY[quantity]]


@given(st.sampled_from(UNITS), st.floats(-9e9, 9e9), st.integers(2, 7))
@example(("resistance", "ohm"), 0.9996, 3)
@example(("voltage", "V"), 27.6543, 5)
@example(("current", "A"), -1.0004, 4)
def test_shown_value_reads_back(
    quantity_unit: tuple[Quantity, str], value: float, digits: int
) -> None:
    quantity, unit = quantity_unit
    si = value * si_per_unit(unit, quantity)
    back = parse_reading(show(si, unit, quantity, digits), quantity, unit).value
    assert back is not None
    allowed = max(0.5 * 10.0 ** (1 - digits) * abs(value), 0.5e-9) * 1.0001
    shown, meant = in_unit(back, unit, quantity), in_unit(si, unit, quantity)
    if unit == "°F" and quantity == "temperature":
        allowed = max(allowed, 0.5 * 10.0 ** (1 - digits) * abs(meant) * 1.0001)
    assert shown == pytest.approx(meant, rel=1e-12, abs=allowed)


@given(st.floats(1e-9, 1e12), st.sampled_from([".", ","]), st.integers(4, 9))
def test_written_digits_are_kept(value: float, mark: str, places: int) -> None:
    text = f"{value:.{places}f}"
    if len(text.partition(".")[0]) <= 15:
        assert parse_reading(text.replace(".", mark), "resistance", "ohm").value == float(text)


@given(st.integers(1, 999_999), st.integers(0, 999), st.sampled_from([".", ","]))
def test_three_digits_after_one_mark_are_never_guessed(whole: int, part: int, mark: str) -> None:
    with pytest.raises(ValueError, match="can be read as"):
        parse_reading(f"{whole}{mark}{part:03}", "resistance", "ohm")


TYPED = st.one_of(
    st.text(max_size=80),
    st.text("0123456789.,+-eE<>OLkKMGmµuohmΩVA%°CF/* '\"²\u00a0", max_size=40),
    st.text("0123456789.,", max_size=70),
)
GRAMMAR = re.compile(
    r"[<>]? *[+\-\u2212]?([0-9]{1,15}([.,][0-9]{1,15})?|[.,][0-9]{1,15})([eE][+-]?[0-9]{1,2})?"
    r"[^0-9].*|[<>]? *[+\-\u2212]?[0-9]*[.,]?[0-9]+([eE][+-]?[0-9]{1,2})?"
)


@given(TYPED, st.sampled_from(UNITS))
@example("9**9**9 ohm", ("resistance", "ohm"))
@example("1" * 100_000, ("number", ""))
@example(" " * 100_000, ("length", "m"))
def test_any_text_is_a_reading_or_refused(text: str, quantity_unit: tuple[Quantity, str]) -> None:
    quantity, unit = quantity_unit
    try:
        reading = parse_reading(text, quantity, unit)
    except ValueError as error:
        refusal = str(error)
        reading = None
    if reading is None:
        assert refusal.isprintable()
        assert len(refusal) < 300
        return
    if reading.relation == "OL":
        assert reading.value is None
        assert re.match(r"\.?[O0]\.?L", reading.text, re.IGNORECASE)
        return
    assert reading.value is not None
    assert math.isfinite(reading.value)
    assert reading.digit > 0
    typed = reading.text.strip("\u00a0\u202f\u2009\u00b7 ")
    assert GRAMMAR.fullmatch(typed), "read something that the grammar does not describe"


@given(TYPED, st.sampled_from(QUANTITIES))
def test_any_file_text_is_a_quantity_or_refused(text: str, quantity: Quantity) -> None:
    try:
        value = parse_quantity(text, quantity)
    except ValueError:
        return
    assert math.isfinite(value)


# --- numbers for people, expectations written by hand ---


@pytest.mark.parametrize(
    ("value", "digits", "text"),
    [
        (11.6, 3, "11.6"),
        (0, 3, "0"),
        (-0.0, 3, "0"),
        (1234.5678, 3, "1235"),
        (0.123456, 3, "0.123"),
        (0.9996, 3, "1.00"),
        (9.996, 3, "10.0"),
        (99.96, 3, "100"),
        (1.23456, 4, "1.2346"),
        (12.3456, 5, "12.3456"),
        (-5.25, 2, "-5.2"),
        (500_000.0, 3, "500000"),
    ],
)
def test_plain(value: float, digits: int, text: str) -> None:
    assert plain(value, digits) == text


def test_lengths_along_the_ground_in_the_units_that_are_shown() -> None:
    """A foot is 0.3048 m exactly (NIST SP 811, B.8)."""
    assert length_words(30.48, "US") == "100 ft"
    assert length_words(30.48, "SI") == "30 m"


def test_show_puts_the_unit_behind() -> None:
    assert show(0.37, "mA", "current") == "370 mA"
    assert show(54.864, "ft", "length") == "180 ft"
    assert show(0.5, "", "number", 1) == "0.5"
