"""A range of sizes cut into cells: the middle and the width of each."""

from __future__ import annotations

import math
from itertools import pairwise


def evenly(low: float, high: float, cells: int) -> list[tuple[float, float]]:
    """Middles and widths of equal cells."""
    width = (high - low) / cells
    return [(low + (i + 0.5) * width, width) for i in range(cells)]


def by_ratio(low: float, high: float, cells: int) -> list[tuple[float, float]]:
    """Middles and widths of cells of equal ratio."""
    step = (high / low) ** (1 / cells)
    edges = [low * step**i for i in range(cells + 1)]
    return [(math.sqrt(a * b), b - a) for a, b in pairwise(edges)]
