"""`commission schema`: JSON Schemas of the files that people write, for their editors."""

from __future__ import annotations

import argparse
import json
from typing import Any

from commission.commands.say import say
from commission.problems import EXIT_DONE
from commission.shapes import json_schema

DIALECT = "https://json-schema.org/draft/2020-12/schema"


def run(options: argparse.Namespace) -> int:
    """Print the schema of a site file or a checklist."""
    say(json.dumps(schema_of(options.what), indent=2, ensure_ascii=False))
    return EXIT_DONE


def schema_of(what: str) -> dict[str, Any]:
    """The JSON Schema of "site" or "checklist" as a dictionary."""
    if what == "site":
        from commission.site.schema import Site as Shape
    else:
        from commission.checklist.schema import (  # type: ignore[assignment]
            Checklist as Shape,
        )
    return {"$schema": DIALECT, "title": f"commission {what}", **json_schema(Shape)}
