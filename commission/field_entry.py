"""A list from the field taken into a job as if it were typed, row by row. Writes nothing.

Each row is put to the job as the rows above leave it: the safety order, the conditions measured so
far and the judgement are those of the walk. Rows stand in the order of the work.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import datetime

from commission.answering import Answering, AskBack
from commission.checklist.plan import Step, applies
from commission.crew import Hands
from commission.field_list import FieldList, Written
from commission.job import Job
from commission.problems import InputRefused, Problem, nearest
from commission.record.entry import Entry
from commission.record.replay import fold
from commission.survey import with_survey
from commission.text import visible
from commission.units import parse_reading
from commission.user.instruments import Instrument
from commission.verdict.judge import FAIL, MARGINAL

_ABOVE = "mend the rows above first; then it may be allowed"


@dataclass(frozen=True, slots=True)
class Kept:
    """A row that is kept: its step, and the entry that it becomes."""

    row: Written
    step: Step
    entry: Entry

    @property
    def is_finding(self) -> bool:
        """Whether it failed or is marginal."""
        return self.entry.verdict in (FAIL, MARGINAL)


@dataclass(frozen=True, slots=True)
class Desk:
    """Where a list is entered: its name, by whom, when, and what meters are known."""

    name: str
    entered_by: str
    now: datetime
    instruments: Sequence[Instrument]
    confirmed: bool = False  # readings beyond tenfold are meant as written


@dataclass(slots=True)
class Taken:
    """What a list becomes: entries in its order, or problems; `skipped` rows with why."""

    entries: list[Entry] = field(default_factory=list)
    kept: list[Kept] = field(default_factory=list)
    skipped: list[tuple[Written, str]] = field(default_factory=list)
    far_off: list[tuple[Written, str]] = field(default_factory=list)  # and kept all the same
    problems: list[Problem] = field(default_factory=list)


def take_in(job: Job, listed: FieldList, desk: Desk) -> Taken:
    """What a list becomes in a job; nothing may be kept while there are problems, its own too."""
    taking = _Taking(job, desk, listed.problems)
    for row in listed.rows:
        taking.take(row)
    taking.taken.problems.sort(key=lambda problem: problem.line or 0)
    return taking.taken


class _Taking:
    def __init__(self, job: Job, desk: Desk, problems: Sequence[Problem]) -> None:
        self.job = job  # with the rows taken so far
        self.desk = desk
        self.taken = Taken(problems=list(problems))
        self._latest: Written | None = None
        self._recorded = len(job.state.entries)
        self._begun = _minute(job.header.created_at)
        self._there = {_told(entry): entry for entry in job.state.entries if entry.type == "answer"}

    def take(self, row: Written) -> None:
        """Take one row in, skip it, or tell every problem of it."""
        step, instrument = self._step(row), self._instrument(row)
        text = picked(step, row.text) if step else row.text
        there = self._there.get((row.step, text, row.at, row.observer))
        if there is not None and step is not None:
            self.taken.skipped.append((row, self._why_skipped(there)))
            return
        before = len(self.taken.problems)
        for column, words, remedy in self._of_time(row):
            self._say(row, column, words, remedy)
        if step is None or (row.instrument and instrument is None):
            if step is not None:
                self._unreadable(row, step, text)
            return
        for reason, remedy in self._order(row, step):
            self._say(row, "step", reason, _ABOVE if self.taken.problems else remedy)
        self._answer(row, step, text, instrument, may_count=len(self.taken.problems) == before)

    def _answer(
        self, row: Written, step: Step, text: str, instrument: Instrument | None, *, may_count: bool
    ) -> None:
        """Judge a row and let it count for those below, when nothing was wrong with it before."""
        hands = Hands(row.observer, self.desk.entered_by, instrument)
        answering = Answering(self.job, hands, row.at, self.desk.now)
        try:
            try:
                entries = answering.entries(step, text, note=row.note)
            except AskBack as question:
                entries = answering.entries(step, text, note=row.note, confirmed=True)
                if not self.desk.confirmed:
                    remedy = "correct it, or add --yes to keep it as it is written"
                    self._say(row, "reading", str(question), remedy)
                    may_count = False
                self.taken.far_off.append((row, str(question)))
        except InputRefused as refused:
            words, _, remedy = str(refused).partition("; ")
            self._say(row, "reading", words, remedy)
            return
        if not may_count:
            return
        first = self._fold(entries[0])
        for entry in entries[1:]:
            self._fold(entry)
        self._there[_told(first)] = first
        self.taken.kept.append(Kept(row, step, first))

    def _fold(self, entry: Entry) -> Entry:
        """Add an entry to the job as it stands here, under the number that it will have."""
        state = self.job.state
        numbered = replace(entry, number=len(state.entries) + 1)
        state = fold(state, numbered)
        plan = with_survey(self.job.plan, self.job.site, state)
        self.job = replace(self.job, plan=plan, state=state)
        self.taken.entries.append(entry)
        return numbered

    def _say(self, row: Written, column: str, message: str, remedy: str = "") -> None:
        problem = Problem(self.desk.name, message, column, row.line, remedy)
        self.taken.problems.append(problem)

    def _step(self, row: Written) -> Step | None:
        known = self.job.plan.by_id
        step = known.get(row.step)
        if step is None:
            remedy = nearest(row.step, known)
            self._say(row, "step", f"no step has the id '{visible(row.step, 60)}'", remedy)
        return step

    def _instrument(self, row: Written) -> Instrument | None:
        """The instrument that a row names, upper and lower case alike if there is only one so."""
        if not row.instrument:
            return None
        named = row.instrument.casefold()
        exact = [one for one in self.desk.instruments if one.id == row.instrument]
        found = exact or [one for one in self.desk.instruments if one.id.casefold() == named]
        if len(found) == 1:
            return found[0]
        shown = f"no instrument is known as '{visible(row.instrument, 60)}'"
        remedy = nearest(row.instrument, [one.id for one in self.desk.instruments])
        self._say(row, "instrument", shown, f"{remedy}; a new one is entered in the walk")
        return None

    def _unreadable(self, row: Written, step: Step, text: str) -> None:
        """Tell a reading that can't be read, of a row that goes no further."""
        if step.item.answer == "measure" and step.item.quantity:
            try:
                parse_reading(text, step.item.quantity, step.item.unit)
            except ValueError as error:
                words, _, remedy = str(error).partition("; ")
                self._say(row, "reading", words, remedy)

    def _why_skipped(self, there: Entry) -> str:
        if there.number > self._recorded:
            return "stands twice in this list"
        if there.number in self.job.state.withdrawn:
            return f"was entry {there.number} and was taken back; enter it in the walk if it counts"
        return f"is entry {there.number} already"

    def _of_time(self, row: Written) -> Iterator[tuple[str, str, str]]:
        """What is wrong with the time of a row."""
        above, self._latest = self._latest, row
        if row.at > self.desk.now:
            words = f"it lies in the future; here it is {self.desk.now:%Y-%m-%d %H:%M}"
            yield "time", words, "correct it, or the clock of this machine"
        elif row.at < self._begun:
            words = f"the job was begun later, {self.job.header.created_at:%Y-%m-%d %H:%M}"
            yield "time", words, "correct it; a job is begun before its work"
        elif above is not None and row.at < above.at:
            words = f"line {above.line}, above it, was read later"
            yield "time", words, "put the rows in the order of the work, or correct the time"

    def _order(self, row: Written, step: Step) -> Iterator[tuple[str, str]]:
        """Why a row may not be answered where it stands, each with what to do."""
        if not applies(step, self.job.answers):
            yield "it is not asked, by what was answered so far", _asked_after(step, self.job)
            return
        for reason in self.job.reasons_against(step):
            yield reason, "put what comes first above it, or answer that in the walk"
        for other in self._overtaken(row, step):
            yield (
                f"it was read before entry {other.number} ({other.step}), and would count after it",
                "do it again, and write that down",
            )

    def _overtaken(self, row: Written, step: Step) -> Iterator[Entry]:
        """Entries of the record that decide what this one is worth, and are of a later time.

        The safety order follows the record; what was done before the supply was switched must not
        pass as done after it.
        """
        plan = self.job.plan
        if step.needs is None and not step.item.supply and not step.item.clears:
            return
        deciding = {one.id for one in (*plan.switching_on, *plan.isolating)} | set(step.reopened_by)
        for other in deciding - {step.id}:
            entry = self.job.state.latest.get(other)
            when = entry.observed_at if entry is not None else None
            if entry is not None and when is not None and row.at < _minute(when):
                yield entry


def picked(step: Step, text: str) -> str:
    """The choice that a written answer means: its words in any case, or their only beginning."""
    choices, lowered = step.item.offered, text.casefold()
    exact = [one for one in choices if one.casefold() == lowered]
    begun = exact or [one for one in choices if one.casefold().startswith(lowered)]
    return begun[0] if len(begun) == 1 else text


def _asked_after(step: Step, job: Job) -> str:
    """Which answer a step depends on, in words."""
    answers: Mapping[str, str] = job.answers
    for other, wanted in step.conditions:
        if answers.get(other) not in wanted:
            return f"it is asked once {other} is answered with {' or '.join(wanted)}"
    return ""


def _told(entry: Entry) -> tuple[str, str, datetime | None, str]:
    """What tells an answer from another: step, text, when and by whom it was observed."""
    return entry.step, entry.text, entry.observed_at, entry.observed_by


def _minute(moment: datetime) -> datetime:
    """The minute of a time: on paper seconds are left out."""
    return moment.replace(second=0, microsecond=0)
