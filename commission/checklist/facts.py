"""Facts of the site that a condition may name, decided when the steps are planned."""

from __future__ import annotations

from collections.abc import Mapping
from functools import cached_property

from commission.checklist.schema import Condition, Fact, JobKind
from commission.checklist.targets import Target
from commission.site.schema import Path, Site, Station
from commission.site.tree import PathTree


class Facts:
    """Whether conditions on the site hold at a target.

    A fact of paths, outputs or stations is true of a wider thing when it is true of any of them
    within it.
    """

    def __init__(self, site: Site, trees: Mapping[str, PathTree], job: JobKind) -> None:
        self._site = site
        self._trees = trees
        self._job = job

    def holds(self, condition: Condition, target: Target) -> bool:
        """Whether a condition that names a fact is met at a target."""
        if condition.fact == "job.kind":
            return self._job in condition.wanted
        return condition.fact is not None and self._true(condition.fact, target) == condition.equals

    def _true(self, fact: Fact, target: Target) -> bool:
        whole = self._of_the_site.get(fact)
        if whole is not None:
            return whole
        if fact == "path.new_cable":
            return any(path.new_cable for path in self._paths(target))
        if fact == "path.branched":
            return any(self._trees[path.id].branched for path in self._paths(target))
        if fact == "path.bundle":
            return any(path.conductor for path in self._paths(target))
        if fact == "station.two_solenoids":
            return any(len(station.solenoid) > 1 for station in self._stations(target))
        return any(
            output.earthing == "floating"
            for output in self._site.output
            if target.output in ("", output.id)
        )

    @cached_property
    def _of_the_site(self) -> dict[Fact, bool]:
        site = self._site
        return {
            "controller.path_electrodes": site.controller.path_electrodes,
            "controller.surge_arresters": site.controller.surge_arresters,
            "controller.address_check": site.controller.address_check,
            "site.several_paths": len(site.path) > 1,
            "site.several_outputs": len(site.output) > 1,
            "earth.several_rods": sum(electrode.count for electrode in site.earth.electrode) > 1,
        }

    def _paths(self, target: Target) -> list[Path]:
        return [
            path
            for path in self._site.path
            if target.path in ("", path.id) and target.output in ("", path.output)
        ]

    def _stations(self, target: Target) -> list[Station]:
        paths = {path.id for path in self._paths(target)}
        return [
            station
            for station in self._site.station
            if station.path in paths
            and target.box in ("", station.box)
            and target.station in ("", station.id)
        ]
