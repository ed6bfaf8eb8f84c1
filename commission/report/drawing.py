"""The drawing as designed and as found, side by side, where changes were recorded on site."""

from __future__ import annotations

from typing import Any

from commission.job import Job
from commission.site.schema import Path, Site

REMARK = (
    "expected values, steps and the verdict go by the drawing as found; `files.site` is the one as "
    "designed, and `redraws` of each change leads from it to the other"
)


def drawing_table(job: Job) -> dict[str, Any]:
    """Both drawings path by path, each with its cables and stations; empty where none changed."""
    if not job.redrawn_by:
        return {}
    return {
        "remark": REMARK,
        "changed_by_entries": list(job.redrawn_by),
        "as_designed": _paths(job.designed),
        "as_found": _paths(job.site),
    }


def _paths(site: Site) -> list[dict[str, Any]]:
    return [
        {
            "path": path.id,
            "label": path.label,
            "cables": _cables(path),
            "boxes": [
                {"id": box.id, "label": box.label, "location": box.location} for box in path.box
            ],
            "stations": [
                {"number": s.number, "id": s.id, "address": s.address, "box": s.box}
                | {"label": s.label}
                for s in site.station
                if s.path == path.id
            ],
        }
        for path in site.path
    ]


def _cables(path: Path) -> list[dict[str, Any]]:
    return [
        {
            "from": segment.from_box,
            "to": segment.to_box,
            "length_m": segment.length_m,
            "length_by": segment.length_by or path.length_by,
            "cable": " and ".join(dict.fromkeys(segment.cable or path.cable)),
        }
        for segment in path.segment
    ]
