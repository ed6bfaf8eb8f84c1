"""The survey as steps of the walk: proved dead, read, decided; each with its own permanent id.

They stand behind the item that the checklist names for it, in the same hold point, so that the
walk's own order keeps people from being hurt: supply isolated, the section proved dead before
anything is read in it, and no supply before the insulation test is recorded ended.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

from commission.bundle.section import Test
from commission.checklist.plan import Plan, Step
from commission.checklist.schema import Choice, Item
from commission.checklist.targets import Target
from commission.checklist.words import listed, resistance
from commission.record.replay import State
from commission.site.schema import Path, Site
from commission.survey import PREFIX
from commission.survey.sections import (
    Entries,
    Surveyed,
    bridge_id,
    fault_m,
    reading_id,
    surveyed,
    test_of,
)
from commission.units import Quantity, length_unit, show

Cautions = tuple[tuple[str, str], ...]
_BRIDGES: dict[str, tuple[Quantity, str]] = {
    "murray": ("number", ""),
    "varley": ("resistance", "ohm"),
}
_LAID = (Choice(say="new cable laid"), Choice(say="not yet", verdict="fail"))


def with_sections(plan: Plan, site: Site, state: State) -> Plan:
    """A plan with the steps of every section that its checklist has a place for."""
    steps = [step for step in plan.steps if not step.id.startswith(PREFIX)]
    sections = list(surveyed(site, state.latest))
    for path in site.path:
        anchor = next((s for s in steps if s.item.bundle and s.target.path == path.id), None)
        if anchor is None:
            continue
        own = [found for found in sections if found.path.id == path.id]
        testing = next((s.caution for s in steps if s.item.compare == "insulation"), anchor.caution)
        made = list(_of_path(anchor, testing, site, state.latest, own))
        tests = [step.id for step in made if step.item.id == "insulation"]
        steps = [_reopened(step, path, steps, tests) for step in steps]
        place = next(n for n, step in enumerate(steps) if step.id == anchor.id) + 1
        steps[place:place] = made
    return Plan(tuple(steps), {step.id: step for step in steps})


def _reopened(step: Step, path: Path, steps: list[Step], tests: list[str]) -> Step:
    """What records that an insulation test has ended is asked again after one of the survey."""
    if not step.item.clears or step.target.path != path.id:
        return step
    others = [one for one in step.reopened_by if not one.startswith(PREFIX)]
    testing = {one.id for one in steps if one.item.compare == "insulation"}
    return replace(step, reopened_by=(*others, *tests)) if testing & {*others} else step


def _of_path(
    anchor: Step, testing: Cautions, site: Site, entries: Entries, sections: list[Surveyed]
) -> Iterator[Step]:
    """The steps of a path: a section begins once the one that leads to it is decided."""
    waiting: set[str] = set()
    for found in sections:
        if found.segment.from_box in waiting:
            waiting.add(found.segment.to_box)
            continue
        yield from _Maker(anchor, testing, site, entries, found).steps()
        if not found.done:
            waiting.add(found.segment.to_box)


class _Maker:
    """Makes the steps of one section."""

    def __init__(
        self, anchor: Step, testing: Cautions, site: Site, entries: Entries, found: Surveyed
    ) -> None:
        self._anchor, self._testing = anchor, testing
        self._site, self._entries, self._found = site, entries, found

    def steps(self) -> Iterator[Step]:
        """What was answered in its order, then what is to be done now."""
        found, place = self._found, self._found.place
        yield self._dead()
        for step_id in self._entries:
            test = test_of(step_id, place) if step_id.startswith(f"{place}/") else None
            if test is not None and test != found.decision.next:
                yield self._reading(test)
        if not found.is_dead:
            return
        if found.decision.next is not None:
            yield self._reading(found.decision.next)
            return
        if found.to_place is not None:
            yield from (self._bridge(method, *found.to_place) for method in _BRIDGES)
        yield self._pair() if found.decision.pair else self._none()

    def _dead(self) -> Step:
        ask = (
            f"From {self._found.near} to {self._found.far}: part all conductors in both boxes. In "
            f"each box read a.c. and d.c. volts of {listed(list(self._found.conductors))} to every "
            "other and to earth. Enter the highest. Prove the meter before and after."
        )
        item = Item(
            id="dead", title="Dead: every conductor", ask=ask, answer="measure",
            quantity="voltage", unit="V", compare="dead-voltage",
        )  # fmt: skip
        return self._step(f"{self._found.place}/dead", item, "")

    def _reading(self, test: Test) -> Step:
        title, ask, unit = self._asked(test)
        item = Item(
            id=test.kind, title=title, ask=ask, answer="measure", quantity="resistance", unit=unit
        )
        return self._step(reading_id(self._found.place, test), item, self._known())

    def _asked(self, test: Test) -> tuple[str, str, str]:
        """Title, what to do, and the unit of a reading."""
        found, one = self._found, test.first
        high = {c.name: c.high_ohm for c in found.section.conductors}
        if test.kind == "insulation":
            least = resistance(found.section.min_insulation_ohm)
            ask = (
                f"Everyone clear of the cable. In both boxes join all conductors but {one}, and "
                f"put them to earth. Read {one} against them {found.at_near}, at 250 V d.c.; its "
                f"far end stays open. Discharge it. Sound: at least {least}."
            )
            return f"{one} against all others", ask, "Mohm"
        if test.kind == "return":
            back = max((ohm for name, ohm in high.items() if name != one), default=0.0)
            most = show(high.get(one, 0.0) + back, "ohm", "resistance")
            ask = (
                f"In {found.far} join all conductors. Join all but {one} {found.at_near}, and read "
                f"ohms there from {one} to them, leads nulled. Sound: at most {most}."
            )
            return f"Out by {one}, back by all others", ask, "ohm"
        most = show(high.get(one, 0.0) + high.get(test.second, 0.0), "ohm", "resistance")
        ask = (
            f"In {found.far} join {one} and {test.second} alone, all others apart. Read ohms "
            f"between the two {found.at_near}, leads nulled. Sound: at most {most}."
        )
        return f"Loop of {one} and {test.second}", ask, "ohm"

    def _bridge(self, method: str, spare: str, faulty: str) -> Step:
        found, quantity = self._found, _BRIDGES[method]
        ask = f"In {found.far} join {spare} and {faulty} alone. Balance a bridge {found.at_near}: "
        ask += f"its source to earth, or to what {faulty} touches; "
        if method == "murray":
            ask += f"enter the arm at {spare} over the arm at {faulty}."
        else:
            ask += f"arms alike, enter the ohms put in series with {faulty}."
        item = Item(
            id=method, title=f"Where {faulty} leaks: {method.capitalize()}", ask=ask,
            answer="measure", required=False, quantity=quantity[0], unit=quantity[1],
        )  # fmt: skip
        why = f"If you have a bridge: {spare} touches nothing, so both together name the place."
        return self._step(bridge_id(found, method), item, why)

    def _pair(self) -> Step:
        found = self._found
        one, other = found.decision.pair or ("", "")
        loop = found.loop.text if found.loop else ""
        ask = f"{one} and {other} carry the path from {found.near} to {found.far} (loop {loop}). "
        left = listed([self._named(name) for name in found.abandoned])
        ask += f"Disconnect and cap in both boxes: {left}. " if left else ""
        item = Item(
            id="pair", title=f"Pair: {one} and {other}", ask=f"{ask}Is it done?", answer="confirm"
        )
        return self._step(f"{found.place}/pair/{one}/{other}", item, _WRITTEN)

    def _named(self, name: str) -> str:
        state = self._found.states[name]
        return name if state in (*_UNSAID, "insulated") else f"{name} ({state})"

    def _none(self) -> Step:
        found, unit = self._found, length_unit(self._site.site.units)
        places = [
            f"by {method} it leaks {show(far_m, unit, 'length')} from {found.near}"
            for method, far_m in fault_m(self._site, found, self._entries)
        ]
        ask = (
            f"From {found.near} to {found.far} no two conductors are sound: {self._states()}"
            f"{'; ' if places else ''}{'; '.join(places)}. Lay new cable there, or repair and read "
            "again what failed."
        )
        item = Item(id="none", title="No sound pair", ask=ask, answer="choose", choice=_LAID)
        return self._step(f"{found.place}/none", item, "")

    def _known(self) -> str:
        why = f" {self._found.decision.why}." if self._found.decision.why else ""
        known = self._states()
        return f"So far: {known}.{why}" if known else why.strip()

    def _states(self) -> str:
        told = self._found.states.items()
        return ", ".join(f"{name} {state}" for name, state in told if state not in _UNSAID)

    def _step(self, step_id: str, item: Item, why: str) -> Step:
        anchor, found = self._anchor, self._found
        label = f"Path {found.path.id}, {found.near} to {found.far}"
        return Step(
            id=step_id,
            item=item,
            stage=anchor.stage,
            stage_number=anchor.stage_number,
            target=Target(
                "box", found.path.output, found.path.id, found.segment.to_box, label=label
            ),
            title=item.title,
            ask=item.ask,
            why=why,
            caution=self._testing if item.id == "insulation" else anchor.caution,
        )


_WRITTEN = "Once every section is decided, commission convert writes the site file with the pairs."
_UNSAID = ("not read", "not needed")
