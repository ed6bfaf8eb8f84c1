"""A new site before it is written: what it comes to, in a few lines."""

from __future__ import annotations

from collections.abc import Iterator

from commission.expected.limits import LOCAL
from commission.expected.sheet import Sheet
from commission.site.schema import Site
from commission.site.tree import PathTree
from commission.units import FOOT_M, plain


def summary(site: Site) -> Iterator[str]:
    """Size, longest way, and whether the worst set of each output will work as drawn."""
    from commission.expected.sizing import sizings

    sheet = Sheet(site)
    boxes = sum(len(tree.feeds) for tree in sheet.drawing.trees.values())
    yield f"{len(site.path)} paths, {boxes} boxes, {len(site.station)} stations"
    ways = ((tree.distance_m(end), tree.path, end) for tree in _trees(sheet) for end in tree.ends())
    far_m, path, end = max(ways, key=lambda way: way[0])  # the first of several
    far = f"{plain(far_m / FOOT_M)} ft" if site.site.units == "US" else f"{plain(far_m)} m"
    yield f"The farthest end is {end} on path {path}: {far} of cable"
    for found in sizings(sheet.drawing):
        if found.voltage_v is None or found.minimum_v is None:
            continue
        low = f"lowest {found.voltage_v:.1f} V, needs {found.minimum_v:.1f} V"
        words = "will work as drawn" if found.passes else "FAILS as drawn"
        yield f"Output {found.output}: {words} ({low}, at lowest mains and in the warmest soil)"
    yield f"Limits here are defaults: {LOCAL}."


def _trees(sheet: Sheet) -> Iterator[PathTree]:
    yield from sheet.drawing.trees.values()
