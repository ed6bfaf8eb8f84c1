"""Finds the line of every key and list element of a TOML file that `tomllib` has accepted.

tomllib gives values without places. This walks over the same text once, knowing only what is needed
for that: strings, brackets, dots, commas and line ends. It never recurses.
"""

from __future__ import annotations

import re
import tomllib
from collections.abc import Iterable, Iterator
from functools import cached_property

Location = tuple[str | int, ...]

# Strings first, the long kinds before the short ones; up to two quotes may end a long one's text.
# A string that nothing ends, in a file that is not TOML, takes its line or the rest of the file:
# without that, looking for the end again from every quote would take hours.
_TOKEN = re.compile(
    r'''(?P<blank>[ \t\r]+|\#[^\n]*)
      | (?P<text>"""(?:\\.|[^\\])*?(?:"{3,5}|\\?\Z) | \'\'\'.*?(?:'{3,5}|\Z)
               | "(?:\\.|[^"\\\n])*+"? | '[^'\n]*+'?)
      | (?P<mark>[\[\]{}=,.\n])
      | (?P<bare>[^\s\[\]{}=,."'#]+)''',
    re.DOTALL | re.VERBOSE,
)
_MARKS = frozenset("[]{}=,\n")


class Places:
    """Lines of the keys of one file, found when the first problem asks: most files have none."""

    def __init__(self, text: str) -> None:
        self._text = text

    @cached_property
    def _lines(self) -> dict[Location, int]:
        return _Walk(self._text).lines

    def line(self, location: Iterable[str | int]) -> int | None:
        """The line of a key, else of the nearest thing around it; None when there is none."""
        place = tuple(location)
        while place:
            if place in self._lines:
                return self._lines[place]
            place = place[:-1]
        return None


class _Walk:
    """One walk over a valid file. What is open stands in `_open`: lists, and tables in braces."""

    def __init__(self, text: str) -> None:
        self.lines: dict[Location, int] = {}
        self._counts: dict[Location, int] = {}  # elements so far of each list of tables
        self._table: Location = ()
        self._open: list[_Open] = []
        self._key: list[str] = []  # parts of the key that is being read
        self._place: Location | None = None  # where the next value belongs; None: a key comes
        self._header = ""
        before = ""
        for token, line in _tokens(text):
            if token == "[" and before == "[" and self._header == "[":
                self._header = "[["
            else:
                self._take(token, line)
            before = token

    def _take(self, token: str, line: int) -> None:
        if self._header:
            self._in_header(token, line)
        elif self._place is None:
            self._in_key(token, line)
        else:
            self._in_value(token, line)

    def _in_header(self, token: str, line: int) -> None:
        if token == "]":
            self._table = self._opened(line)
        elif token == "\n":
            self._header, self._key = "", []
        elif token not in ("[", "."):
            self._key.append(_word(token))

    def _opened(self, line: int) -> Location:
        """The place that a header opens, with the number of each element of a list in it."""
        if not self._key:
            return self._table  # the second bracket of two
        place: Location = ()
        for depth, name in enumerate(self._key, start=1):
            place = (*place, name)
            if self._header == "[[" and depth == len(self._key):
                self._counts[place] = self._counts.get(place, -1) + 1
            self.lines.setdefault(place, line)
            if place in self._counts:
                place = (*place, self._counts[place])
                self.lines.setdefault(place, line)
        self._key = []
        return place

    def _in_key(self, token: str, line: int) -> None:
        """At the start of a line, or between the braces of a table."""
        if token == "=":
            place = self._open[-1].place if self._open else self._table
            for part in self._key:
                place = (*place, part)
                self.lines.setdefault(place, line)
            self._key, self._place = [], place
        elif token == "}":
            self._close()
        elif token == "[" and not self._open:
            self._header = "["
        elif token not in ("\n", ".", ","):
            self._key.append(_word(token))

    def _in_value(self, token: str, line: int) -> None:
        assert self._place is not None
        if token == "\n" and not self._open:
            self._place = None
        elif token in ("]", "}"):
            self._close()
        elif token == ",":
            self._place = self._open[-1].next_place()
        elif token != "\n":
            self.lines.setdefault(self._place, line)
            if token in ("[", "{"):
                self._open.append(_Open(self._place, token == "["))
                self._place = self._open[-1].next_place()

    def _close(self) -> None:
        """A list or table ends: what follows belongs to the value that it was."""
        self._place = self._open.pop().place


class _Open:
    """A list or a table in braces that is not closed yet."""

    def __init__(self, place: Location, is_list: bool) -> None:
        self.place = place
        self._is_list = is_list
        self._count = -1

    def next_place(self) -> Location | None:
        """Where the next element belongs; None when a key has to come first."""
        self._count += 1
        return (*self.place, self._count) if self._is_list else None


def _tokens(text: str) -> Iterator[tuple[str, int]]:
    """Tokens with the line on which each begins; blanks and comments left out."""
    line = 1
    for found in _TOKEN.finditer(text):
        token = found[0]
        if found.lastgroup != "blank":
            yield token, line
        line += token.count("\n")


def comments(text: str) -> list[str]:
    """Every comment of a file that `tomllib` has accepted, in their order."""
    if '"""' in text or "'''" in text:
        parts = [text]  # what looks like a comment may stand in a string of several lines
    else:
        parts = [line for line in text.split("\n") if "#" in line]
    found = (one[0] for part in parts for one in _TOKEN.finditer(part))
    return [token.rstrip() for token in found if token.startswith("#")]


def dotted_key(text: str, most: int) -> int | None:
    """The line of the first key with more dots than `most`; None when there is none.

    The text need not be TOML; the time is linear in its length.
    """
    dots, part_before = 0, False
    for token, line in _tokens(text):
        is_part = token != "." and token not in _MARKS
        if token == ".":
            dots += 1
            if dots > most:
                return line
        elif part_before or not is_part:
            dots = 0
        part_before = is_part
    return None


def _word(token: str) -> str:
    """A part of a key without its quotes."""
    if token[0] == "'":
        return token[1:-1]
    if token[0] == '"':
        return str(tomllib.loads(f"word = {token}")["word"])
    return token
