"""A draft as a site file: complete, with a comment wherever a person has to look again."""

from __future__ import annotations

from collections.abc import Iterator, Mapping

from commission.authoring.draft import Draft, DraftPath, DraftStation
from commission.report.layout import inline_text, key_text, pair, value_text

_HEAD = """\
# A site file, written by `commission new`. Change it as you like: `commission check` tells what is
# wrong with it, and the README explains every key.
# - Every quantity is text with its unit: "180 ft", "0.37 A", "14 AWG". Nothing is guessed.
# - An id is permanent and names a thing in every report; a label may be changed at any time.
# - What is left out takes a default; the report tells every default that was used.
"""
_ASSUMED = "\n# LOOK AGAIN before you rely on it; this was not known and stands in for what is:\n"
_TOP = """
kind = "commission site"
format = 1

[site]
name = {name}
units = {units}             # what is shown: "US" or "SI". This file may mix both.
frequency = {frequency}

[soil]                   # where the cable lies; the defaults are for a mild climate

[controller]
description = "Two-wire controller"

[supply]
nominal_voltage = {mains}
lowest_below = "10 %"    # the lowest mains to reckon with
"""
_OUTPUT = """
[[output]]
id = {id}
rated_voltage = {rated_voltage}
rating = {rating}
regulation = {regulation}      # how far the voltage rises from rated load to none
earthing = "floating"    # or "earthed", or "impedance" with earthing_impedance
stations_at_once = {stations_at_once}     # how many may run together on this output
"""
_EARTH = """
[earth]
limit = "10 ohm"         # common practice; local code decides
conductor = {conductor}
"""


def site_text(draft: Draft) -> str:
    """The whole file, TOML."""
    return "".join(_parts(draft))


def _parts(draft: Draft) -> Iterator[str]:
    supply = draft.supply
    yield _HEAD
    if draft.assumed:
        yield _ASSUMED + "".join(f"# - {words}\n" for words in draft.assumed)
    yield _TOP.format(
        name=value_text(draft.name), units=value_text(draft.units),
        frequency=value_text(supply.frequency), mains=value_text(supply.mains),
    )  # fmt: skip
    for output in dict.fromkeys(path.output for path in draft.paths):
        yield _OUTPUT.format(
            id=value_text(output),
            rated_voltage=value_text(supply.rated_voltage),
            rating=value_text(supply.rating),
            regulation=value_text(supply.regulation),
            stations_at_once=supply.stations_at_once,
        )
    yield _EARTH.format(conductor=value_text("6 AWG" if draft.units == "US" else "16 mm²"))
    yield "\n# Kinds are described once, and referred to by the name in the brackets.\n"
    kinds = draft.kinds
    for table, rows in (
        ("solenoid_kind", kinds.solenoid), ("decoder_kind", kinds.decoder),
        ("cable_kind", kinds.cable),
    ):  # fmt: skip
        for name, kind in rows.items():
            yield f"\n[{table}.{key_text(name)}]\n{_keys(kind)}"
    yield '\n# A path is a tree that starts at "output", the terminals; each segment leads to one '
    yield "more box.\n# Ends are where loops are measured.\n"
    for path in draft.paths:
        yield from _path(path)
    yield "\n# A station is what answers at one address: a decoder in a box, with its solenoids.\n"
    for station in draft.stations:
        yield _station(station)


def _path(path: DraftPath) -> Iterator[str]:
    yield "\n[[path]]\n"
    yield _keys({"id": path.id, "output": path.output, "cable": path.cable})
    yield f"length_by = {value_text(path.length_by)}"
    yield '   # how lengths were obtained: "tape", "wheel", "drawing" or "estimate"\nsegment = [\n'
    for one in path.segments:
        row = {"from": one.from_box, "to": one.to_box, "length": one.length}
        if one.cable and one.cable != path.cable:
            row["cable"] = one.cable
        yield f"    {inline_text(row)},\n"
    yield "]\n"


def _station(station: DraftStation) -> str:
    first = f"V{station.number}"
    ids = [first] if station.solenoids == 1 else [
        f"{first}{chr(97 + n)}" for n in range(station.solenoids)
    ]  # fmt: skip
    solenoids = ", ".join(inline_text({"id": one, "kind": station.solenoid}) for one in ids)
    keys = _keys(
        {
            "id": f"S{station.number}", "number": station.number, "address": station.address,
            "path": station.path, "box": station.box, "decoder": station.decoder,
        }
    )  # fmt: skip
    waters = f"waters = {value_text(station.waters)}\n" if station.waters else ""
    return f"\n[[station]]\n{keys}solenoid = [{solenoids}]\n{waters}"


def _keys(table: Mapping[str, object]) -> str:
    return "".join(f"{pair(key, value)}\n" for key, value in table.items())
