"""A checklist unrolled over a site: every step of the job, in the order of the walk.

Stage by stage; a stage repeated for paths is done as a whole for one path before the next. In it,
neighbouring items repeated for the same kind of thing are walked together, thing by thing: all
questions of a box before the next box. Conditions on facts of the site are decided here; those on
earlier answers are decided by `applies` while walking.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from functools import cached_property
from itertools import groupby

from commission.checklist.facts import Facts
from commission.checklist.schema import Checklist, Item, Scope, Stage
from commission.checklist.targets import Target, Targets
from commission.checklist.words import Words
from commission.site.schema import Site
from commission.site.tree import PathTree

Conditions = tuple[tuple[str, tuple[str, ...]], ...]  # step id, the answers that meet it


@dataclass(frozen=True, slots=True, eq=False)
class Step:
    """One thing to do at one place, with its texts filled in.

    `id` is stable: it is made from ids of the site and the id of the item. `conditions` holds the
    answers of other steps on which this one depends, and theirs; `reopened_by` the steps that
    make this one stale when they are answered after it.
    """

    id: str
    item: Item
    stage: Stage
    stage_number: int
    target: Target
    title: str
    ask: str
    why: str
    caution: tuple[tuple[str, str], ...]
    conditions: Conditions = ()
    reopened_by: tuple[str, ...] = ()

    @property
    def needs(self) -> str | None:
        """State of the supply in which it may be answered: "on", "off" or None for any."""
        needs = self.item.needs or self.stage.needs
        return None if self.item.supply or needs == "any" else needs


@dataclass(frozen=True)
class Plan:
    """All steps of a job in the order of the walk, and by their ids."""

    steps: tuple[Step, ...]
    by_id: Mapping[str, Step]

    @cached_property
    def switching_on(self) -> tuple[Step, ...]:
        """The steps that switch the supply on."""
        return tuple(step for step in self.steps if step.item.supply == "on")

    @cached_property
    def isolating(self) -> tuple[Step, ...]:
        """The steps that isolate the supply."""
        return tuple(step for step in self.steps if step.item.supply == "off")

    @cached_property
    def clearing(self) -> tuple[Step, ...]:
        """The steps that must stand before the supply is switched on."""
        return tuple(step for step in self.steps if step.item.clears)

    @cached_property
    def proving_dead(self) -> tuple[Step, ...]:
        """The steps that prove conductors dead."""
        return tuple(step for step in self.steps if step.item.compare == "dead-voltage")

    @cached_property
    def conditioning(self) -> tuple[Step, ...]:
        """The steps whose readings later expectations depend on: soil and mains."""
        names = ("soil-temperature", "mains-voltage")
        return tuple(step for step in self.steps if step.item.compare in names)

    @cached_property
    def place(self) -> Mapping[str, int]:
        """Where each step stands in the walk."""
        return {step.id: number for number, step in enumerate(self.steps)}

    @cached_property
    def holding(self) -> tuple[Step, ...]:
        """The required steps of hold points."""
        return tuple(s for s in self.steps if s.stage.hold_point and s.item.required)


def applies(step: Step, answers: Mapping[str, str]) -> bool:
    """Whether a step is asked, given the text of each step's latest answer.

    What clears the supply stays asked once the work that it ends was recorded: a bridge that was
    put on has to come off, even when the question that led to it is answered anew.
    """
    if all(answers.get(other) in wanted for other, wanted in step.conditions):
        return True
    return step.item.clears and any(other in answers for other in step.reopened_by)


def build_plan(
    checklist: Checklist,
    site: Site,
    trees: Mapping[str, PathTree],
    worst_sets: Mapping[str, tuple[str, ...]],
) -> Plan:
    """Unroll a checklist over a site; `worst_sets` maps an output to its stations, worst last."""
    return _Planner(checklist, site, trees, worst_sets).plan()


def plan_exceeds(
    most: int,
    checklist: Checklist,
    site: Site,
    trees: Mapping[str, PathTree],
    worst_sets: Mapping[str, tuple[str, ...]],
) -> bool:
    """Whether a plan would hold more than so much: steps, answers they rest on, reopening steps.

    Told without making it, and in no more time than that much needs.
    """
    targets = Targets(site, trees, worst_sets)
    places: dict[str, int] = {}  # of each item so far, or where it stands further down
    for stage in checklist.stage:
        places |= {item.id: len(targets.all(item.each or stage.each)) for item in stage.item}
    rests_on: dict[str, set[tuple[str, tuple[str, ...]]]] = {}
    size = 0
    for item in (item for stage in checklist.stage for item in stage.item):
        answers = [(one.answer, one.wanted) for one in item.when if one.answer is not None]
        own = rests_on[item.id] = set(answers)
        own |= {rest for answer, _wanted in answers for rest in rests_on.get(answer, ())}
        reopening = sum(places[other] for other in item.reopened_by)
        size += max(1, places[item.id]) * (1 + len(own) + reopening)
        if size > most:
            return True
    return False


class _Planner:
    def __init__(
        self,
        checklist: Checklist,
        site: Site,
        trees: Mapping[str, PathTree],
        worst_sets: Mapping[str, tuple[str, ...]],
    ) -> None:
        self._checklist = checklist
        self._targets = Targets(site, trees, worst_sets)
        self._facts = Facts(site, trees, checklist.job)
        self._words = Words(site, trees)
        self._scopes: dict[str, Scope] = {
            item.id: item.each or stage.each for stage in checklist.stage for item in stage.item
        }
        self._units = site.site.units
        self._made: dict[str, Step] = {}

    def plan(self) -> Plan:
        for number, stage in enumerate(self._checklist.stage):
            for item, target in self._unroll(stage):
                self._make(number, stage, item, target)
        return Plan(tuple(self._made.values()), self._made)

    def _unroll(self, stage: Stage) -> Iterator[tuple[Item, Target]]:
        """Items and targets of a stage in the order of the walk."""
        for whole in self._targets.all(stage.each):
            for scope, items in groupby(stage.item, key=lambda item: item.each or stage.each):
                group = tuple(items)
                for target in self._targets.within(whole, scope):
                    for item in group:
                        yield item, target

    def _make(self, number: int, stage: Stage, item: Item, target: Target) -> None:
        conditions = self._conditions(item, target)
        if conditions is None:
            return
        fill, cautions = self._words.fill, self._checklist.caution
        step_id = f"{target.place()}/{item.id}"
        self._made[step_id] = Step(
            id=step_id,
            item=self._in_units_of_site(item),
            stage=stage,
            stage_number=number,
            target=target,
            title=fill(item.title, target),
            ask=fill(item.ask, target),
            why=fill(item.why, target),
            caution=tuple((name, fill(cautions[name], target)) for name in item.caution),
            conditions=conditions,
            reopened_by=tuple(self._reopening(item, target)),
        )

    def _in_units_of_site(self, item: Item) -> Item:
        """An item with the unit that the site shows."""
        if not item.unit_us or self._units == "SI":
            return item
        return replace(item, unit=item.unit_us)

    def _conditions(self, item: Item, target: Target) -> Conditions | None:
        """The answers that a step depends on, or None when it cannot come up on this site."""
        found: dict[tuple[str, tuple[str, ...]], None] = {}  # each once, however many rest on it
        for condition in item.when:
            if condition.answer is None:
                if not self._facts.holds(condition, target):
                    return None
                continue
            asked_at = target.place(self._scopes[condition.answer])
            other = self._made.get(f"{asked_at}/{condition.answer}")
            if other is None:
                return None
            found |= dict.fromkeys((*other.conditions, (other.id, condition.wanted)))
        return tuple(found)

    def _reopening(self, item: Item, target: Target) -> Iterator[str]:
        """Ids of the steps of reopening items at this target, around it and within it."""
        for other in item.reopened_by:
            for place in self._targets.all(self._scopes[other]):
                if place.related(target):
                    yield f"{place.place()}/{other}"
