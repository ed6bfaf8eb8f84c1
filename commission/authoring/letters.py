"""The letters of a list as offices save it: UTF-8, else UTF-16 that says so, else Windows-1252.

Any bytes make some text of Windows-1252, which holds all that is printable of Latin-1. So it is
taken only where that text is plausible, and then the list says so, with a row to look at. How
other encodings would show themselves is judgement; what they put where is in their tables
(IBM 437 and 850, Mac OS Roman, Windows-1251, as the Unicode Consortium publishes them).
Pure: nothing is read or written.
"""

from __future__ import annotations

import codecs
import re
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Final
from unicodedata import category

from commission.problems import InputRefused, Problem
from commission.spreadsheet import refuse_too_large, refuse_too_wide
from commission.text import visible

UTF_8: Final = "UTF-8"
_REMEDY: Final = "save it from the spreadsheet as CSV in UTF-8"
_UTF_8_LETTER: Final = re.compile(rb"[\xc2-\xdf][\x80-\xbf]|[\xe0-\xf4][\x80-\xbf]{2}")
_SPECIAL: Final = "ªµºÀ-ÖØ-öø-ÿŠŽŒšžœŸƒ"  # the letters of Windows-1252 beyond plain ones
_LETTER: Final = f"[A-Za-z{_SPECIAL}]"
# DOS and Macintosh keep letters where Windows-1252 has marks: K„se for Käse; ’ and · are of words.
_MARK_IN_WORD: Final = re.compile(rf"{_LETTER}[^\x00-\x7f’·{_SPECIAL}]+{_LETTER}")
# Cyrillic or Greek come out as accented letters only: Ñàä.
_OTHER_ALPHABET: Final = re.compile(f"[{_SPECIAL}]{{3}}")
# Their letters alone, without one of the common ones, are more likely é, ä or ü of another table.
_SELDOM: Final = re.compile(r"[ŠŽŒšžœŸƒˆ˜‚„†‡‰‹]")
_COMMON: Final = re.compile(r"[À-ÖØ-öø-ÿ]")
_WORD: Final = re.compile(r"[^\s,;]+")
_SHOWN: Final = 60


@dataclass(frozen=True, slots=True)
class Decoded:
    """The text of a list, and how it was read."""

    text: str
    encoding: str = UTF_8

    def lines(self) -> Iterator[str]:
        """What was assumed, for people, with a row that shows whether it is right."""
        if self.encoding == UTF_8:
            return
        yield f"Read as {self.encoding}"
        rows = list(enumerate(self.text.splitlines(), start=1))
        told = [(n, row) for n, row in rows if any(c.isalpha() and c > "\x7f" for c in row)]
        told += [(n, row) for n, row in rows if not row.isascii()]
        if told:
            line, row = told[0]
            others = "".join(sorted({c for c in self.text if c > "\x7f"}))
            yield f"  please look at line {line}: {_seen(row)}"
            yield f"  its letters and signs beyond plain ones: {_seen(others)}"


def _seen(text: str) -> str:
    """A text to be looked at: blanks that look like a space and are none are named."""
    named = (f"<space U+{ord(c):04X}>" if c != " " and category(c) == "Zs" else c for c in text)
    return visible("".join(named), _SHOWN)


def decoded(content: bytes, name: str) -> Decoded:
    """The text of a list; raises InputRefused where it can't be told what its letters are."""
    refuse_too_large(content, name)
    found = _by_its_mark(content, name)
    if "\0" in found.text:
        words = "there are zero bytes in it: UTF-16 without its mark, or no text"
        raise InputRefused([Problem(name, words, remedy=_REMEDY)])
    refuse_too_wide(found.text, name)
    return found


def _by_its_mark(content: bytes, name: str) -> Decoded:
    if content.startswith((codecs.BOM_UTF16_LE, codecs.BOM_UTF16_BE)):
        try:
            return Decoded(content.decode("utf-16"), "UTF-16")
        except UnicodeDecodeError:
            raise _refused(name, "it begins as UTF-16, and is not whole") from None
    try:
        return Decoded(content.decode("utf-8-sig"))
    except UnicodeDecodeError as error:
        line = content.count(b"\n", 0, error.start) + 1
    if content.startswith(codecs.BOM_UTF8) or _UTF_8_LETTER.search(content):
        raise _refused(name, "part of it is UTF-8 text, and part is not", line)
    try:
        text = content.decode("cp1252")
    except UnicodeDecodeError as error:
        line = content.count(b"\n", 0, error.start) + 1
        raise _refused(name, "this is neither UTF-8 nor Windows-1252 text", line) from None
    odd = _MARK_IN_WORD.search(text) or _OTHER_ALPHABET.search(text)
    if odd is None and not _COMMON.search(text):
        odd = _SELDOM.search(text)
    if odd is not None:
        line = text.count("\n", 0, odd.start()) + 1
        word = next(one[0] for one in _WORD.finditer(text) if one.end() > odd.start())
        words = f"this is not UTF-8 text, and '{visible(word, 40)}' can't be meant"
        raise _refused(name, words, line)
    return Decoded(text, "Windows-1252, for it is not UTF-8")


def _refused(name: str, words: str, line: int | None = None) -> InputRefused:
    return InputRefused([Problem(name, words, line=line, remedy=_REMEDY)])
