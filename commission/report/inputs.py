"""The resolved site as numbers: every input and default in SI, and the site made from them again.

`[inputs]` mirrors the site's own structure; a name that ends in a unit is SI. What is not known is
left out. `site_of_inputs` undoes `inputs_table`, so that a report can be recomputed alone.
"""

from __future__ import annotations

from types import UnionType
from typing import Any, Union, get_args, get_origin

from commission.electrical import conductors, segments
from commission.electrical.sources import FORMULA_SET
from commission.expected.inputs import LENGTH_ERROR
from commission.expected.sheet import Sheet
from commission.files import Table
from commission.site.schema import Site


def inputs_table(site: Site) -> dict[str, Any]:
    """Every value of a site with its defaults resolved, SI, full precision."""
    return _plain(site.model_dump(exclude_none=True))  # type: ignore[no-any-return]


def _plain(value: Any) -> Any:
    """Lists for tuples: what TOML gives back."""
    if isinstance(value, dict):
        return {key: _plain(member) for key, member in value.items()}
    if isinstance(value, (list, tuple)):
        return [_plain(member) for member in value]
    return value


def site_of_inputs(table: dict[str, Any]) -> Site:
    """The site that `inputs_table` was made from; a key that is no field is a ValueError."""
    site = _model(Site, table)
    assert isinstance(site, Site)
    return site


def _model(kind: type[Table], table: dict[str, Any]) -> Table:
    unknown = table.keys() - kind.model_fields.keys()
    if unknown:
        raise ValueError(f"unknown input: {', '.join(sorted(unknown))}")
    values = {}
    for name, field in kind.model_fields.items():
        if name in table:
            values[name] = _value(field.annotation, table[name])
        elif field.is_required():
            raise ValueError(f"missing input: {name}")
        else:
            values[name] = field.get_default()
    # Not by alias: aliases are the names in a site file, where quantities are texts.
    made = kind.model_construct()
    object.__setattr__(made, "__dict__", values)
    return made


def _value(annotation: Any, value: Any) -> Any:
    """A value as its field holds it: tables, tuples and dictionaries of them, or itself."""
    if isinstance(annotation, type) and issubclass(annotation, Table):
        return _model(annotation, value)
    origin, arguments = get_origin(annotation), get_args(annotation)
    if origin is tuple:
        return tuple(_value(arguments[0], member) for member in value)
    if origin is dict:
        return {key: _value(arguments[1], member) for key, member in value.items()}
    if origin in (Union, UnionType):
        return _value(next(a for a in arguments if a is not type(None)), value)
    return value


def constants_table() -> dict[str, Any]:
    """The numbers that no site file sets: copper, gauges, joints, errors of lengths."""
    return {
        "formula_set": FORMULA_SET,
        "copper_ohm_m": conductors.COPPER_OHM_M,
        "copper_per_k": conductors.COPPER_PER_K,
        "stranded_over_solid": conductors.LAY_FACTOR,
        "gauge_tolerance": conductors.AWG_TOLERANCE,
        "metric_low": conductors.METRIC_LOW,
        "joint_ohm": segments.JOINT_OHM,
        "max_joint_ohm": segments.MAX_JOINT_OHM,
        "length_error": dict(LENGTH_ERROR),
    }


def conductor_tables(sheet: Sheet) -> list[dict[str, Any]]:
    """What each cable kind resolved to: nominal, interval and sizing value, kept apart."""
    return [
        {
            "cable": name,
            "size": conductor.size,
            "basis": conductor.basis,
            "r20_ohm_per_m": conductor.r20_ohm_per_m,
            "low_r20_ohm_per_m": conductor.low_r20_ohm_per_m,
            "high_r20_ohm_per_m": conductor.high_r20_ohm_per_m,
            "sizing_r20_ohm_per_m": conductor.sizing_r20_ohm_per_m,
            "x_ohm_per_m_per_hz": conductor.x_ohm_per_m_per_hz,
            "source": conductor.source,
        }
        for name, conductor in sheet.drawing.conductors.items()
    ]
