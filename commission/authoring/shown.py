"""A new site before it is written: what it comes to, in a few lines."""

from __future__ import annotations

from collections.abc import Iterator

from commission.expected.limits import LOCAL
from commission.expected.loops import loop_expectation
from commission.expected.sheet import Sheet
from commission.site.schema import Site
from commission.units import length_unit, show


def summary(site: Site) -> Iterator[str]:
    """Size, longest way, longest loops, and whether each output's worst set will work as drawn."""
    from commission.expected.sizing import sizings

    sheet = Sheet(site)
    boxes = sum(len(path.segment) for path in site.path)
    yield ", ".join(
        (_count(len(site.path), "path"), _count(boxes, "box"), _count(len(site.station), "station"))
    )
    trees = sheet.drawing.trees.values()
    ways = ((tree.distance_m(end), tree.path, end) for tree in trees for end in tree.ends())
    far_m, path, end = max(ways, key=lambda way: way[0])  # the first of several
    far = show(far_m, length_unit(site.site.units), "length")
    yield f"The farthest end is {end} on path {path}: {far} of cable"
    for path_id, tree in sheet.drawing.trees.items():
        loops = [loop_expectation(sheet.drawing, path_id, one) for one in tree.ends()]
        longest = max(loops, key=lambda one: one.value)  # the first of several
        ohms = show(longest.value, "ohm", "resistance")
        yield f"Longest loop of path {path_id}, dead: {ohms} ({longest.conditions})"
    for found in sizings(sheet.drawing):
        if found.voltage_v is None or found.minimum_v is None:
            continue
        low = _lowest_and_needed(found.voltage_v, found.minimum_v)
        words = "will work as drawn" if found.passes else "FAILS as drawn"
        yield f"Output {found.output}: {words} (worst set: {low}, at lowest mains in warmest soil)"
    yield f"Limits here are defaults: {LOCAL}."


def _count(number: int, thing: str) -> str:
    more = "es" if thing.endswith("x") else "s"
    return f"{number} {thing}{'' if number == 1 else more}"


def _lowest_and_needed(lowest_v: float, needed_v: float) -> str:
    """Both voltages, with as many digits as it takes to tell them apart, up to a millivolt."""
    digits = next((d for d in (1, 2) if f"{lowest_v:.{d}f}" != f"{needed_v:.{d}f}"), 3)
    return f"lowest {lowest_v:.{digits}f} V, needs {needed_v:.{digits}f} V"
