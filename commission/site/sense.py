"""What one table of a site file must make sense of by itself: outputs, earth, and the kinds.

Works on the raw tables, as `relations` does; what is not of the right shape is passed over here,
the schema says it.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping

from commission.electrical.conductors import MAX_METRIC_OHM_PER_KM
from commission.site.sense_earth import of_earth
from commission.site.tables import Finding, Row, rows_of, si
from commission.text import clean, visible
from commission.toml_place import Location

THINNEST_AWG = 22
_GAUGES = f"valid: 4/0 to {THINNEST_AWG} AWG"
_SOURCE = ("open_circuit_voltage", "source_resistance", "source_reactance")


def of_tables(table: Row) -> Iterator[Finding]:
    """Everything that makes no sense within one table of a raw site file."""
    for place, row in rows_of(table, "output"):
        yield from _of_output(place, row)
    earth = table.get("earth")
    if isinstance(earth, Mapping):
        if _is_odd_gauge(earth.get("conductor")):
            size = visible(earth["conductor"], 40)
            yield ("earth", "conductor"), f"'{size}' is not a wire gauge", _GAUGES
        yield from of_earth(earth)
    for what in ("cable_kind", "decoder_kind", "solenoid_kind"):
        kinds = table.get(what)
        for name, row in kinds.items() if isinstance(kinds, Mapping) else ():
            yield from _of_kind_name((what, name), name)
            if what == "cable_kind" and isinstance(row, Mapping):
                yield from _of_cable((what, name), row)
            elif what == "solenoid_kind" and isinstance(row, Mapping):
                yield from _of_solenoid((what, name), row)


def _of_output(place: Location, row: Row) -> Iterator[Finding]:
    is_rated = "rating" in row or "rated_current" in row
    by_source = "open_circuit_voltage" in row and "source_resistance" in row
    if not by_source and not ("regulation" in row and is_rated):
        yield (place, "the source is not given completely",
               "give regulation with rating (or rated_current), or "
               "open_circuit_voltage with source_resistance")  # fmt: skip
    elif not is_rated:
        yield place, "what the output may carry is missing", "give rating or rated_current"
    if "regulation" in row and any(key in row for key in _SOURCE):
        yield ((*place, "regulation"), "the source is given twice",
               f"leave out regulation, or {', '.join(_SOURCE)}")  # fmt: skip
    if row.get("earthing") == "impedance" and "earthing_impedance" not in row:
        yield place, "earthing_impedance is missing", "give it, or another earthing"
    elif row.get("earthing") != "impedance" and "earthing_impedance" in row:
        yield ((*place, "earthing_impedance"), "an impedance that nothing goes through",
               'leave it out, or give earthing = "impedance"')  # fmt: skip


def _of_kind_name(place: Location, name: str) -> Iterator[Finding]:
    try:
        right = 0 < len(name) <= 60 and clean(name) == name
    except ValueError as error:
        yield place, f"the kind's name: {error}", ""
        return
    if not right:
        yield place, "a kind's name has 1 to 60 characters and no blanks around it", ""


def _is_odd_gauge(size: object) -> bool:
    """Whether a size is written as a gauge, and is none that buried conductors come in."""
    number, _, unit = size.partition(" ") if isinstance(size, str) else ("", "", "")
    return unit == "AWG" and number.isascii() and number.isdigit() and int(number) > THINNEST_AWG


def _is_standard_mm2(number: str) -> bool:
    """Whether IEC 60228 knows this size; what is no number at all is the schema's to tell."""
    if not number.replace(".", "", 1).isdecimal():
        return True
    return float(number) in MAX_METRIC_OHM_PER_KM


def _of_cable(place: Location, row: Row) -> Iterator[Finding]:
    size = row.get("conductor")
    if "resistance" in row or not isinstance(size, str):
        return
    number, _, unit = size.partition(" ")
    if _is_odd_gauge(size):
        yield ((*place, "conductor"), f"'{visible(size, 40)}' is not a wire gauge here",
               f"{_GAUGES}, or give its resistance")  # fmt: skip
    elif unit in ("mm²", "mm2") and not _is_standard_mm2(number):
        known = ", ".join(f"{one:g}" for one in MAX_METRIC_OHM_PER_KM)
        yield ((*place, "conductor"), f"'{visible(size, 40)}' is not a standard size",
               f"valid: {known} mm², or give its resistance")  # fmt: skip


def _of_solenoid(place: Location, row: Row) -> Iterator[Finding]:
    inrush = si(row.get("inrush_current"), "current")
    holding = si(row.get("holding_current"), "current")
    rated = si(row.get("rated_voltage", "24 V"), "voltage")
    coil = si(row.get("coil_resistance"), "resistance")
    minimum = si(row.get("min_voltage", "20 V"), "voltage")
    if inrush and holding and holding > inrush > 0:
        yield ((*place, "holding_current"), "holding current above inrush current",
               "change them over?")  # fmt: skip
    if coil and inrush and rated and coil > rated / inrush > 0:
        yield ((*place, "coil_resistance"),
               f"more than {rated / inrush:.3g} ohm cannot draw the inrush current",
               "the d.c. resistance is below rated voltage over inrush current")  # fmt: skip
    if minimum is not None and rated is not None and minimum > rated:
        yield (*place, "min_voltage"), "the minimum is above the rated voltage", ""
