"""A job's drawing: as designed, with the changes that its record holds so far.

Pure: the same record gives the same drawing, so that opening a job, adding to it and recomputing
its report agree. A change that was taken back counts no more.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import replace

from commission.checklist.order import named
from commission.checklist.plan import Step, build_plan
from commission.checklist.words import Words
from commission.expected.sheet import Sheet
from commission.expected.values import Expectation
from commission.job import Job
from commission.record.entry import Entry
from commission.record.replay import State, fold
from commission.search import with_search
from commission.site.changes.drawing import (
    changed_site,
    changed_tables,
    rewritten_text,
    tables_of,
)
from commission.site.changes.kinds import (
    Change,
    ChangeBox,
    ChangeStation,
    Rename,
    SwapAddresses,
    read_line,
)
from commission.site.changes.words import Told, told
from commission.site.schema import Site
from commission.survey import with_survey

TOUCHED_PART = 0.1  # of its standard uncertainty: as far as an expectation may move (judgement)


def redrawing(job: Job) -> tuple[Entry, ...]:
    """The live entries of a job that change its drawing, oldest first."""
    return tuple(entry for entry in job.state.entries if entry.redraws and job.state.is_live(entry))


def changes_of(job: Job) -> tuple[Change, ...]:
    """The changes of a job's drawing so far, oldest first; raises InputRefused."""
    return tuple(read_line(entry.redraws) for entry in redrawing(job))


def redrawn(job: Job, *, known_good: bool = False) -> Job:
    """The job with the drawing that its entries ask for; the same job where it has that already.

    Raises InputRefused for a change that can't be read or does not fit the drawing; `known_good`
    when all were accepted before.
    """
    entries = redrawing(job)
    numbers = tuple(entry.number for entry in entries)
    if numbers == job.redrawn_by:
        return job
    standing = _as_designed(job)
    for count, entry in enumerate(entries, start=1):
        site, sheet = _drawing(standing, entries[:count], known_good=known_good)
        after = replace(
            _drawn(standing, site, sheet), designed_site=job.designed, redrawn_by=numbers[:count]
        )
        found = _touched(read_line(entry.redraws), standing, after, entry.number)
        touched = {**standing.touched, **dict.fromkeys(found, entry.number)}
        standing = replace(after, touched=touched)
    return standing


def with_entries(job: Job, *entries: Entry) -> Job:
    """The job as it would stand with entries appended; writes nothing, raises InputRefused."""
    state = job.state
    for entry in entries:
        state = fold(state, replace(entry, number=len(state.entries) + 1))
    # Drawings of what may never be kept are let go of with the job that it would be.
    return redrawn(replace(job, state=state, drawings=dict(job.drawings)))


def told_of(job: Job, change: Change) -> Told:
    """What a change is about, as drawn and as found, in words; raises InputRefused."""
    return told(changed_tables(tables_of(job.site_text), changes_of(job)), change)


def drawing_then(job: Job) -> Callable[[State], Job]:
    """Gives the job at an earlier state: with the drawing of then, and every step asked since."""
    first = _as_designed(job)
    known: dict[tuple[int, ...], Job] = {(): first}

    def then(state: State) -> Job:
        live = [entry for entry in state.entries if entry.redraws and state.is_live(entry)]
        numbers = tuple(entry.number for entry in live)
        if numbers not in known:
            drawn = _drawn(first, *_drawing(first, live))
            known[numbers] = replace(drawn, designed_site=job.designed, redrawn_by=numbers)
        return replace(known[numbers], state=state)

    return then


def as_found_text(
    job: Job, prepared: Callable[[str, Change], str] = lambda text, _change: text
) -> str:
    """The text of the site file with all changes made, for a job that follows; comments stay.

    Where a change can't be made in the text as it is, all is written anew from that change on.
    `prepared` may put into the text, before each change, what people want to read beside it.
    """
    text = job.site_text
    for change in changes_of(job):
        text = rewritten_text(prepared(text, change), change)
    return text


def _as_designed(job: Job) -> Job:
    """The job with its drawing as it began."""
    if not job.redrawn_by:
        job.drawings[()] = job.site, job.sheet
        return job
    first = _drawn(job, *_drawing(job, ()))
    return replace(first, designed_site=None, redrawn_by=(), touched={})


def _drawing(job: Job, entries: Sequence[Entry], *, known_good: bool = False) -> tuple[Site, Sheet]:
    """The drawing after some changes, and what it lets expect: made once, for it takes long."""
    lines = tuple(entry.redraws for entry in entries)
    if lines not in job.drawings:
        changes = [read_line(one) for one in lines]
        site = changed_site(job.site_text, changes, known_good=known_good)
        job.drawings[lines] = site, Sheet(site)
    return job.drawings[lines]


def _drawn(job: Job, site: Site, sheet: Sheet) -> Job:
    """The job at another drawing of its site: other expectations, other steps."""
    plan = build_plan(job.checklist, site, sheet.drawing.trees, sheet.worst_sets)
    plan = with_survey(plan, site, job.state)
    # Tests of a search that were taken up and are not answered yet stay too.
    steps = (*(entry.step for entry in job.state.entries), *job.plan.by_id)
    return replace(job, site=site, sheet=sheet, plan=with_search(plan, site, steps))


def _touched(change: Change, before: Job, after: Job, number: int) -> Iterator[str]:
    """Steps answered before an entry whose change lets them ask or expect something else.

    Other words touch none. Where another decoder, address or solenoid is found, whatever was seen
    of the station was of something else.
    """
    own: tuple[str, ...] = ()
    match change:
        case Rename() | ChangeBox():
            return
        case ChangeStation() if change.only_words:
            return
        case ChangeStation() if change.other_parts:
            own = (change.station,)
        case SwapAddresses():
            own = change.station, change.other
    for step in after.plan.steps:
        if not any(entry.number < number for entry in after.state.history.get(step.id, ())):
            continue
        old = before.plan.by_id.get(step.id)
        if (
            step.target.station in own
            or old is None
            or _asks(before, old) != _asks(after, step)
            or _moved(before, after, old, step, number)
        ):
            yield step.id


def _asks(job: Job, step: Step) -> tuple[str, ...]:
    """What a step asks, and where; the same box farther away is still the same box."""
    ask = step.ask
    if "{distance}" in step.item.ask:
        ask = ask.replace(Words(job.site, job.sheet.drawing.trees).distance(step.target), "")
    return (step.title, ask, step.target.box, *step.target.stations)


def _moved(before: Job, after: Job, old: Step, new: Step, number: int) -> bool:
    """Whether what a step's reading is compared with is another, beyond what could matter."""
    name, conditions = new.item.compare, after.conditions_before(number)
    if name is None:
        return False
    then = before.sheet.expectation(name, old.target, conditions)
    now = after.sheet.expectation(name, new.target, conditions)
    if then is None or now is None:
        return then is not now
    return _apart(then, now)


def _apart(then: Expectation, now: Expectation) -> bool:
    u = max(now.u or 0.0, 1e-9 * abs(now.value))
    pairs = ((then.value, now.value), (then.low, now.low), (then.high, now.high))
    return any(
        (a is None) != (b is None)
        or (a is not None and b is not None and abs(a - b) > TOUCHED_PART * u)
        for a, b in pairs
    )


def lost_with_work(before: Job, after: Job) -> tuple[str, ...]:
    """What a change would take out of the safety order while work that it ends stands recorded.

    A bridge that was put on at a box has to come off before the drawing may lose the box.
    """
    return tuple(
        f"{named(step)}: to be done before the drawing loses it"
        for step in before.plan.clearing
        if step.id not in after.plan.by_id and _work_stands(before, step)
    )


def _work_stands(job: Job, step: Step) -> bool:
    """Whether a clearing step is not passed since the last work that it ends."""
    work = [job.answered[one].number for one in step.reopened_by if one in job.answered]
    own = job.answered.get(step.id)
    done = own.number if own is not None and own.passing and step.id in job.answers else 0
    return bool(work) and max(work) > done
