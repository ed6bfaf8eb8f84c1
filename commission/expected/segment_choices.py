"""The segments of an output that could be enlarged, and the sizes to which."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import TypeAlias

from commission.electrical.segments import Segment as Cable
from commission.expected.inputs import Stretch, conductor
from commission.expected.model import OutputModel
from commission.expected.sizes import area_m2, larger
from commission.site.schema import CableKind, Segment, Site

Rungs: TypeAlias = tuple[int, ...]  # of every choice, which of its rungs is taken


@dataclass(frozen=True, slots=True)
class Rung:
    """One cable for a segment: its size, the copper that it adds, its loop impedance.

    `kind` describes both its conductors; None is the cable as drawn.
    """

    size: str
    kind: CableKind | None
    copper_m3: float
    z_ohm: complex


@dataclass(frozen=True, slots=True)
class Choice:
    """A segment, found by the box that it feeds, with its cable as drawn and every larger one."""

    path: str
    box: str
    node: int
    length_m: float
    rungs: tuple[Rung, ...]


def choices_of(model: OutputModel) -> tuple[Choice, ...]:
    """Every segment of an output that leads to a station, with its rungs; others do not matter."""
    trees = model.drawing.trees
    feeding = {
        (station.path, segment.to_box)
        for station in model.stations
        for segment in trees[station.path].route(station.box)
    }
    return tuple(
        Choice(
            path, box, node, trees[path].feeds[box].length_m,
            _rungs(model, model.drawing.stretch(path, trees[path].feeds[box])),
        )
        for (path, box), node in model.nodes.items()
        if (path, box) in feeding
    )  # fmt: skip


def _rungs(model: OutputModel, stretch: Stretch) -> tuple[Rung, ...]:
    """The cable as drawn, then equal pairs, each with less resistance than the one before.

    A pair of two sizes goes to the larger of the two first.
    """
    site = model.drawing.site
    kinds = [site.cable_kind[name] for name in stretch.kinds]
    sizes = list(dict.fromkeys(kind.conductor for kind in kinds))
    found = [Rung(" + ".join(sizes), None, 0.0, model.z_ohm(stretch))]
    thicker = max(kinds, key=lambda kind: area_m2(kind.conductor))
    plain = CableKind(conductor=thicker.conductor, stranded=thicker.stranded)
    drawn_m2 = sum(area_m2(kind.conductor) for kind in kinds)
    length_m = stretch.cable.length_m
    for kind in (*([plain] if len(sizes) > 1 else []), *larger(thicker)):
        one = conductor(kind, site.site.frequency_hz)
        z_ohm = model.z_ohm(replace(stretch, cable=Cable(length_m, one, one)))
        if z_ohm.real < found[-1].z_ohm.real:
            added_m2 = 2 * area_m2(kind.conductor) - drawn_m2
            found.append(Rung(kind.conductor, kind, length_m * added_m2, z_ohm))
    return tuple(found)


def enlarged(site: Site, choices: Sequence[Choice], rungs: Rungs) -> Site:
    """The site as it would be with these rungs: new cable kinds, named by the segments."""
    taken = {
        (choice.path, choice.box): kind
        for choice, rung in zip(choices, rungs, strict=True)
        if (kind := choice.rungs[rung].kind) is not None
    }
    names = {
        kind: f"enlarged: {kind.conductor}{' stranded' if kind.stranded else ''}"
        for kind in taken.values()
    }

    def cable(path: str, segment: Segment) -> Segment:
        kind = taken.get((path, segment.to_box))
        return segment if kind is None else replace(segment, cable=(names[kind],) * 2)

    return replace(
        site,
        cable_kind={**site.cable_kind, **{name: kind for kind, name in names.items()}},
        path=tuple(
            replace(path, segment=tuple(cable(path.id, one) for one in path.segment))
            for path in site.path
        ),
    )
