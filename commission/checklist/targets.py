"""The things of a site that a step is about: the job, a path, an end, a box, a station."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace

from commission.checklist.schema import ENCLOSING, Scope
from commission.site.schema import ROOT, Path, Site
from commission.site.tree import PathTree

MAX_LABEL = 24  # characters of a label shown beside an id


@dataclass(frozen=True, slots=True)
class Target:
    """What one step is about: the ids that apply, the others empty; `label` is for people.

    A worst set has its stations in `stations`, the one with the lowest voltage last.
    """

    scope: Scope
    output: str = ""
    path: str = ""
    box: str = ""
    station: str = ""
    stations: tuple[str, ...] = ()
    label: str = ""

    def place(self, scope: Scope | None = None) -> str:
        """The front of a step id here, or at the enclosing `scope`: "path/A/end/B12"."""
        scope = scope or self.scope
        if scope == "worst-set":
            return f"output/{self.output}/together"
        if scope == "output":
            return f"output/{self.output}"
        if scope == "path":
            return f"path/{self.path}"
        if scope in ("box", "end"):
            return f"path/{self.path}/{scope}/{self.box}"
        return f"station/{self.station}" if scope == "station" else scope

    def encloses(self, other: Target) -> bool:
        """Whether `other` is this thing or lies in it."""
        if self.scope == other.scope:
            return self.place() == other.place()
        return self.scope in ENCLOSING[other.scope] and self.place() == other.place(self.scope)

    def related(self, other: Target) -> bool:
        """Whether one of the two lies in the other, or both are the same."""
        return self.encloses(other) or other.encloses(self)


def called(identity: str, label: str) -> str:
    """An id with its label, where it has one: "A (north lawn)"."""
    return identity if label in ("", identity) else f"{identity} ({label[:MAX_LABEL]})"


class Targets:
    """All targets of a site by scope, in the order in which they are walked."""

    def __init__(
        self,
        site: Site,
        trees: Mapping[str, PathTree],
        worst_sets: Mapping[str, tuple[str, ...]],
    ) -> None:
        self._by_scope: dict[Scope, list[Target]] = {scope: [] for scope in ENCLOSING}
        self._by_scope["job"] = [Target("job", label="Job")]
        self._by_scope["controller"] = [Target("controller", label="Controller")]
        for output in site.output:
            label = f"Output {called(output.id, output.label)}"
            self._add(Target("output", output.id, label=label))
            together = worst_sets.get(output.id, ())
            if together:
                label = f"{label}, together"
                self._add(Target("worst-set", output.id, stations=together, label=label))
        for path in site.path:
            self._add_path(path, trees[path.id])
        paths = {path.id: path for path in site.path}
        for station in sorted(site.station, key=lambda station: station.number):
            path = paths[station.path]
            self._add(
                Target(
                    "station", path.output, path.id, station.box, station.id,
                    label=f"Station {station.number}, path {path.id}, box {station.box}",
                )
            )  # fmt: skip

    def _add(self, target: Target) -> None:
        self._by_scope[target.scope].append(target)

    def _add_path(self, path: Path, tree: PathTree) -> None:
        labels = {box.id: box.label for box in path.box}
        whole = Target("path", path.output, path.id, label=f"Path {called(path.id, path.label)}")
        self._add(whole)
        ends = set(tree.ends())
        for box in tree.boxes:
            if box == ROOT:
                continue
            name = called(box, labels.get(box, ""))
            self._add(replace(whole, scope="box", box=box, label=f"Path {path.id}, box {name}"))
            if box in ends:
                self._add(replace(whole, scope="end", box=box, label=f"Path {path.id}, end {name}"))

    def within(self, whole: Target, scope: Scope) -> list[Target]:
        """The targets of a scope that lie in `whole`, in walking order."""
        if scope == whole.scope:
            return [whole]
        return [target for target in self._by_scope[scope] if whole.encloses(target)]

    def all(self, scope: Scope) -> list[Target]:
        """All targets of a scope, in walking order."""
        return self._by_scope[scope]
