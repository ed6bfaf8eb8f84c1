"""A draft as a site file: complete, with what each key is and where its value comes from."""

from __future__ import annotations

from collections.abc import Iterator, Mapping

from commission.authoring.draft import USUAL, Draft, DraftPath, DraftStation, Kind
from commission.authoring.explained import WORDS
from commission.report.layout import comment, inline_text, key_text, pair, value_text
from commission.resources import SCHEMA_HINT

_HEAD = f"""\
# A site file, written by `commission new`. Change it as you like: `commission check` tells what is
# wrong with it, and the README explains every key.
# - Every quantity is text with its unit: "180 ft", "0.37 A", "14 AWG". Nothing is guessed.
# - Behind a key stands what it is, and where its value comes from. LOOK AGAIN at what is "{USUAL}":
#   it was not known, and data typical of the trade stand in (common practice, no source).
# - An id is permanent and names a thing in every report; a label may be changed at any time.
# - What is left out takes a default; the report tells every default that was used.
#
{SCHEMA_HINT}"""
_ASSUMED = "\n# LOOK AGAIN before you rely on it; this was not known and stands in for what is:\n"
_COLUMN = 32  # of the comments behind keys
_MAX_LINE = 100
_ALWAYS = "the same in every site file"
_STATION_KEYS = ("id", "number", "address", "path", "box", "decoder", "solenoid", "waters")


def site_text(draft: Draft) -> str:
    """The whole file, TOML."""
    return "\n".join(_lines(draft)) + "\n"


def _lines(draft: Draft) -> Iterator[str]:
    yield _HEAD.rstrip("\n")
    if draft.assumed:
        yield _ASSUMED.rstrip("\n")
        for words in draft.assumed:
            yield from comment(f"- {words}")
    yield ""
    yield _line("kind", "commission site", "kind", _ALWAYS)
    yield _line("format", 1, "format", _ALWAYS)
    yield from _about_site(draft)
    yield from _outputs(draft)
    yield "\n[earth]"
    conductor = "6 AWG" if draft.units == "US" else "16 mm²"
    yield from _keys(draft, "earth", {"limit": "10 ohm", "conductor": conductor})
    yield from _kinds(draft)
    yield '\n# A path is a tree that starts at "output", the terminals; each segment leads to one'
    yield "# more box. Ends are where loops are measured."
    for path in draft.paths:
        yield from _path(draft, path)
    yield from _stations(draft)


def _about_site(draft: Draft) -> Iterator[str]:
    supply = draft.supply
    site = {"name": draft.name, "units": draft.units, "frequency": supply.frequency}
    yield "\n[site]"
    yield from _keys(draft, "site", site)
    yield (
        "\n[soil]" + " " * (_COLUMN - 6) + "# where the cable lies; for another than a mild climate"
    )
    yield "# give test_day, test_day_uncertainty and warmest, as the README says"
    yield "\n[controller]"
    yield from _keys(draft, "controller", {"description": "Two-wire controller"})
    yield "\n[supply]"
    mains = {"nominal_voltage": supply.mains, "lowest_below": "10 %"}
    yield from _keys(draft, "supply", mains)


def _outputs(draft: Draft) -> Iterator[str]:
    supply = draft.supply
    for place, output in enumerate(dict.fromkeys(path.output for path in draft.paths)):
        transformer = supply.transformers[min(place, len(supply.transformers) - 1)]
        yield "\n[[output]]"
        yield from _keys(draft, "output", {"id": output})
        for key, value in transformer.keys.items():
            yield _line(key, value, f"output.{key}", transformer.where.get(key, USUAL))
        rest = {"earthing": "floating", "stations_at_once": supply.stations_at_once}
        yield from _keys(draft, "output", rest)


def _kinds(draft: Draft) -> Iterator[str]:
    yield "\n# Kinds are described once, and referred to by the name in the brackets."
    kinds = draft.kinds
    for table, rows in (
        ("solenoid_kind", kinds.solenoid), ("decoder_kind", kinds.decoder),
        ("cable_kind", kinds.cable),
    ):  # fmt: skip
        for name, kind in rows.items():
            yield ""
            yield from kind_lines(table, name, kind, draft.where.get(f"{table}.{name}", USUAL))


def kind_lines(table: str, name: str, kind: Kind, where: str) -> Iterator[str]:
    """A kind as its table of a site file; `where` says where its data come from."""
    yield f"[{table}.{key_text(name)}]"
    for key, value in kind.items():
        yield _line(key, value, f"{table}.{key}", where)


def _path(draft: Draft, path: DraftPath) -> Iterator[str]:
    yield "\n[[path]]"
    keys: dict[str, object] = {"id": path.id, "output": path.output}
    keys |= {"new_cable": False} if path.conductors else {}
    yield from _keys(draft, "path", keys | {"cable": path.cable, "length_by": path.length_by})
    where = draft.where.get("path.segment", USUAL)
    yield _with_comment("segment = [", f"{WORDS['path.segment']} - {where}")
    for one in path.segments:
        row = {"from": one.from_box, "to": one.to_box, "length": one.length}
        if one.cable and one.cable != path.cable:
            row["cable"] = one.cable
        yield f"    {inline_text(row)},{f' # {one.where}' if one.where else ''}"
    yield "]"
    if path.conductors:
        where = draft.where.get("path.conductor", USUAL)
        yield _with_comment("conductor = [", f"{WORDS['path.conductor']} - {where}")
        for old in path.conductors:
            told: dict[str, object] = {"id": old.id}
            told |= {"cable": old.cable} if old.cable else {}
            told |= {"passes": list(old.passes)} if old.passes else {}
            yield f"    {inline_text(told)},"
        yield "]"


def _stations(draft: Draft) -> Iterator[str]:
    """The stations, below what their keys are: the same words behind each would be a wall."""
    yield "\n# A station is what answers at one address: a decoder in a box, with its solenoids."
    for key in _STATION_KEYS:
        if key != "waters" or any(station.waters for station in draft.stations):
            where = draft.where.get(f"station.{key}", USUAL)
            yield from comment(f"  {key:<9} {WORDS[f'station.{key}']} - {where}")
    for station in draft.stations:
        yield from _station(station)


def _station(station: DraftStation) -> Iterator[str]:
    first = f"V{station.number}"
    ids = [first] if station.solenoids == 1 else [
        f"{first}{chr(97 + n)}" for n in range(station.solenoids)
    ]  # fmt: skip
    solenoids = ", ".join(inline_text({"id": one, "kind": station.solenoid}) for one in ids)
    keys = {
        "id": f"S{station.number}", "number": station.number, "address": station.address,
        "path": station.path, "box": station.box, "decoder": station.decoder,
    }  # fmt: skip
    yield f"\n[[station]]{f' # {station.where}' if station.where else ''}"
    for key, value in keys.items():
        yield pair(key, value)
    yield f"solenoid = [{solenoids}]"
    if station.waters:
        yield f"waters = {value_text(station.waters)}"


def _keys(draft: Draft, table: str, keys: Mapping[str, object]) -> Iterator[str]:
    for key, value in keys.items():
        yield _line(key, value, f"{table}.{key}", draft.where.get(f"{table}.{key}", USUAL))


def _line(key: str, value: object, what: str, where: str) -> str:
    """A key with what it is and where its value comes from: behind it, or above a long one."""
    return _with_comment(pair(key, value), f"{WORDS[what]} - {where}")


def _with_comment(text: str, words: str) -> str:
    (said,) = comment(words)
    line = f"{text:<{_COLUMN - 1}} {said}"
    return line if len(line) <= _MAX_LINE and "\n" not in text else f"{said}\n{text}"
