"""JSON Schemas of the files that people write, for editors that know TOML.

The published files lie beside this one and a test keeps them as they are made here. They say less
than the program: what holds between tables (references, trees, addresses) only `commission check`
can tell.
"""

from __future__ import annotations

import json
from typing import Any, Literal

from commission.shapes import json_schema
from commission.units import SI_UNIT

DIALECT = "https://json-schema.org/draft/2020-12/schema"
Kind = Literal["site", "checklist"]


def schema_of(kind: Kind) -> dict[str, Any]:
    """The JSON Schema (draft 2020-12) of site files or of checklists, by the keys of the file."""
    shape: Any
    if kind == "site":
        from commission.site.schema import Site

        shape = Site
    else:
        from commission.checklist.schema import Checklist

        shape = Checklist
    return {"$schema": DIALECT, "title": f"commission {kind}", **_tidied(json_schema(shape))}


def schema_text(kind: Kind) -> str:
    """The text of a published schema file."""
    return json.dumps(schema_of(kind), indent=2, ensure_ascii=False) + "\n"


def _tidied(node: dict[str, Any]) -> dict[str, Any]:
    """A schema as it suits TOML: nothing is null, and a default is what one would write."""
    tidy = {key: value for key, value in node.items() if key != "title"}
    choices = [one for one in tidy.pop("anyOf", []) if one != {"type": "null"}]
    if len(choices) == 1:
        tidy |= choices[0]
    elif choices:
        tidy["anyOf"] = choices
    for names in ("$defs", "properties"):
        if names in tidy:
            tidy[names] = {name: _tidied(one) for name, one in tidy[names].items()}
    for inner in ("items", "additionalProperties"):
        if isinstance(tidy.get(inner), dict):
            tidy[inner] = _tidied(tidy[inner])
    return _with_default(tidy)


def _with_default(node: dict[str, Any]) -> dict[str, Any]:
    default = node.pop("default", None)
    if default is None or default in ("", [], {}):
        return node
    if isinstance(default, float):  # a quantity, held as a number, written with its unit
        quantity = node["description"].partition(",")[0]
        default = f"{default:g} {SI_UNIT[quantity]}".strip()
    return {**node, "default": default}
