"""The register of what is buried: cable, boxes, joints and decoders, as drawn and as found."""

from __future__ import annotations

from typing import Any

from commission.job import Job, Status
from commission.report.sections import Tables, said_only
from commission.site.schema import Path


def register_table(job: Job) -> dict[str, Any]:
    """Everything below ground, to be found again: by path, box and station."""
    at = _by_place(job)
    return said_only(
        {
            "cable": _cables(job, at),
            "box": [box for path in job.site.path for box in _boxes(path, at)],
            "decoder": _decoders(job, at),
        }
    )


def _told(statuses: list[Status]) -> Tables:
    """What was written or picked at a place: serials, lots, kinds of connector, photos."""
    told = []
    for status in statuses:
        entry = status.entry
        if entry is None or entry.type != "answer" or entry.quantity:
            continue
        if status.step.item.answer in ("text", "choose") or entry.photo:
            told.append(
                said_only({"title": status.step.title, "answer": entry.text, "photo": entry.photo})
            )
    return told


At = dict[tuple[str, str, str], list[Status]]
_PLACES = {"path": "path", "box": "box", "end": "box", "station": "station"}


def _by_place(job: Job) -> At:
    """The steps of each place: of a path as a whole, of a box or end of it, of a station."""
    found: At = {}
    for status in job.statuses.values():
        target = status.step.target
        kind = _PLACES.get(target.scope)
        if kind is not None:
            place = {"path": "", "box": target.box, "station": target.station}[kind]
            found.setdefault((kind, target.path, place), []).append(status)
    return found


def _cables(job: Job, at: At) -> Tables:
    """The cable of each path by segment: kind, marking, length as drawn."""
    tables = []
    for path in job.site.path:
        kinds: dict[str, float] = {}
        for segment in path.segment:
            for kind in dict.fromkeys(segment.cable or path.cable):
                kinds[kind] = kinds.get(kind, 0.0) + segment.length_m
        for kind, length_m in kinds.items():
            cable = job.site.cable_kind[kind]
            tables.append(
                said_only(
                    {
                        "path": path.id,
                        "kind": kind,
                        "conductor": cable.conductor,
                        "marking": cable.marking,
                        "description": cable.description,
                        "length_m": length_m,
                        "new": path.new_cable,
                        "found": _told(at.get(("path", path.id, ""), [])),
                    }
                )
            )
    return tables


def _boxes(path: Path, at: At) -> Tables:
    """The boxes of a path: where they are, and the joints made in them."""
    known = {box.id: box for box in path.box}
    joints: dict[str, int] = {}
    for segment in path.segment:
        joints[segment.to_box] = joints.get(segment.to_box, 0) + 1
        joints[segment.from_box] = joints.get(segment.from_box, 0) + 1
    return [
        said_only(
            {
                "path": path.id,
                "box": box,
                "label": known[box].label if box in known else "",
                "location": known[box].location if box in known else "",
                "cables": joints[box],
                "found": _told(at.get(("box", path.id, box), [])),
            }
        )
        for box in dict.fromkeys(segment.to_box for segment in path.segment)
    ]


def _decoders(job: Job, at: At) -> Tables:
    """Every decoder with its address, box and serial."""
    return [
        said_only(
            {
                "station": station.number,
                "address": station.address,
                "path": station.path,
                "box": station.box,
                "kind": station.decoder,
                "serial": station.decoder_serial,
                "found": _told(at.get(("station", station.path, station.id), [])),
            }
        )
        for station in sorted(job.site.station, key=lambda station: station.number)
    ]
