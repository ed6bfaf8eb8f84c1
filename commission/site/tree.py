"""The paths of a site as trees of boxes: routes, ends, distances. Pure, linear, no recursion."""

from __future__ import annotations

from dataclasses import dataclass

from commission.site.schema import ROOT, Path, Segment, Site


@dataclass(frozen=True, slots=True)
class PathTree:
    """One path: its boxes in walking order from the output terminals, and what feeds each.

    `boxes` starts with ROOT; `feeds` maps every other box to the segment that feeds it;
    `children` maps a box to the boxes fed from it, in the order of the file.
    """

    path: str
    boxes: tuple[str, ...]
    feeds: dict[str, Segment]
    children: dict[str, tuple[str, ...]]
    distances_m: dict[str, float]

    def route(self, box: str) -> tuple[Segment, ...]:
        """The segments from the output terminals to a box; KeyError for a box not on the path."""
        found: list[Segment] = []
        while box != ROOT:
            segment = self.feeds[box]
            found.append(segment)
            box = segment.from_box
        return tuple(reversed(found))

    def ends(self) -> tuple[str, ...]:
        """The leaves of the path, in walking order."""
        return tuple(box for box in self.boxes if not self.children[box])

    def distance_m(self, box: str) -> float:
        """Length of cable from the output terminals to a box, in m."""
        return self.distances_m[box]

    @property
    def branched(self) -> bool:
        """Whether any box feeds more than one other."""
        return any(len(below) > 1 for below in self.children.values())


def build_tree(path: Path) -> PathTree:
    """The tree of one path that `load_site` has accepted."""
    below: dict[str, list[str]] = {ROOT: []}
    feeds = {}
    for segment in path.segment:
        below.setdefault(segment.from_box, []).append(segment.to_box)
        below.setdefault(segment.to_box, [])
        feeds[segment.to_box] = segment
    boxes: list[str] = []
    waiting = [ROOT]
    while waiting:
        box = waiting.pop()
        boxes.append(box)
        waiting.extend(reversed(below[box]))
    distances_m = {ROOT: 0.0}
    for box in boxes[1:]:
        distances_m[box] = distances_m[feeds[box].from_box] + feeds[box].length_m
    children = {box: tuple(below[box]) for box in boxes}
    return PathTree(path.id, tuple(boxes), feeds, children, distances_m)


def build_trees(site: Site) -> dict[str, PathTree]:
    """The trees of all paths of a site, by path id."""
    return {path.id: build_tree(path) for path in site.path}
