"""A text as a QR code (ISO/IEC 18004), drawn into the page."""

from __future__ import annotations

from itertools import groupby

import segno

from commission.printing.page import Html
from commission.printing.svg import drawing, shape

_QUIET = 4  # modules of white around it, as the standard asks


def code_square(content: str) -> Html:
    """The code of a text; about 15 % of it may be lost and it is still read (level M)."""
    rows = [bytes(row) for row in segno.make(content, error="m", micro=False).matrix]
    runs = []
    for y, row in enumerate(rows, start=_QUIET):
        x = _QUIET
        for dark, run in groupby(row):
            length = len(list(run))
            runs += [f"M{x} {y}h{length}v1h-{length}z"] if dark else []
            x += length
    size = len(rows) + 2 * _QUIET
    return drawing(size, size, content, shape("path", d="".join(runs)))
