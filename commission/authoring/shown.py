"""A new site before it is written: what it comes to, in a few lines."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from commission.electrical.network import CollapseError
from commission.expected.limits import LOCAL
from commission.expected.loops import loop_expectation
from commission.expected.model import OutputModel, working_case
from commission.expected.sheet import Sheet
from commission.site.schema import Site
from commission.text import counted
from commission.units import length_unit, show


def summary(site: Site) -> Iterator[str]:
    """All of it; the lines that take their time come last."""
    sheet = Sheet(site)
    yield from outline(sheet)
    yield from at_work(sheet)


def assumed_lines(assumed: Sequence[str]) -> Iterator[str]:
    """What was not known, and is usual data now."""
    if assumed:
        yield "Not known, so usual data stand in; LOOK AGAIN in the file:"
    for words in assumed:
        yield f"  {words}"


def outline(sheet: Sheet) -> Iterator[str]:
    """Size, longest way, and the longest loop of each path, dead, in the test day's soil."""
    site = sheet.site
    boxes = sum(len(path.segment) for path in site.path)
    sizes = {"path": len(site.path), "box": boxes, "station": len(site.station)}
    yield ", ".join(counted(number, noun) for noun, number in sizes.items())
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


def at_work(sheet: Sheet) -> Iterator[str]:
    """Whether the worst set of each output works as drawn, and whether the output carries it.

    Seconds of work where hundreds of stations may run in many sets.
    """
    for output in sheet.site.output:
        try:
            yield from _at_work(sheet, working_case(sheet.drawing, output.id))
        except CollapseError as error:
            yield f"Output {output.id}: CANNOT work as drawn ({error})"
    yield f"Limits here are defaults: {LOCAL}."


def _at_work(sheet: Sheet, model: OutputModel) -> Iterator[str]:
    from commission.expected.sizing import as_drawn

    model.refuse_collapse()
    found = as_drawn(model)
    if found.voltage_v is None or found.minimum_v is None:
        return
    low = _lowest_and_needed(found.voltage_v, found.minimum_v)
    words = "will work as drawn" if found.passes else "FAILS as drawn"
    where = "at lowest mains in warmest soil"
    yield f"Output {found.output}: {words} (worst set: {low}, {where})"
    for load in sheet.carried(found.output):
        yield f"Output {found.output}, the most that may run: {load.words}"


def _lowest_and_needed(lowest_v: float, needed_v: float) -> str:
    """Both voltages, with as many digits as it takes to tell them apart, up to a millivolt."""
    digits = next((d for d in (1, 2) if f"{lowest_v:.{d}f}" != f"{needed_v:.{d}f}"), 3)
    return f"lowest {lowest_v:.{digits}f} V, needs {needed_v:.{digits}f} V"
