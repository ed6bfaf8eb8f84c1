"""The one kind of text that data may hold: visible characters, no terminal controls."""

from __future__ import annotations

import re
import unicodedata

MAX_TEXT = 2000
# Control, format (bidi overrides), surrogate, private, unassigned, line and paragraph separator.
_REFUSED = frozenset({"Cc", "Cf", "Cs", "Co", "Cn", "Zl", "Zp"})


def clean(text: str) -> str:
    """Return `text` without outer blanks.

    Raises ValueError, naming the character and its place, when it holds one that could steer
    a terminal or hide text, or when it is longer than MAX_TEXT characters.
    """
    if len(text) > MAX_TEXT:
        raise ValueError(f"longer than {MAX_TEXT} characters")
    if text.isprintable():
        return text.strip()
    for place, character in enumerate(text, start=1):
        if unicodedata.category(character) in _REFUSED:
            raise ValueError(
                f"character {place} (U+{ord(character):04X}) is not printable; remove it"
            )
    return text.strip()


def visible(text: str, limit: int = MAX_TEXT) -> str:
    """Return `text` safe to show: every refused character as its code point, cut to `limit`."""
    if len(text) <= limit and text.isprintable():
        return text
    shown = "".join(
        f"<U+{ord(character):04X}>" if unicodedata.category(character) in _REFUSED else character
        for character in text[:limit]
    )
    return shown + ("..." if len(text) > limit else "")


def counted(number: int, noun: str) -> str:
    """How many of something there are, in words: "1 box", "2 boxes"."""
    more = "es" if noun.endswith("x") else "s"
    return f"{number} {noun}{'' if number == 1 else more}"


def as_counted(name: str) -> list[tuple[int, str]]:
    """A key that sorts names as people count: B2 before B10."""
    parts = re.findall(r"[0-9]+|[^0-9]+", name)
    return [(int(one), "") if one.isdecimal() else (-1, one) for one in parts]
