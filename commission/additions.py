"""What is new or changed in a drawing since the report that a job follows, in words."""

from __future__ import annotations

from dataclasses import replace

from commission.checklist.targets import Target
from commission.job import Job
from commission.site.schema import Segment, Site, Station


def added_at(job: Job, target: Target) -> str | None:
    """What is new or changed at a path, box or station; "" for nothing.

    None where the job follows no report, or the target is of another kind.
    """
    if job.earlier is None:
        return None
    then, now = job.earlier.site, job.site
    if target.scope == "station":
        return _station(then, now, target.station)
    if target.scope == "box":
        return _box(then, now, target.path, target.box)
    if target.scope == "path":
        boxes = [s.to_box for path in now.path if path.id == target.path for s in path.segment]
        new = [box for box in boxes if _box(then, now, target.path, box)]
        gone = _segments(then, target.path).keys() - _segments(now, target.path).keys()
        parts = [f"new or changed: {', '.join(new)}"] if new else []
        parts += [f"gone: {', '.join(sorted(gone))}"] if gone else []
        return "; ".join(parts)
    return None


def _box(then: Site, now: Site, path: str, box: str) -> str:
    """A box is opened where it is new, where a cable from or to it is another, or a station."""
    before, after = _segments(then, path), _segments(now, path)
    if box not in before:
        return "not in the earlier drawing"
    if before[box] != after[box]:
        return "its cable is another than in the earlier drawing"
    below = {one.to_box for one in before.values() if one.from_box == box}
    if below != {one.to_box for one in after.values() if one.from_box == box}:
        return "it feeds other boxes than in the earlier drawing"
    stations = [{s.id: _plain(s) for s in site.station if s.path == path and s.box == box}
                for site in (then, now)]  # fmt: skip
    return "" if stations[0] == stations[1] else "its stations differ from the earlier drawing"


def _station(then: Site, now: Site, identity: str) -> str:
    before, after = (
        next((_plain(s) for s in site.station if s.id == identity), None) for site in (then, now)
    )
    if before is None:
        return "not in the earlier drawing"
    return "" if before == after else "another box, address, decoder or solenoid than earlier"


def _plain(station: Station) -> Station:
    """A station without what is only said of it."""
    return replace(station, label="", waters="", decoder_serial="")


def _segments(site: Site, path: str) -> dict[str, Segment]:
    """Box to the cable that leads to it, its path's defaults resolved."""
    return {
        s.to_box: replace(s, cable=s.cable or one.cable, length_by=s.length_by or one.length_by)
        for one in site.path
        if one.id == path
        for s in one.segment
    }
