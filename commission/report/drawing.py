"""The drawing as designed and as found, side by side, where changes were recorded on site."""

from __future__ import annotations

from typing import Any

from commission.job import Job
from commission.redrawn import changes_of
from commission.site.changes.kinds import ChangeStation
from commission.site.schema import Path, Site, Station

REMARK = (
    "expected values, steps and the verdict go by the drawing as found; `files.site` is the one as "
    "designed, and `redraws` of each change leads from it to the other"
)


def drawing_table(job: Job) -> dict[str, Any]:
    """Both drawings path by path, each with its cables and stations; empty where none changed.

    What stations are made of stands there where that was changed.
    """
    if not job.redrawn_by:
        return {}
    parts = any(isinstance(change, ChangeStation) for change in changes_of(job))
    return {
        "remark": REMARK,
        "changed_by_entries": list(job.redrawn_by),
        "as_designed": _paths(job.designed, parts=parts),
        "as_found": _paths(job.site, parts=parts),
    }


def _paths(site: Site, *, parts: bool) -> list[dict[str, Any]]:
    """`parts`: what each station is made of is told too."""
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
                | (_parts(s) if parts else {})
                for s in site.station
                if s.path == path.id
            ],
        }
        for path in site.path
    ]


def _parts(station: Station) -> dict[str, Any]:
    return {"decoder": station.decoder, "solenoids": [one.kind for one in station.solenoid]}


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
