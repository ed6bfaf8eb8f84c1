"""One job as it stands: a frozen picture made from the site, the plan and the record.

Screens draw a `Job`, commands print it, the report is written from it. Nothing here writes.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, field
from functools import cached_property
from pathlib import Path
from typing import Literal

from commission.checklist.order import (
    Answered,
    SupplyState,
    reasons_against,
    supply_state,
    to_do_again,
)
from commission.checklist.plan import Plan, Step, applies
from commission.checklist.schema import Checklist
from commission.checklist.targets import Target
from commission.expected.sheet import Conditions, Sheet
from commission.expected.values import Expectation
from commission.record.entry import Entry, Header
from commission.record.replay import Defect, State
from commission.site.schema import Site
from commission.verdict.diagnose import SOUND, likely_cause, row_of_dead
from commission.verdict.judge import FAIL, MARGINAL, NOT_APPLICABLE, NOT_TESTED, PASS, RECORDED

Drawings = dict[tuple[str, ...], tuple[Site, Sheet]]
StepState = Literal["open", "answered", "skipped", "not applicable"]


@dataclass(frozen=True, slots=True)
class Status:
    """Where one step stands: its state, the verdict of its latest live entry, and that entry."""

    step: Step
    state: StepState
    verdict: str
    entry: Entry | None
    again: str = ""  # why it counts no more, and is to be done again before the supply goes on
    second_look: str = ""  # which change of the drawing touches it, made after it was answered

    @property
    def to_do(self) -> bool:
        """Whether it is open, to be done again or asks for a second look."""
        return self.state == "open" or bool(self.again or self.second_look)

    @property
    def finding(self) -> str:
        """What its latest entry concluded or said."""
        if self.entry is None:
            return ""
        return self.entry.finding if self.entry.type == "answer" else self.entry.text


@dataclass(frozen=True, eq=False)  # one picture is itself: what follows from it is kept by it
class Job:
    """Everything about one open or signed job, read-only."""

    folder: Path
    header: Header
    site: Site  # as found: as designed, with the changes recorded so far
    checklist: Checklist
    plan: Plan
    sheet: Sheet
    state: State
    signed: bool = False
    notices: tuple[str, ...] = ()
    site_text: str = ""  # exactly what the job's own copies hold
    checklist_text: str = ""
    earlier_job: Callable[[], Job] | None = None  # makes the one below, once
    designed_site: Site | None = None  # where the drawing was changed: as it was before
    redrawn_by: tuple[int, ...] = ()  # numbers of the entries that changed it
    touched: Mapping[str, int] = field(default_factory=dict)  # step id to the last that touches it
    drawings: Drawings = field(default_factory=dict, repr=False)  # made before, by their changes

    @property
    def earlier(self) -> Job | None:
        """The job of the report that this one follows, made when it is first asked for."""
        return self.earlier_job() if self.earlier_job else None

    @property
    def designed(self) -> Site:
        """The site as it was drawn when the job began."""
        return self.designed_site or self.site

    @property
    def inspects(self) -> bool:
        """Whether it is an inspection of a report: it is added to that one when it is signed."""
        return self.header.job_kind == "inspection" and bool(self.header.follows_report)

    @cached_property
    def answers(self) -> Mapping[str, str]:
        """Step id to the text of its latest live answer."""
        return {
            step: entry.text for step, entry in self.state.latest.items() if entry.type == "answer"
        }

    @cached_property
    def statuses(self) -> Mapping[str, Status]:
        """Every step that applies now, in walking order, by its id."""
        answers = self.answers
        again = to_do_again(self.plan, self.answered, answers)
        looks = self._second_looks()
        return {
            step.id: self._status(step, again.get(step.id, ""), looks.get(step.id, ""))
            for step in self.plan.steps
            if applies(step, answers)
        }

    def _second_looks(self) -> dict[str, str]:
        """Answered steps that a later change of the drawing touches, each with why."""
        found = {}
        for step, number in self.touched.items():
            entry = self.state.latest.get(step)
            if entry is not None and entry.number < number:
                subject = self.state.entries[number - 1].subject
                found[step] = f"the drawing was changed after it: {subject} (entry {number})"
        return found

    def _status(self, step: Step, again: str, second_look: str) -> Status:
        entry = self.state.latest.get(step.id)
        if entry is None:
            return Status(step, "open", NOT_TESTED, None, again, second_look)
        if entry.type == "skip":
            return Status(step, "skipped", NOT_TESTED, entry, again, second_look)
        if entry.type == "not-applicable":
            return Status(step, "not applicable", NOT_APPLICABLE, entry, again, second_look)
        return Status(step, "answered", entry.verdict, entry, again, second_look)

    @cached_property
    def conditions(self) -> Conditions:
        """Earlier readings that later expectations depend on, as they stand now."""
        return self.conditions_before(len(self.state.entries) + 1)

    def conditions_before(self, number: int) -> Conditions:
        """The same as they stood when entry `number` was written; what was taken back is left out.

        A reading is judged by what was known then: mains read again later says nothing of it.
        """
        if number not in self._conditions:
            self._conditions[number] = self._conditions_of(number)
        return self._conditions[number]

    def _conditions_of(self, number: int) -> Conditions:
        mains: dict[str, float] = {}
        soil_c = None
        for step, entry in self._conditioning:
            if entry.number >= number:
                break
            if step.item.compare == "soil-temperature":
                soil_c = entry.value
            elif entry.value is not None:
                for output in [step.target.output] if step.target.output else self._outputs:
                    mains[output] = entry.value
        return Conditions(mains_v=mains, soil_c=soil_c)

    @cached_property
    def _conditioning(self) -> list[tuple[Step, Entry]]:
        """The live readings of mains and soil, by number."""
        found = [
            (step, entry)
            for step in self.plan.conditioning
            for entry in self.state.history.get(step.id, ())
            if entry.type == "answer" and entry.value is not None and self.state.is_live(entry)
        ]
        return sorted(found, key=lambda one: one[1].number)

    @cached_property
    def _conditions(self) -> dict[int, Conditions]:
        return {}

    @cached_property
    def air_c(self) -> float | None:
        """The air where the meters are, in °C, as measured last; None when it was not."""
        return next(
            (
                entry.value
                for step_id, entry in self.state.latest.items()
                if (step := self.plan.by_id.get(step_id)) is not None
                and step.item.compare == "air-temperature"
                and entry.value is not None
            ),
            None,
        )

    @property
    def _outputs(self) -> list[str]:
        return [output.id for output in self.site.output]

    def expectation(self, step: Step) -> Expectation | None:
        """What a step's reading is compared with, under the conditions measured so far."""
        if step.item.compare is None:
            return None
        return self.sheet.expectation(step.item.compare, step.target, self.conditions)

    def expectation_of(self, status: Status) -> Expectation | None:
        """What the latest reading of a step was compared with, under the conditions of then.

        For a step without a reading it is what one would be compared with now.
        """
        step, entry = status.step, status.entry
        if step.item.compare is None or entry is None or not entry.quantity:
            return self.expectation(step)
        then = self.conditions_before(entry.number)
        return self.sheet.expectation(step.item.compare, step.target, then)

    def values_at(self, target: Target, comparison: str, without: str = "") -> tuple[float, ...]:
        """Latest live readings (SI) compared with `comparison` at a target, but for one step."""
        return tuple(
            entry.value
            for step_id, entry in self.state.latest.items()
            if (step := self.plan.by_id.get(step_id)) is not None
            and step.item.compare == comparison
            and step.target == target
            and step_id != without
            and applies(step, self.answers)
            and entry.relation == "="
            and entry.value is not None
        )

    def value_at(self, target: Target, comparison: str) -> float | None:
        """The latest live reading (SI) compared with `comparison` at a target; None without one."""
        return next(iter(self.values_at(target, comparison)), None)

    @cached_property
    def answered(self) -> Mapping[str, Answered]:
        """What the safety order needs to know of every live entry."""
        return {
            step: Answered(number=entry.number, passing=self._lets_go_on(entry))
            for step, entry in self.state.latest.items()
        }

    def _lets_go_on(self, entry: Entry) -> bool:
        """Whether work may go on after an entry: it passed, or somebody decided on a reading.

        A confirmation that was denied is never decided away: a bridge is off, or it is not.
        """
        if entry.type == "not-applicable":
            return True
        if entry.type != "answer":
            return False
        decided = bool(entry.quantity) and entry.step in self.state.decisions
        return decided or entry.verdict in (PASS, RECORDED)

    @cached_property
    def supply(self) -> SupplyState:
        """Whether the supply is recorded on, off, or not yet known."""
        return supply_state(self.plan, self.answered, self.answers)

    def reasons_against(self, step: Step) -> tuple[str, ...]:
        """Why a step may not be answered now, in words; empty when it may."""
        if self.signed:
            return ("this report is signed and is never re-opened; start a new job",)
        return reasons_against(self.plan, step, self.answered, self.answers)

    @property
    def open_defects(self) -> tuple[Defect, ...]:
        """Defects not yet closed, oldest first."""
        return tuple(d for d in self.state.defects.values() if d.state == "opened")

    def defects_of(self, step_id: str) -> tuple[Defect, ...]:
        """Open defects raised from a step."""
        return tuple(d for d in self.open_defects if d.step == step_id)

    def likely_cause(self, station: str) -> str:
        """What a station's answers say together, and its neighbours'; "" while it is too little."""
        own = likely_cause(self._signs(station))
        if own in ("", SOUND):
            return own
        row = self._row_of_dead(station)
        return f"{own}; {row}" if row else own

    def _signs(self, station: str) -> dict[str, str]:
        """The verdicts of a station's signs."""
        return {
            status.step.item.sign: status.verdict
            for status in self._by_station.get(station, ())
            if status.step.item.sign and status.state == "answered"
        }

    @cached_property
    def _by_station(self) -> dict[str, list[Status]]:
        found: dict[str, list[Status]] = {}
        for status in self.statuses.values():
            if status.step.target.station:
                found.setdefault(status.step.target.station, []).append(status)
        return found

    def _row_of_dead(self, station: str) -> str:
        """What dead stations in a row say, along the branch that leads through a station's box."""
        drawing = self.sheet.drawing
        one = drawing.stations[station]
        tree = drawing.trees[one.path]
        routes = [[s.to_box for s in tree.route(end)] for end in tree.ends()]
        through = next((route for route in routes if one.box in route), [])
        on_route = sorted(
            (s for s in drawing.stations_on(one.path) if s.box in through),
            key=lambda s: (through.index(s.box), s.number),
        )
        dead: dict[str, bool] = {}
        for other in on_route:
            signs = self._signs(other.id)
            if "indicator" in signs and "valve" in signs:
                silent = signs["indicator"] == FAIL and signs["valve"] == FAIL
                dead[f"station {other.number} at {other.box}"] = silent
        return row_of_dead(dead)

    def undecided(self) -> Iterator[Status]:
        """Marginal results without a decision, a defect or a retest."""
        for status in self.statuses.values():
            if status.verdict == MARGINAL and status.step.id not in self.state.decisions:
                yield status

    def next_to_do(self, after: str = "") -> str | None:
        """Id of the next step after one, round and round, that is open or to be done again.

        What asks for a second look counts as open. What is to be done again before the supply goes
        on counts while anything is open: a job may end with the supply isolated.
        """
        order = list(self.statuses)
        start = order.index(after) + 1 if after in self.statuses else 0
        ahead = [self.statuses[step_id] for step_id in [*order[start:], *order[:start]]]
        if not any(status.state == "open" or status.second_look for status in ahead):
            return None
        return next(s.step.id for s in ahead if s.to_do)

    def resume_at(self) -> str:
        """Id of the step to stand at: the first to do after the latest entry's, else any."""
        last = next((e.step for e in reversed(self.state.entries) if e.step in self.statuses), "")
        return self.next_to_do(last) or last or next(iter(self.statuses))


def failed(status: Status) -> bool:
    """Whether a step's latest result is a fail."""
    return status.verdict == FAIL
