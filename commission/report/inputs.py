"""The resolved site as numbers: every input and default in SI, and the site made from them again.

`[inputs]` mirrors the site's own structure; a name that ends in a unit is SI. What is not known is
left out. `site_of_inputs` undoes `inputs_table`, so that a report can be recomputed alone.
"""

from __future__ import annotations

from dataclasses import asdict
from typing import Any

from commission.expected.sheet import Sheet
from commission.shapes import build_from_values
from commission.site.schema import Site


def inputs_table(site: Site) -> dict[str, Any]:
    """Every value of a site with its defaults resolved, SI, full precision."""
    return _plain(asdict(site))  # type: ignore[no-any-return]


def _plain(value: Any) -> Any:
    """Lists for tuples, and nothing for None: what TOML gives back."""
    if isinstance(value, dict):
        return {key: _plain(member) for key, member in value.items() if member is not None}
    if isinstance(value, (list, tuple)):
        return [_plain(member) for member in value]
    return value


def site_of_inputs(table: dict[str, Any]) -> Site:
    """The site that `inputs_table` was made from; a key that is no field is a ValueError."""
    return build_from_values(Site, table)


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
