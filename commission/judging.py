"""What an answer to a step means, given everything found before it. Pure: writes nothing."""

from __future__ import annotations

from datetime import date

from commission.checklist.plan import Step, applies
from commission.checklist.schema import NO, YES
from commission.electrical.instruments import Accuracy
from commission.expected.electrodes import rod_count
from commission.job import Job
from commission.units import Reading, parse_reading
from commission.verdict.earth import (
    judge_clamp,
    judge_earth,
    judge_fall_of_potential,
    judge_slope,
)
from commission.verdict.judge import (
    FAIL,
    MARGINAL,
    PASS,
    RECORDED,
    Judgement,
    impossible,
    judge,
    judge_reversed,
)

SLOPE = ("slope-20", "slope-40", "slope-60")  # where the potential probe stood, in this order
EXPIRED = "used past its calibration date"


def read_answer(step: Step, text: str) -> Reading | None:
    """The reading that was typed for a measured step, None for other steps.

    Raises ValueError in words for what cannot be read or cannot be.
    """
    item = step.item
    if item.answer != "measure":
        return None
    if item.quantity is None:
        raise ValueError("the checklist names no quantity for this step")
    reading = parse_reading(text, item.quantity, item.unit)
    words = impossible(reading, item.quantity)
    if words:
        raise ValueError(words)
    return reading


def judge_answer(
    job: Job, step: Step, text: str, reading: Reading | None, accuracy: Accuracy | None
) -> Judgement:
    """Judge an answer; without an accuracy a reading is uncertain by one count of its last digit.

    Raises ValueError in words for an answer that is none of the choices.
    """
    item = step.item
    if reading is not None:
        return _judge_reading(job, step, reading, accuracy or Accuracy(0.0, 1.0, reading.digit))
    if item.answer == "text":
        if not text:
            raise ValueError("nothing was typed")
        return Judgement(RECORDED, "recorded")
    choices: dict[str, str] = {one.say: one.verdict for one in item.choice}
    choices = choices or {YES: PASS, NO: FAIL}
    if text not in choices:
        raise ValueError(f"answer with one of: {', '.join(choices)}")
    if item.answer == "choose" and set(choices.values()) == {PASS}:
        return Judgement(RECORDED, "")  # nothing can be wrong: a fact, not a test
    verdict = choices[text]
    return Judgement(verdict, f"answered: {text}" if verdict == FAIL else "")


def _judge_reading(job: Job, step: Step, reading: Reading, accuracy: Accuracy) -> Judgement:
    item, expectation = step.item, job.expectation(step)
    if item.compare == "loop-reversed":
        first = job.value_at(step.target, "loop-resistance")
        return judge_reversed(expectation, first, reading, accuracy, item.unit)
    if item.compare == "fall-of-potential":
        apart = _held_apart(job, step)
        if apart is not None:
            return Judgement(RECORDED, f"recorded; judged once '{apart.title}' is read again")
        others = [
            value
            for name in ("earth-resistance", "fall-of-potential")
            for value in job.values_at(step.target, name, without=step.id)
        ]
        return judge_fall_of_potential(others, reading)
    rods = rod_count(job.site.earth)
    if item.compare == "earth-resistance":
        return judge_earth(expectation, reading, accuracy, item.unit, rods)
    if item.compare == "earth-clamp":
        return judge_clamp(expectation, reading, accuracy, item.unit, rods)
    if item.compare in SLOPE:
        own = reading.value if reading.relation == "=" else None
        three = [own if name == item.compare else job.value_at(step.target, name) for name in SLOPE]
        return judge_slope(expectation, three, accuracy, item.unit, rods)
    return judge(expectation, reading, accuracy, item.unit)


def _held_apart(job: Job, step: Step) -> Step | None:
    """The other outer reading, where it stands as apart from the two that it was judged with.

    Whoever reads all three again begins here: against those of before, nothing can be said yet.
    """
    for other in job.plan.steps:
        if other.item.compare == step.item.compare and other.target == step.target:
            entry = job.state.latest.get(other.id)
            held = entry is not None and entry.type == "answer" and entry.verdict == MARGINAL
            if held and other.id != step.id and applies(other, job.answers):
                return other
    return None


def warning_of(due: date | None, on: date) -> str:
    """What is said of an instrument used on a day after its calibration was due; "" for nothing."""
    return f"{EXPIRED} {due.isoformat()}" if due is not None and due < on else ""


def said_of_instrument(name: str, *, known: bool, expired: bool) -> str:
    """What must be known of an instrument beside a verdict; `known`: its accuracy is."""
    said = [] if known else [f"no accuracy of {name} is known here, its last digit was taken"]
    return "; ".join([*said, f"{name} {EXPIRED}"] if expired else said)


def with_said(judgement: Judgement, said: str) -> str:
    """A finding with what must be known of the instrument."""
    return f"{judgement.finding}; {said}" if said else judgement.finding
