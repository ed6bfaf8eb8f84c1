"""A site as a tree and a table in one: a line for each path, box and station."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator
from dataclasses import dataclass

from commission.picture import TreeLine, tree_lines
from commission.site.schema import ROOT, Path, Site, Station
from commission.site.tree import PathTree, build_tree
from commission.units import length_words


@dataclass(frozen=True, slots=True)
class Row:
    """One line: what it is of, as drawn on the left, and its columns.

    Ids that do not apply are empty; a row of the terminals has neither box nor station.
    """

    kind: str  # "path", "box" or "station"
    drawn: str
    columns: tuple[str, str, str]
    path: str = ""
    box: str = ""
    station: str = ""

    @property
    def key(self) -> str:
        """Names the line; the same for the same thing in any version of the site."""
        return f"station/{self.station}" if self.station else f"{self.path}/{self.box}"


def site_rows(site: Site) -> tuple[Row, ...]:
    """All lines, path after path, boxes as they are drawn, the stations of each below it."""
    stations: dict[tuple[str, str], list[Station]] = defaultdict(list)
    for station in sorted(site.station, key=lambda one: one.number):
        stations[station.path, station.box].append(station)
    return tuple(
        row for path in site.path for row in _path_rows(site, path, build_tree(path), stations)
    )


def _path_rows(
    site: Site, path: Path, tree: PathTree, stations: dict[tuple[str, str], list[Station]]
) -> Iterator[Row]:
    units, labels = site.site.units, {box.id: box.label for box in path.box}
    whole = sum(segment.length_m for segment in path.segment)
    name = f"Path {path.id} of output {path.output}  {path.label}".rstrip()
    about = (length_words(whole, units), " / ".join(dict.fromkeys(path.cable)), path.length_by)
    yield Row("path", name, about, path.id)
    for line in tree_lines(tree):
        if line.box != ROOT:
            yield _box_row(path, tree, line, labels.get(line.box, ""), units)
        below = f"  {line.below}   "
        for station in stations.get((path.id, line.box), ()):
            yield _station_row(path, station, below)


def _box_row(path: Path, tree: PathTree, line: TreeLine, label: str, units: str) -> Row:
    segment = tree.feeds[line.box]
    cable = " / ".join(dict.fromkeys(segment.cable or path.cable))
    length = length_words(segment.length_m, units)
    columns = (length, cable, segment.length_by or path.length_by)
    drawn = f"  {line.branch}{line.box}  {label}".rstrip()
    return Row("box", drawn, columns, path.id, line.box)


def _station_row(path: Path, station: Station, below: str) -> Row:
    coils = [one.kind for one in station.solenoid]
    kinds = ", ".join(
        f"{coils.count(kind)} {kind}" if coils.count(kind) > 1 else kind
        for kind in dict.fromkeys(coils)
    )
    drawn = f"{below}station {station.number}  {station.label}".rstrip()
    columns = (f"address {station.address}", station.decoder, kinds)
    return Row("station", drawn, columns, path.id, station.box, station.id)
