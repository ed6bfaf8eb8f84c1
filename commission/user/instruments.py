"""Instruments, entered once and remembered for this user: `instruments.toml`.

The accuracy is given per quantity and range as the data sheet prints it: ±(percent of reading +
counts x resolution). For voltage and current the a.c. ranges count, for nothing else is read live.
"""

from __future__ import annotations

from dataclasses import asdict, dataclass
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING

from commission.electrical.instruments import Accuracy
from commission.units import Quantity, of_a_difference, parse_quantity
from commission.user.folder import config_folder

if TYPE_CHECKING:
    from commission.user.file_shapes import InstrumentRow

KIND = "commission instruments"
FORMAT = 1
FILE = "instruments.toml"
_SLACK = 1 + 1e-9  # "200 ohm" holds a reading of 200 ohm, however either was rounded


@dataclass(frozen=True, slots=True)
class Range:
    """One range of an instrument: what it measures, up to where, and how well.

    `up_to`, `resolution` (one count) and `offset` (what is left after nulling the leads) are
    texts with their unit, as on the data sheet.
    """

    quantity: Quantity
    up_to: str
    percent: float
    counts: float
    resolution: str
    offset: str = ""

    @property
    def up_to_si(self) -> float:
        """The largest reading of the range, SI."""
        return parse_quantity(self.up_to, self.quantity)

    @property
    def accuracy(self) -> Accuracy:
        """The accuracy in SI."""
        steps = of_a_difference(self.quantity)
        return Accuracy(
            percent_of_reading=self.percent,
            counts=self.counts,
            resolution=parse_quantity(self.resolution, steps),
            offset_half_width=parse_quantity(self.offset, steps) if self.offset else 0.0,
        )


@dataclass(frozen=True, slots=True)
class Instrument:
    """A meter as its label and data sheet describe it."""

    id: str
    make: str
    serial: str = ""
    calibration_due: date | None = None
    true_rms: bool = False
    burden: str = ""  # what it adds in line, for example "0.2 ohm"
    note: str = ""
    accuracy: tuple[Range, ...] = ()

    @property
    def in_words(self) -> str:
        """Which meter it is, by its label."""
        due = f"calibration due {self.calibration_due}" if self.calibration_due else ""
        serial = f"serial {self.serial}" if self.serial else ""
        return ", ".join(part for part in (self.id, self.make, serial, due) if part)

    def accuracy_for(self, quantity: str, value_si: float) -> Accuracy | None:
        """Accuracy of the smallest range that holds a value (SI); None where nothing is stated."""
        held = [
            (one.up_to_si, one)
            for one in self.accuracy
            if one.quantity == quantity and abs(value_si) <= one.up_to_si * _SLACK
        ]
        return min(held, key=lambda pair: pair[0])[1].accuracy if held else None

    def is_expired(self, on: date) -> bool:
        """Whether its calibration was due before a day; an unknown date is not expired."""
        return self.calibration_due is not None and self.calibration_due < on


DEMO = Instrument(
    id="demo",
    make="invented meter for practice",
    serial="none, it does not exist",
    true_rms=True,
    burden="0.1 ohm",
    note="Invented: no real instrument has these figures. Never name it on a real job.",
    accuracy=(
        Range("resistance", "40 ohm", 0.5, 2, "0.01 ohm", "0.05 ohm"),
        Range("resistance", "4 kohm", 0.5, 2, "1 ohm"),
        Range("resistance", "40 Mohm", 1.5, 3, "10 kohm"),
        Range("resistance", "1 Gohm", 5, 5, "1 Mohm"),
        Range("voltage", "40 V", 1, 3, "0.01 V"),
        Range("voltage", "400 V", 1, 3, "0.1 V"),
        Range("current", "40 mA", 1.5, 3, "0.01 mA"),
        Range("current", "4 A", 1.5, 3, "1 mA"),
        Range("temperature", "60 °C", 0, 1, "0.5 °C"),
    ),
)
"""An instrument to practise with. It is invented."""


def instruments_file() -> Path:
    """Where instruments are remembered."""
    return config_folder() / FILE


def load_instruments() -> tuple[Instrument, ...]:
    """Every instrument remembered, in the order of the file; raises InputRefused."""
    from commission.user import tables
    from commission.user.file_shapes import InstrumentsFile

    found = tables.read(instruments_file(), InstrumentsFile, KIND, FORMAT)
    return tuple(_value(row) for row in found.instrument) if found else ()


def remember_instrument(instrument: Instrument) -> None:
    """Add an instrument, or replace the one of the same id.

    Raises InputRefused for what cannot be kept, CouldNotWrite when the disk refuses.
    """
    from commission.user import tables
    from commission.user.file_shapes import InstrumentRow, InstrumentsFile

    new = tables.check(instruments_file(), InstrumentRow, asdict(instrument))
    known = [asdict(one) for one in load_instruments()]
    kept = tables.replaced(known, new.model_dump(), "id")
    whole = {"kind": KIND, "format": FORMAT, "instrument": kept}
    tables.write(instruments_file(), InstrumentsFile, whole)


def _value(row: InstrumentRow) -> Instrument:
    table = row.model_dump()
    ranges = tuple(Range(**one) for one in table.pop("accuracy"))
    return Instrument(**table, accuracy=ranges)
