"""The sections of a described bundle with what the record says of each, decided one by one."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping
from dataclasses import dataclass

from commission.bundle.choice import decide
from commission.bundle.place import Lines, by_murray_m, by_varley_m
from commission.bundle.section import Conductor, Decision, Section, State, Test
from commission.electrical import conductors
from commission.electrical.instruments import half_width
from commission.expected.inputs import LENGTH_ERROR, conductor
from commission.record.entry import Entry
from commission.site.schema import ROOT, OldConductor, Path, Segment, Site
from commission.site.tree import build_tree
from commission.survey import PREFIX

Entries = Mapping[str, Entry]  # step id to its latest live answer, skip or "not applicable"


@dataclass(frozen=True, slots=True)
class Surveyed:
    """One section: its place in the drawing, its conductors, and what was decided of them."""

    path: Path
    segment: Segment
    conductors: Mapping[str, OldConductor]
    section: Section
    read: Mapping[Test, Entry]
    set_aside: tuple[str, ...]  # conductors of which a reading was skipped: never used
    is_dead: bool
    decision: Decision

    @property
    def done(self) -> bool:
        """Whether nothing more is to be read."""
        return self.is_dead and self.decision.next is None

    @property
    def place(self) -> str:
        """The front of the ids of its steps."""
        return f"{PREFIX}{self.path.id}/{self.segment.to_box}"

    @property
    def near(self) -> str:
        """Where one reads, for people."""
        return box_words(self.segment.from_box)

    @property
    def at_near(self) -> str:
        """The same, as where something is done."""
        box = self.segment.from_box
        return f"at {box_words(box)}" if box == ROOT else f"in {box_words(box)}"

    @property
    def far(self) -> str:
        """The other end, for people."""
        return box_words(self.segment.to_box)

    @property
    def loop(self) -> Entry | None:
        """The reading of the pair's loop; None without a pair."""
        pair = self.decision.pair
        if pair is None:
            return None
        there = self.read.get(Test("loop", *pair))
        return self.read[Test("loop", *reversed(pair))] if there is None else there

    @property
    def states(self) -> Mapping[str, State | str]:
        """Every conductor in the order of the file, and what is known of it."""
        known: dict[str, State | str] = dict(self.decision.states)
        return {name: known.get(name, "set aside") for name in self.conductors}

    @property
    def abandoned(self) -> tuple[str, ...]:
        """What is disconnected and capped in both boxes once there is a pair."""
        pair = self.decision.pair
        return tuple(name for name in self.conductors if pair and name not in pair)

    @property
    def to_place(self) -> tuple[str, str] | None:
        """A conductor that touches nothing and one that leaks, when there is no pair."""
        if not self.done or self.decision.pair:
            return None
        states = self.decision.states.items()
        spare = next((n for n, s in states if s not in ("leaks", "broken")), None)
        faulty = next((name for name, state in states if state == "leaks"), None)
        return (spare, faulty) if spare and faulty else None


def box_words(box: str) -> str:
    """A box as people say it."""
    return "the terminals" if box == ROOT else f"box {box}"


def reading_id(place: str, test: Test) -> str:
    """The permanent id of a reading's step."""
    return f"{place}/{test.kind}/{test.first}" + (f"/{test.second}" if test.second else "")


def test_of(step_id: str, place: str) -> Test | None:
    """The reading of a step's id; None for a step that is none of this section."""
    match step_id.removeprefix(f"{place}/").split("/"):
        case ["insulation", first]:
            return Test("insulation", first)
        case ["return", first]:
            return Test("return", first)
        case ["loop", first, second]:
            return Test("loop", first, second)
    return None


def surveyed(site: Site, entries: Entries) -> Iterator[Surveyed]:
    """Every section of every described bundle without a pair in the file, in walking order."""
    drawn = {(pair.path, pair.box) for pair in site.pair}
    for path in site.path:
        before: dict[str, tuple[str, str]] = {}
        tree = build_tree(path)
        for box in tree.boxes[1:] if path.conductor else ():
            if (path.id, box) not in drawn:
                segment = tree.feeds[box]
                found = _Reading(site, path, segment, entries).all(before.get(segment.from_box))
                if not found.conductors:
                    continue  # cable of its own lies there
                if found.decision.pair:
                    before[box] = found.decision.pair
                yield found


class _Reading:
    """Takes one section out of the record."""

    def __init__(self, site: Site, path: Path, segment: Segment, entries: Entries) -> None:
        self._site, self._path, self._segment, self._entries = site, path, segment, entries
        self._place = f"{PREFIX}{path.id}/{segment.to_box}"

    def all(self, before: tuple[str, str] | None) -> Surveyed:
        ends = {self._segment.from_box, self._segment.to_box}
        here = {
            one.id: one for one in self._path.conductor if not one.passes or ends <= {*one.passes}
        }
        read, aside = self._readings(here)
        section = self._section([one for one in here.values() if one.id not in aside], before)
        dead = self._entries.get(f"{self._place}/dead")
        return Surveyed(
            path=self._path,
            segment=self._segment,
            conductors=here,
            section=section,
            read=read,
            set_aside=aside,
            is_dead=dead is not None and dead.type == "answer" and dead.verdict == "pass",
            decision=decide(section, {test: _ohm(test, entry) for test, entry in read.items()}),
        )

    def _readings(
        self, here: Mapping[str, OldConductor]
    ) -> tuple[dict[Test, Entry], tuple[str, ...]]:
        """What was read, and whom skips leave out."""
        read: dict[Test, Entry] = {}
        aside: list[str] = []
        for step_id, entry in self._entries.items():
            test = test_of(step_id, self._place) if step_id.startswith(self._place) else None
            if test is None or not {test.first, test.second or test.first} <= here.keys():
                continue
            if entry.type == "answer":
                read[test] = entry
            else:
                aside.append(test.second or test.first)
        for test in [test for test in read if {test.first, test.second} & {*aside}]:
            del read[test]
        return read, tuple(dict.fromkeys(aside))

    def _section(self, here: list[OldConductor], before: tuple[str, str] | None) -> Section:
        """The thickest conductors first, among those alike the ones that lead here already."""
        rows = [(high_ohm(self._site, self._path, self._segment, one), one.id) for one in here]
        rows.sort(key=lambda row: (row[0], row[1] not in (before or ())))
        found = tuple(Conductor(name, ohm) for ohm, name in rows)
        return Section(found, self._site.limits.min_insulation_ohm)


def _ohm(test: Test, entry: Entry) -> float:
    """The value of a reading; through a conductor the least that it can be by its meter."""
    if entry.value is None:
        return math.inf
    if test.kind == "insulation":
        return entry.value
    return math.inf if entry.relation == ">" else max(0.0, entry.value - meter_ohm(entry))


def meter_ohm(entry: Entry) -> float:
    """How far a reading may be off by its meter; by a count when nothing is known of it [ohm]."""
    return half_width(entry.accuracy, entry.value or 0.0)


def kind_of(path: Path, one: OldConductor) -> str:
    """The cable kind of a conductor; the first of the path's own where it names none."""
    return one.cable or path.cable[0]


def high_ohm(site: Site, path: Path, segment: Segment, one: OldConductor) -> float:
    """The most that a sound conductor has over a segment on the test day [ohm].

    Its length, its make and the soil all at their worst: a sound one is never thrown away.
    """
    made = conductor(site.cable_kind[kind_of(path, one)], site.site.frequency_hz)
    longest_m = segment.length_m * (1 + LENGTH_ERROR[segment.length_by or path.length_by])
    warmest_c = site.soil.test_day_c + site.soil.test_day_uncertainty_k
    return conductors.at_temperature(longest_m * made.high_r20_ohm_per_m, warmest_c)


def fault_m(site: Site, found: Surveyed, entries: Entries) -> tuple[tuple[str, float], ...]:
    """Where the leak lies from the near box, by each of the bridges that was read [m]."""
    if found.to_place is None:
        return ()
    spare, faulty = (
        conductor(
            site.cable_kind[kind_of(found.path, found.conductors[name])], site.site.frequency_hz
        )
        for name in found.to_place
    )
    lines = Lines(found.segment.length_m, spare.r20_ohm_per_m, faulty.r20_ohm_per_m)
    places = []
    for method, law in (("murray", by_murray_m), ("varley", by_varley_m)):
        entry = entries.get(bridge_id(found, method))
        if entry is not None and entry.type == "answer" and entry.value:
            places.append((method.capitalize(), law(lines, entry.value)))
    return tuple(places)


def bridge_id(found: Surveyed, method: str) -> str:
    """The id of the step of a bridge reading."""
    assert found.to_place is not None
    return f"{found.place}/{method}/{'/'.join(found.to_place)}"
