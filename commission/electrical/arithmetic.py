"""Square root and logarithm for any kind of number.

The formulas of this package are written once and run on floats, on quantities with units and on
uncertain numbers.  Those libraries are slow to start, so nothing here imports them: the number
that comes in says by its own methods what it is.
"""

from __future__ import annotations

import importlib
import math


def sqrt(value: float) -> float:
    """Square root; of a quantity it carries the root of the unit."""
    root: float = value**0.5
    return root


def log(value: float) -> float:
    """Natural logarithm of a pure number; a quantity that keeps a unit is refused by its library.

    >>> log(1.0)
    0.0
    """
    if isinstance(value, (int, float)):
        return math.log(value)
    if hasattr(value, "m_as"):  # a quantity with units
        return log(value.m_as("dimensionless"))
    # an uncertain number: its class can only exist after the library was imported
    umath = importlib.import_module("uncertainties.umath")
    result: float = umath.log(value)
    return result


def asinh(value: float) -> float:
    """Inverse hyperbolic sine, asinh x = ln(x + √(x² + 1)), for x ≥ 0."""
    return log(value + sqrt(value * value + 1))
