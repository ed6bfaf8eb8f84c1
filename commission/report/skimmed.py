"""A report of which only those parts are parsed that the others follow from.

Whoever makes a report again compares it byte for byte, and that is quicker than parsing it. So the
largest parts that follow from its record and its files are left out at first, and its history is
read as the record that it is. What was found so may be trusted once the whole is equal to what is
made of it: then the same stands in it, however it was found, and what was left out need never be
parsed. Any other report must be parsed whole before anything is said of it.
"""

from __future__ import annotations

import re
import tomllib
from collections.abc import Iterator, Mapping
from functools import cached_property
from typing import Any, Final

from commission.record.codec import ENTRY_LINE
from commission.report.history import HISTORY_LINE
from commission.report.reading import marks

MADE_AGAIN: Final = ("stage", "path", "register", "expectation")
"""The parts that are left out: half of a report. Its history, most of the rest, is left out too."""

_MAX_MARKS, _MAX_BYTES = 100_000, 3_000_000  # parsed of sixty stations: some 7,000, 170,000
_RECORD = b"\n[record]\n"
_TABLE = re.compile(  # its first line, and all that follow up to another bracket
    rb"^\[\[?(?:" + "|".join(MADE_AGAIN).encode("ascii") + rb")[\].].*\n(?:[^[\n].*\n|\n)*",
    re.MULTILINE,
)
_HISTORY = re.compile(rb"(?:\n" + re.escape(HISTORY_LINE) + rb"\n(?:[a-z0-9_]+ = .*\n)+)+")


class Skimmed(Mapping[str, Any]):
    """A report's tables; what was left out is parsed with all of it when it is asked for."""

    def __init__(self, content: bytes) -> None:
        """Raises ValueError and RecursionError for what can't be read without the parts left out.

        A text of several lines above the record is such: there a line may look like a table. So is
        much else beside these parts, or hostile reports would be parsed twice.
        """
        self._content = content
        record = max(0, content.find(_RECORD))
        if any(marks in content[:record] for marks in (b"'''", b'"""')):
            raise ValueError("a text of several lines stands above the record")
        found = _HISTORY.search(content, record)
        start, end = found.span() if found else (len(content), len(content))
        above, files, below = content[:record], content[record:start], content[end:]
        rest = _TABLE.sub(b"", above) + files + below
        if marks(rest) > _MAX_MARKS or len(rest) > _MAX_BYTES:
            raise ValueError("more stands beside the parts left out than in any report")
        self._read = tomllib.loads(rest.decode("utf-8"))
        first = b"\n" + HISTORY_LINE + b"\n"
        self.blocks = [ENTRY_LINE + block for block in content[start:end].split(first)[1:]]

    @cached_property
    def _whole(self) -> dict[str, Any]:
        return tomllib.loads(self._content.decode("utf-8"))

    def __getitem__(self, key: str) -> Any:
        return self._whole[key] if key in (*MADE_AGAIN, "history") else self._read[key]

    def __iter__(self) -> Iterator[str]:
        return iter(self._whole)

    def __len__(self) -> int:
        return len(self._whole)
