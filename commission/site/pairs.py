"""The pairs chosen out of an old bundle, put into the segments that they carry."""

from __future__ import annotations

from dataclasses import replace

from commission.site.schema import ChosenPair, Path, Segment, Site


def with_pairs(site: Site) -> Site:
    """The site with each chosen pair's cable in its segment; the same site without any."""
    if not site.pair:
        return site
    chosen = {(pair.path, pair.box): pair for pair in site.pair}
    return replace(site, path=tuple(_path(path, chosen) for path in site.path))


def _path(path: Path, chosen: dict[tuple[str, str], ChosenPair]) -> Path:
    segments = (_segment(one, chosen.get((path.id, one.to_box))) for one in path.segment)
    return replace(path, segment=tuple(segments))


def _segment(segment: Segment, pair: ChosenPair | None) -> Segment:
    if pair is None:
        return segment
    return replace(segment, cable=pair.cable, length_by=pair.length_by)
