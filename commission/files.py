"""What every file of ours has in common: strict tables, plain text, a kind and a format."""

from __future__ import annotations

import os
from typing import Annotated

# pydantic looks for plugins in every installed package at import; we have none, and it takes 40 ms.
os.environ.setdefault("PYDANTIC_DISABLE_PLUGINS", "__all__")

from pydantic import AfterValidator, BaseModel, ConfigDict

from commission.text import MAX_TEXT, clean

MAX_FILE_BYTES = 8_000_000
MAX_LINE_CHARACTERS = 4_000

Text = Annotated[str, AfterValidator(clean)]


class Table(BaseModel):
    """A table of a file: no unknown keys, no guessing of types, never changed after loading."""

    model_config = ConfigDict(
        extra="forbid",
        strict=True,
        frozen=True,
        allow_inf_nan=False,
        defer_build=True,  # only a whole file is ever validated: build its validator once
    )


__all__ = ["MAX_FILE_BYTES", "MAX_LINE_CHARACTERS", "MAX_TEXT", "Table", "Text"]
