"""Whether two texts or two values of a report agree: numbers to 1e-9 relative, all else exactly.

The mathematical library of another machine may give another last digit; an alteration is more.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from math import isclose
from typing import Any

TOLERANCE = 1e-9  # relative
_PARTS = re.compile(
    r"""("(?:[^"\\]|\\.)*")"""  # a text stays whole
    r"|(?<![\w.:+-])(-?\d+(?:\.\d+(?:e[+-]\d+)?|e[+-]\d+))(?![\w.:])"
)


def same_number(one: float, other: float) -> bool:
    """Whether two numbers agree."""
    return isclose(one, other, rel_tol=TOLERANCE, abs_tol=0.0)


def lines_agree(stands: str, should: str) -> bool:
    """Whether two lines of TOML differ in nothing but last digits of numbers with a fraction.

    Each of these has to be written as the program writes it: a digit more is an alteration.
    """
    if stands == should:
        return True
    if stands.startswith("["):
        return False
    one, other = _PARTS.split(stands), _PARTS.split(should)
    if len(one) != len(other):
        return False
    for n, (a, b) in enumerate(zip(one, other, strict=True)):
        if a == b:
            continue
        is_number = n % 3 == 2 and a is not None and b is not None
        if not is_number or repr(float(a)) != a or not same_number(float(a), float(b)):
            return False
    return True


def first_apart(stands: Any, should: Any, place: str = "") -> str:
    """Where the first number, truth value or verdict differs; "" when none does.

    Words may differ, and so may what only one of the two holds: another version of the program
    says the same in other words.
    """
    pairs: Iterable[tuple[Any, Any, str]] = ()
    if isinstance(stands, Mapping) and isinstance(should, Mapping):
        dot = f"{place}." if place else ""
        pairs = ((stands[key], should[key], f"{dot}{key}") for key in stands if key in should)
    elif isinstance(stands, list) and isinstance(should, list):
        if len(stands) == len(should):
            both = zip(stands, should, strict=True)
            pairs = ((a, b, f"{place}[{n}]") for n, (a, b) in enumerate(both, start=1))
    elif _apart(stands, should, place):
        return place
    return next((found for pair in pairs if (found := first_apart(*pair))), "")


def _apart(stands: Any, should: Any, place: str) -> bool:
    if isinstance(stands, float) and isinstance(should, float):
        return not same_number(stands, should)
    if isinstance(stands, (int, float)) or place.rpartition(".")[2] == "verdict":
        return bool(stands != should)
    return False
