"""Two reports of one site side by side: what changed beyond doubt, and was it there at handover?

Pure: two jobs, made from reports or read from their folders, give the same comparisons each time.
Steps are matched by their ids, and so places by the ids of path, box and station.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Literal

from commission.checklist.plan import Step
from commission.electrical.sources import FORMULA_SET
from commission.expected.asfound import Works, in_words
from commission.job import Job, Status
from commission.problems import InputRefused
from commission.report.change import CANNOT, CHANGED, UNCHANGED, Change, Result
from commission.report.handover import Handover, Kind, at_handover
from commission.report.measured import How, MeasuredChange, how_compared, measured_change
from commission.report.shown import said_words
from commission.units import Quantity
from commission.verdict.judge import FAIL, MARGINAL, PASS, RECORDED
from commission.works import will_it_work

_BAD = (FAIL, MARGINAL)
_OF_ITS_DAY = ("soil-temperature", "probe-distance")  # what was there to measure by, no finding
_SIGNS = ("indicator", "valve")  # of a station: told even where one report has none


@dataclass(frozen=True, slots=True)
class Comparison:
    """One place in both reports.

    `then` and `now` are as they were read or answered, `then_si` and `now_si` as they were
    compared. `handover` is what the earlier report held, where the later one has a fault or a
    change, else None.
    """

    step: str
    place: str
    title: str
    how: How | Literal["verdict", "worst set"]
    then: str
    now: str
    verdict_then: str
    verdict_now: str
    change: Change
    quantity: Quantity | None = None
    unit: str = ""
    then_si: float | None = None
    now_si: float | None = None
    notes: tuple[str, ...] = ()
    handover: Handover | None = None

    @property
    def result(self) -> Result:
        """Unchanged, changed, or cannot be compared."""
        return self.change.result

    @property
    def is_wrong(self) -> bool:
        """Whether the later report found it failing or marginal."""
        return self.verdict_now in _BAD


def compare(earlier: Job, later: Job) -> tuple[Comparison, ...]:
    """Every place that both reports know, in walking order of the later one, then the worst sets.

    Raises InputRefused when no path, box or station has the same id in both.
    """
    common = set(_things(earlier)) & set(_things(later))
    if not any(kind != "output" for kind, *_ids in common):
        raise InputRefused(
            "nothing to compare: no path, box or station has the same id in both reports"
        )
    steps = {step.id: step for step in (*earlier.plan.steps, *later.plan.steps)}
    order = dict.fromkeys([*later.plan.by_id, *earlier.plan.by_id])
    compared = (_compared(earlier, later, steps[step_id]) for step_id in order)
    found = [one for one in compared if one is not None]
    return (*found, *_worst_sets(earlier, later))


def _compared(earlier: Job, later: Job, step: Step) -> Comparison | None:
    """One step of both reports; None where nothing can be said of it."""
    then, now = earlier.statuses.get(step.id), later.statuses.get(step.id)
    found = _change(earlier, later, step)
    if found is None:
        return None
    verdict_now = now.verdict if now else ""
    look = verdict_now in _BAD or found.change.result == CHANGED
    return Comparison(
        step.id, step.target.label, step.title, how_compared(step) or "verdict",
        said_words(then), said_words(now), then.verdict if then else "", verdict_now, found.change,
        step.item.quantity, step.item.unit, found.then_si, found.now_si, found.notes,
        at_handover(earlier, step.id) if look else None,
    )  # fmt: skip


def _change(earlier: Job, later: Job, step: Step) -> MeasuredChange | None:
    """What changed at a step, or why that cannot be said; None where nobody would ask."""
    then, now = earlier.statuses.get(step.id), later.statuses.get(step.id)
    wrong = now is not None and now.verdict in _BAD
    how = how_compared(step)
    if step.item.compare in _OF_ITS_DAY or _told_with_its_loop(later, step):
        return None
    if then is None or now is None or {then.state, now.state} != {"answered"}:
        if not wrong and not _missed(earlier, later, step, how):
            return None
        reasons = (_missing(earlier, then, step, "earlier"), _missing(later, now, step, "later"))
        return MeasuredChange(Change(CANNOT, "; ".join(reason for reason in reasons if reason)))
    if how is not None:
        return measured_change(earlier, later, step, how)
    if RECORDED in (then.verdict, now.verdict) and not wrong:
        return None
    return MeasuredChange(_by_verdict(then, now))


def _told_with_its_loop(later: Job, step: Step) -> bool:
    """Whether this is a loop's other polarity, and the first one is as bad: both are one value."""
    return step.item.compare == "loop-reversed" and any(
        status.step.item.compare == "loop-resistance"
        and status.step.target == step.target
        and status.verdict in _BAD
        for status in later.statuses.values()
    )


def _answered(status: Status | None) -> bool:
    return status is not None and status.state == "answered"


def _by_verdict(then: Status, now: Status) -> Change:
    """Compare what was seen: it worked then and not now, or the other way round."""
    if then.verdict == now.verdict:
        return Change(UNCHANGED)
    if now.verdict in _BAD and then.verdict == PASS:
        return Change(CHANGED, "worked then, not now" if now.step.item.sign else "passed then")
    if now.verdict == PASS and then.verdict in _BAD:
        return Change(
            CHANGED, "did not work then" if now.step.item.sign else f"{then.verdict} then"
        )
    return Change(CHANGED, f"{then.verdict} then, {now.verdict} now")


def _missed(earlier: Job, later: Job, step: Step, how: How | None) -> bool:
    """Whether one asks why a step is not in both: places of one report alone are listed apart."""
    if how is None and step.item.sign not in _SIGNS:
        return False
    if not any(_answered(job.statuses.get(step.id)) for job in (earlier, later)):
        return False
    return all(_knows(job, step) for job in (earlier, later))


def _knows(job: Job, step: Step) -> bool:
    """Whether a job's site has the thing that a step is about."""
    target, things = step.target, _things(job)
    if target.station:
        return ("station", target.station) in things
    if target.box:
        return ("box", target.path, target.box) in things
    return not target.path or ("path", target.path) in things


def _missing(job: Job, status: Status | None, step: Step, which: str) -> str:
    """Why a step gives nothing to compare with in one report; empty where it does."""
    if status is None:
        if step.id in job.plan.by_id:
            return f"not asked in the {which} report: an answer before it led another way"
        known = (
            "its checklist or drawing has no such step" if _knows(job, step) else "not there yet"
        )
        return f"not in the {which} report: {known}"
    if status.state == "open":
        return f"not tested in the {which} report"
    if status.state == "answered":
        return ""
    how = "skipped" if status.state == "skipped" else "marked as not applicable"
    return f"{how} in the {which} report: {status.entry.text if status.entry else ''}"


def _worst_sets(earlier: Job, later: Job) -> Iterator[Comparison]:
    """Whether the worst set of each output works: the probability then and now."""
    before, after = will_it_work(earlier), will_it_work(later)
    for output in (one for one in after if one in before):
        then, now = before[output], after[output]
        same = then.verdict == now.verdict
        change = Change(
            UNCHANGED if same else CHANGED,
            "" if same else f"{then.verdict} then, {now.verdict} now",
            now.probability - then.probability,
        )
        look = not same or now.verdict in _BAD
        yield Comparison(
            f"output/{output}/together", f"Output {output}", "Worst set, will it work",
            "worst set", _sure(then), _sure(now), then.verdict, now.verdict, change,
            "number", "", then.probability, now.probability,
            tuple(_about_sets(earlier, later, output, now)),
            Handover(_KINDS[then.verdict], f"{then.verdict} then: {_sure(then)}") if look else None,
        )  # fmt: skip


_KINDS: dict[str, Kind] = {FAIL: "outside", MARGINAL: "marginal", PASS: "passed"}


def _sure(works: Works) -> str:
    """How sure it is that a worst set works, and how low its worst solenoid gets."""
    return (
        f"{in_words(works.probability)} that all pull in, lowest {works.lowest_v:.1f} V of "
        f"{works.minimum_v:.1f} V needed"
    )


def _about_sets(earlier: Job, later: Job, output: str, now: Works) -> Iterator[str]:
    """Which stations, where they are not the same; what of the later readings does not fit."""
    sets = [
        ", ".join(
            str(job.sheet.drawing.stations[one].number) for one in job.sheet.worst_sets[output]
        )
        for job in (earlier, later)
    ]
    if sets[0] != sets[1]:
        yield f"another worst set: stations {sets[0]} then, {sets[1]} now"
    if now.unexplained:
        yield f"not explained now: {', '.join(now.unexplained)}"


_Thing = tuple[str, ...]


def _things(job: Job) -> dict[_Thing, str]:
    """Every output, path, box and station of a job's site by its ids, in words."""
    found: dict[_Thing, str] = {("output", one.id): f"output {one.id}" for one in job.site.output}
    for path, tree in job.sheet.drawing.trees.items():
        found["path", path] = f"path {path}"
        found |= {("box", path, b): f"box {b} of path {path}" for b in tree.feeds}
    found |= {("station", s.id): f"station {s.number} ({s.id})" for s in job.site.station}
    return found


def only_in(one: Job, other: Job) -> tuple[str, ...]:
    """What the site of one job has and that of the other has not, in words."""
    others = _things(other)
    return tuple(words for thing, words in _things(one).items() if thing not in others)


def remarks(earlier: Job, later: Job) -> tuple[str, ...]:
    """What to know of the two reports before reading what changed."""
    found = []
    names = earlier.site.site.name, later.site.site.name
    if names[0] != names[1]:
        found.append(f"two names of the site: {names[0]} then, {names[1]} now")
    if earlier.header.job == later.header.job:
        found.append("both are the same job")
    elif earlier.header.created_at > later.header.created_at:
        found.append("the one named as earlier was begun after the other: are they the right way?")
    for which, job in (("earlier", earlier), ("later", later)):
        if not job.signed:
            found.append(f"the {which} one is a draft: nobody signed it, anything may still change")
        if job.header.practice:
            found.append(f"the {which} one is practice: it says nothing about a real site")
        if job.header.formula_set != FORMULA_SET:
            found.append(
                f"the {which} one was judged by formula set {job.header.formula_set}: its verdicts "
                f"stand as recorded, what is computed here is by set {FORMULA_SET}"
            )
    return tuple(found)
