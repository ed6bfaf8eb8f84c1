"""Putting things right at a practice: what can be done where, and what that leaves hidden.

A repair is a defect raised with the words of its place and of what was done there; the ground
changes when both are right. Taking it back brings the fault back.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final

from commission.job import Job
from commission.locate.faults import Fault, FaultKind
from commission.locate.words import Words
from commission.practice.truth import Truth
from commission.record.replay import Defect
from commission.site.schema import Site

PUT_RIGHT: Final = "put right"  # what is to be done, of a defect that is a repair
SEVERITY: Final = "does not work"
REPAIRS: Final[dict[str, frozenset[FaultKind]]] = {
    "a joint of the path remade": frozenset({"joint"}),
    "a broken conductor joined": frozenset({"open"}),
    "a short between the conductors removed": frozenset({"short"}),
    "a leak to earth mended": frozenset({"leak"}),
    "the decoder replaced": frozenset({"decoder dead"}),
    "the address set as drawn": frozenset({"wrong address", "same address", "swapped"}),
    "the solenoid replaced": frozenset({"solenoid open", "solenoid shorted"}),
    "the joint between decoder and solenoid remade": frozenset({"solenoid joint"}),
}
"""What can be done, in words, and the kinds of fault that it puts right."""


def places(site: Site) -> tuple[str, ...]:
    """Every place where something can be put right, in the drawing's words."""
    words = Words(site)
    segments = [("segment", path.id, s.to_box) for path in site.path for s in path.segment]
    boxes = [("box", *place[1:]) for place in segments]
    stations = [("station", station.id) for station in site.station]
    return tuple(words.place(place) for place in (*segments, *boxes, *stations))


def left(job: Job, truth: Truth) -> tuple[Fault, ...]:
    """The hidden faults that were not put right so far, told in the words of either drawing.

    What is hidden lies where the site was drawn; on site the drawing may have become another.
    """
    done = {(repair.where, repair.text) for repair in repairs(job)}
    said = (Words(job.designed), Words(job.site))
    return tuple(
        fault
        for fault in truth.faults
        if not any(
            (where, what) in done
            for words in said
            for where in _places_of(fault, words)
            for what, kinds in REPAIRS.items()
            if fault.kind in kinds
        )
    )


def repairs(job: Job) -> Iterator[Defect]:
    """The repairs of a practice that were not taken back."""
    for defect in job.state.defects.values():
        if defect.action == PUT_RIGHT and defect.state != "withdrawn":
            yield defect


def _places_of(fault: Fault, words: Words) -> Iterator[str]:
    """Where a fault is put right: its place, or either station of two; what is drawn of them."""
    stations = [("station", one) for one in (fault.station, fault.other) if one]
    for place in (fault.place, *stations):
        if words.knows(place):
            yield words.place(place)
