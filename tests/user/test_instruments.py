"""Instruments: which accuracy holds for which reading, worked out by hand."""

from __future__ import annotations

from datetime import date

import pytest

from commission.electrical.instruments import Accuracy
from commission.problems import InputRefused
from commission.units import Quantity
from commission.user import accuracy_text
from commission.user.instruments import (
    DEMO,
    Instrument,
    Range,
    instruments_file,
    load_instruments,
    remember_instrument,
)

LOW = Range("resistance", "200 ohm", 0.8, 3, "0.1 ohm", "0.2 ohm")
HIGH = Range("resistance", "2 kohm", 0.8, 1, "1 ohm")
VOLTS = Range("voltage", "60 V", 1.0, 3, "10 mV")
METER = Instrument("m-1", "invented", "S 1", date(2026, 3, 31), True, accuracy=(HIGH, LOW, VOLTS))
LOW_SI = Accuracy(0.8, 3, 0.1, 0.2)
HIGH_SI = Accuracy(0.8, 1, 1.0, 0.0)


@pytest.mark.parametrize(
    ("quantity", "value", "expected"),
    [
        ("resistance", 0.0, LOW_SI),
        ("resistance", 11.6, LOW_SI),
        ("resistance", -11.6, LOW_SI),
        ("resistance", 200.0, LOW_SI),
        ("resistance", 200.1, HIGH_SI),
        ("resistance", 2000.0, HIGH_SI),
        ("resistance", 2001.0, None),
        ("voltage", 27.6, Accuracy(1.0, 3, 0.01, 0.0)),
        ("current", 0.1, None),
    ],
)
def test_smallest_range_that_holds_the_reading(
    quantity: str, value: float, expected: Accuracy | None
) -> None:
    assert METER.accuracy_for(quantity, value) == expected


@pytest.mark.parametrize(
    ("due", "on", "expired"),
    [
        (date(2026, 3, 31), date(2026, 3, 31), False),
        (date(2026, 3, 31), date(2026, 4, 1), True),
        (None, date(2026, 4, 1), False),
    ],
)
def test_expired_from_the_day_after(due: date | None, on: date, expired: bool) -> None:
    assert Instrument("a", "invented", calibration_due=due).is_expired(on) is expired


def test_remembered_whole_and_replaced_by_id() -> None:
    assert load_instruments() == ()
    remember_instrument(METER)
    remember_instrument(DEMO)
    changed = Instrument("m-1", "invented", "S 2", accuracy=(LOW,))
    remember_instrument(changed)
    assert load_instruments() == (changed, DEMO)
    text = instruments_file().read_text("utf-8")
    assert text.startswith('kind = "commission instruments"\nformat = 1\n')


@pytest.mark.parametrize(
    ("instrument", "word"),
    [
        (Instrument("", "invented"), "id"),
        (Instrument("a b", "invented"), "an id has"),
        (Instrument("x" * 17, "invented"), "id"),
        (Instrument("a", ""), "make"),
        (Instrument("a", "\x9b"), "U\\+009B"),
        (
            Instrument("a", "b", accuracy=(Range("resistance", "200 V", 1, 1, "1 ohm"),)),
            "not a unit of resistance",
        ),
        (
            Instrument("a", "b", accuracy=(Range("resistance", "1,200 ohm", 1, 1, "1 ohm"),)),
            "can be read as",
        ),
        (
            Instrument("a", "b", accuracy=(Range("voltage", "0 V", 1, 1, "1 V"),)),
            "below what is possible",
        ),
        (Instrument("a", "b", accuracy=(Range("voltage", "9 V", -1, 1, "1 V"),)), "percent"),
        (
            Instrument("a", "b", accuracy=(Range("voltage", "9 V", float("nan"), 1, "1 V"),)),
            "percent",
        ),
    ],
)
def test_what_cannot_be_kept_is_refused(instrument: Instrument, word: str) -> None:
    with pytest.raises(InputRefused, match=word):
        remember_instrument(instrument)
    assert load_instruments() == ()


def test_two_of_one_id_in_a_file_are_refused() -> None:
    remember_instrument(METER)
    again = '[[instrument]]\nid = "M-1"\nmake = "invented"\n'
    instruments_file().write_text(instruments_file().read_text("utf-8") + again, "utf-8")
    with pytest.raises(InputRefused, match="M-1"):
        load_instruments()


def test_the_practice_instrument_says_that_it_is_invented() -> None:
    assert "invented" in DEMO.make
    assert "Invented" in DEMO.note
    for one in DEMO.accuracy:
        assert one.accuracy.resolution < one.up_to_si


@pytest.mark.parametrize(
    ("text", "quantity", "expected"),
    [
        ("", "resistance", ()),
        (
            "to 40 ohm: 0.5 % + 2 x 0.01 ohm",
            "resistance",
            (Range("resistance", "40 ohm", 0.5, 2, "0.01 ohm"),),
        ),
        (
            "to 40 V: 0,5% + 2 x 0,01 V; to 400 V: 1 % + 3 x 0.1 V",
            "voltage",
            (
                Range("voltage", "40 V", 0.5, 2, "0,01 V"),
                Range("voltage", "400 V", 1, 3, "0.1 V"),
            ),
        ),
    ],
)
def test_accuracy_on_one_line(text: str, quantity: Quantity, expected: tuple[Range, ...]) -> None:
    found = accuracy_text.ranges(text, quantity)
    assert found == expected
    assert accuracy_text.ranges(accuracy_text.text_of(found, quantity), quantity) == expected


@pytest.mark.parametrize(
    ("text", "word"),
    [
        ("0.5 % + 2", "write the accuracy like"),
        ("to 40 V: 0.5 % + 2 x 0.01 ohm", "not a unit of resistance"),
        ("to 40 ohm: 0.500.1 % + 2 x 0.01 ohm", "one number"),
        ("to 40 ohm: 1 % + 2 x 0.01 V", "not a unit of resistance"),
    ],
)
def test_accuracy_line_refused_with_words(text: str, word: str) -> None:
    with pytest.raises(ValueError, match=word):
        accuracy_text.ranges(text, "resistance")


def test_an_accuracy_line_is_read_back_whole() -> None:
    quantities: tuple[Quantity, ...] = ("resistance", "voltage", "current")
    for quantity in quantities:
        line = accuracy_text.text_of(DEMO.accuracy, quantity)
        found = accuracy_text.ranges(line, quantity)
        assert found == tuple(one for one in DEMO.accuracy if one.quantity == quantity)
    (comma,) = accuracy_text.ranges(
        "to 40 ohm: 0,5 % + 2 x 0,01 ohm, offset 0,05 ohm", "resistance"
    )
    assert comma.accuracy == Accuracy(0.5, 2, 0.01, 0.05)
