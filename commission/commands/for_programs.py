"""What every document for other programs begins with, and how it is printed."""

from __future__ import annotations

import json
from typing import Any

from commission import __version__
from commission.electrical.sources import FORMULA_SET


def head(kind: str, version: int) -> dict[str, Any]:
    """Kind and format of a document, and what computed the numbers in it."""
    return {
        "kind": kind,
        "format": version,
        "program": __version__,
        "formula_set": FORMULA_SET,
    }


def json_text(document: dict[str, Any]) -> str:
    """A document as JSON; a number that JSON has not is a ValueError."""
    return json.dumps(document, indent=2, ensure_ascii=False, allow_nan=False)
