"""The shapes of the user's own files, checked by pydantic; loaded only when one is read."""

from __future__ import annotations

import os
from datetime import date, datetime
from typing import Annotated, Literal

# pydantic looks for plugins in every installed package; we have none, and it takes 40 ms.
os.environ.setdefault("PYDANTIC_DISABLE_PLUGINS", "__all__")

from pydantic import AfterValidator, BaseModel, ConfigDict, Field, model_validator

from commission.text import clean
from commission.units import Quantity, of_a_difference, parse_quantity

Text = Annotated[str, AfterValidator(clean)]


class Table(BaseModel):
    """A table of a file: no unknown keys, no guessing of types, never changed after loading."""

    model_config = ConfigDict(extra="forbid", strict=True, frozen=True, allow_inf_nan=False)


class PersonRow(Table):
    name: Annotated[Text, Field(min_length=1, max_length=60)]
    role: Text = ""
    company: Text = ""
    licence: Text = ""


class PeopleFile(Table):
    kind: Literal["commission people"]
    format: Literal[1]
    person: tuple[PersonRow, ...] = Field((), strict=False)


def _check_id(text: str) -> str:
    if not all(
        character.isascii() and (character.isalnum() or character in "._-") for character in text
    ):
        raise ValueError("an id has 1 to 16 of A-Z a-z 0-9 . _ -")
    return text


class RangeRow(Table):
    quantity: Quantity
    up_to: Text
    percent: Annotated[float, Field(ge=0, le=100)]
    counts: Annotated[float, Field(ge=0, le=10_000)]
    resolution: Text
    offset: Text = ""

    @model_validator(mode="after")
    def _texts_are_quantities(self) -> RangeRow:
        for key in ("up_to", "resolution", "offset"):
            text = getattr(self, key)
            if not text and key == "offset":
                continue
            quantity = self.quantity if key == "up_to" else of_a_difference(self.quantity)
            value = parse_quantity(text, quantity)
            if value < 0 or (key == "up_to" and value == 0):
                raise ValueError(f"{key} '{text}' is below what is possible")
        return self


class InstrumentRow(Table):
    id: Annotated[str, Field(min_length=1, max_length=16), AfterValidator(_check_id)]
    make: Annotated[Text, Field(min_length=1, max_length=60)]
    serial: Text = ""
    calibration_due: date | None = None
    true_rms: bool = False
    burden: Text = ""
    note: Text = ""
    accuracy: tuple[RangeRow, ...] = Field((), strict=False)


class RecentRow(Table):
    folder: Text
    opened_at: datetime


class RecentFile(Table):
    kind: Literal["commission recent jobs"]
    format: Literal[1]
    job: tuple[RecentRow, ...] = Field((), strict=False)


class AtWorkFile(Table):
    kind: Literal["commission people at work"]
    format: Literal[1]
    entered_by: Text = ""
    observed_by: Text = ""
    instrument: Text = ""


class InstrumentsFile(Table):
    kind: Literal["commission instruments"]
    format: Literal[1]
    instrument: tuple[InstrumentRow, ...] = Field((), strict=False)

    @model_validator(mode="after")
    def _ids_are_unique(self) -> InstrumentsFile:
        seen: set[str] = set()
        for one in self.instrument:
            if one.id.lower() in seen:
                raise ValueError(f"two instruments have the id '{one.id}'")
            seen.add(one.id.lower())
        return self


class SignerRow(Table):
    name: Annotated[Text, Field(min_length=1, max_length=200)]
    public_key: Text
    fingerprint: Text
    since: datetime
    note: Text = ""


class SignersFile(Table):
    kind: Literal["commission known signers"]
    format: Literal[1]
    signer: tuple[SignerRow, ...] = Field((), strict=False)


class SeenVersionRow(Table):
    signoffs: Annotated[int, Field(ge=1)]
    bytes: Annotated[int, Field(ge=1)]
    sha256: Annotated[str, Field(pattern="^[0-9a-f]{64}$")]


class SeenRow(Table):
    report: Annotated[Text, Field(min_length=1)]
    seen_at: datetime
    version: Annotated[tuple[SeenVersionRow, ...], Field(strict=False, min_length=1)]


class SeenFile(Table):
    kind: Literal["commission seen reports"]
    format: Literal[1]
    seen: tuple[SeenRow, ...] = Field((), strict=False)
