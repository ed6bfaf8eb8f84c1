"""A table as a spreadsheet saves it: its text, its rows, and what sets its columns apart.

Columns are set apart by commas, semicolons or tabs: as a first line `sep=;` declares, else by
whichever makes the most known names of columns out of the first row. Pure.
"""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Callable, Iterator, Sequence
from typing import Final

from commission.problems import InputRefused, Problem

MAX_BYTES: Final = 2_000_000
MAX_LINE: Final = 10_000  # characters
MAX_ROWS: Final = 2_000
SEPARATORS: Final = {"comma": ",", "semicolon": ";", "tab": "\t"}
_DECLARED = re.compile(r"sep=(.)\r?\n", re.IGNORECASE)
_BLANKS = dict.fromkeys((0xA0, 0x1680, *range(0x2000, 0x200B), 0x202F, 0x205F, 0x3000), " ")


def text_of(content: bytes, name: str) -> str:
    """The text of a list in UTF-8; raises InputRefused."""
    refuse_too_large(content, name)
    try:
        text = content.decode("utf-8-sig")
    except UnicodeDecodeError:
        remedy = "save it from the spreadsheet as CSV in UTF-8"
        raise InputRefused([Problem(name, "this is not UTF-8 text", remedy=remedy)]) from None
    refuse_too_wide(text, name)
    return text


def refuse_too_large(content: bytes, name: str) -> None:
    """Raise InputRefused for more bytes than any list has."""
    if len(content) > MAX_BYTES:
        raise InputRefused([Problem(name, f"larger than {MAX_BYTES} bytes", remedy="divide it")])


def refuse_too_wide(text: str, name: str) -> None:
    """Raise InputRefused for a line that no list has."""
    if any(len(line) > MAX_LINE for line in text.split("\n")):
        raise InputRefused([Problem(name, f"a line is longer than {MAX_LINE} characters")])


def records(text: str, separator: str) -> Iterator[tuple[int, list[str]]]:
    """Line and cells of each row, every kind of blank a plain one.

    Raises csv.Error for quotes that are never closed.
    """
    reader = csv.reader(io.StringIO(text, newline=""), delimiter=separator, strict=True)
    line = 1
    for cells in reader:
        yield line, [cell.translate(_BLANKS) for cell in cells]
        line = reader.line_num + 1


def filled(text: str, separator: str, name: str) -> Iterator[tuple[int, list[str]]]:
    """The same without rows that hold nothing: the headings, then at most `MAX_ROWS` rows.

    Raises InputRefused for more.
    """
    count = 0
    for line, cells in records(text, SEPARATORS[separator]):
        if any(cell.strip() for cell in cells):
            if count > MAX_ROWS:
                words = f"more than {MAX_ROWS} rows"
                raise InputRefused([Problem(name, words, line=line, remedy="divide it")])
            yield line, cells
            count += 1


def heading(cell: str) -> str:
    """The name of a column as it is compared: its case, hyphens and spaces say nothing."""
    return re.sub(r"[\s_-]+", " ", cell).strip().casefold()


def separated_by(text: str, known: Callable[[Sequence[str]], int]) -> tuple[str, str]:
    """What sets the columns apart, in words, and the text without the line that declares it.

    `known` counts the names of columns that it knows among the cells of a row.
    """
    declared = _DECLARED.match(text)
    if declared:
        for words, mark in SEPARATORS.items():
            if mark == declared[1]:
                return words, "\n" + text[declared.end() :]  # lines keep their numbers
    return max(SEPARATORS, key=lambda words: _recognised(text, words, known)), text


def _recognised(text: str, words: str, known: Callable[[Sequence[str]], int]) -> int:
    try:
        rows = (cells for _line, cells in records(text, SEPARATORS[words]))
        first = next((cells for cells in rows if any(cell.strip() for cell in cells)), [])
    except csv.Error:
        return 0
    return known(first)
