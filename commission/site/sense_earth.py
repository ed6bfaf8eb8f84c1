"""What the earth of a site file must make sense of: dimensions of electrodes, tests of the soil.

Works on the raw tables, as `sense` does. The electrodes' formulas hold for slender rods, for wires
and strips that lie no deeper than half their length, and for plates that are covered.
"""

from __future__ import annotations

from collections.abc import Iterator

from commission.electrical.earth import probes_shallow
from commission.site.tables import Finding, Row, rows_of, si
from commission.toml_place import Location

# What is asked of each kind of electrode: one key of each group.
_NEEDS: dict[object, tuple[tuple[str, ...], ...]] = {
    "rod": (("length",), ("diameter",)),
    "strip": (("length",), ("width", "diameter"), ("depth",)),
    "plate": (("width",), ("depth",)),
}


def of_earth(earth: Row) -> Iterator[Finding]:
    """Everything that makes no sense in a raw [earth] table."""
    for place, row in rows_of(earth, "electrode", ("earth",)):
        yield from _of_electrode(place, row)
    tests = list(rows_of(earth, "soil_test", ("earth",)))
    if tests and "soil_resistivity" in earth:
        yield (("earth", "soil_resistivity"), "the soil's resistivity is given twice",
               "leave it out: the four-pin tests give it; or leave out soil_test")  # fmt: skip
    for place, row in tests:
        spacing_m, depth_m = si(row.get("spacing"), "length"), si(row.get("probe_depth"), "length")
        if spacing_m and depth_m and not probes_shallow(spacing_m, depth_m):
            yield ((*place, "probe_depth"), "pins deeper than a twentieth of their spacing",
                   f"at most {spacing_m / 20:.3g} m here, or the simple formula does not hold: "
                   "test again with shallower pins or a wider spacing")  # fmt: skip


def _of_electrode(place: Location, row: Row) -> Iterator[Finding]:
    kind, count = row.get("kind"), row.get("count")
    needs = _NEEDS.get(kind, ()) if isinstance(kind, str) else ()
    for keys in needs:
        if not any(key in row for key in keys):
            words = " or ".join(keys)
            yield (place, f"a {kind} without {words}",
                   "what it should give cannot be computed without")  # fmt: skip
    if isinstance(count, int) and count > 1 and "spacing" not in row:
        yield place, f"{count} electrodes without spacing", "give the distance between neighbours"
    if needs:
        yield from _of_size(place, row)


def _of_size(place: Location, row: Row) -> Iterator[Finding]:
    """Dimensions for which no formula holds."""
    length, diameter, width, depth, spacing = (
        si(row.get(key), "length") or 0.0
        for key in ("length", "diameter", "width", "depth", "spacing")
    )
    kind, thickness = row["kind"], si(row.get("thickness", "3 mm"), "length") or 0.0
    if diameter and length and diameter >= length:
        yield (*place, "diameter"), "thicker than it is long", "change them over?"
    if kind == "strip" and width and thickness >= width:
        yield (*place, "width"), "not wider than thick", "a round conductor has a diameter instead"
    if kind == "strip" and width and length and width >= length:
        yield (*place, "width"), "wider than it is long", "change them over?"
    if kind == "strip" and length and depth > length / 2:
        yield (*place, "depth"), "deeper than half its length", "no formula holds for that"
    if kind == "plate" and width and 0 < depth < width / 2:
        yield (*place, "depth"), "the plate is not covered", "depth is that of its middle"
    if 0 < spacing <= diameter:
        yield (*place, "spacing"), "they stand in one another", ""
