"""The safety order of the work, from the record alone: may this step be answered now?

Reading a step is always allowed, and so is isolating. Switching the supply on is refused until
every clearing step (bridge removed, unbridged reading, earth reconnected, insulation test ended,
people clear) was answered and passed since the last isolation, and since whatever reopens it. A
skip or "not applicable" makes nothing safe. Work beyond a hold point waits until the hold point
is whole.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Literal

from commission.checklist.plan import Plan, Step, applies

SupplyState = Literal["on", "off", "unknown"]
MAX_REASONS = 12  # then "and 7 more"


@dataclass(frozen=True, slots=True)
class Answered:
    """The latest live entry of a step: its number in the record, and whether it lets work go on.

    A passing or recorded answer passes; a skip, a fail and a marginal result do not. "Not
    applicable" may pass here, but the supply is never cleared or switched by it.
    """

    number: int
    passing: bool


def supply_state(
    plan: Plan, answered: Mapping[str, Answered], answers: Mapping[str, str]
) -> SupplyState:
    """What the record says of the supply; the later of its switching steps decides.

    It is "unknown" before any of them is answered, and when the later one was not answered with
    yes (a skip may hide what was answered before it): then isolating comes first.
    """
    latest: tuple[int, SupplyState] = (0, "unknown")
    for step in (*plan.isolating, *plan.switching_on):
        entry = answered.get(step.id)
        if entry is not None and entry.number > latest[0]:
            state: SupplyState = "on" if step.item.supply == "on" else "off"
            done = entry.passing and step.id in answers
            latest = entry.number, state if done else "unknown"
    return latest[1]


def reasons_against(
    plan: Plan, step: Step, answered: Mapping[str, Answered], answers: Mapping[str, str]
) -> tuple[str, ...]:
    """Why a step may not be answered now, in words; empty when it may.

    `answers` maps a step to the text of its latest live answer; skips and "not applicable" are
    not in it.
    """
    if step.item.supply == "off":
        return ()
    reasons = _held(plan, step, answered, answers)
    if step.item.supply == "on":
        reasons += _not_clear(plan, answered, answers)
    elif step.needs is not None:
        wrong = _wrong_state(plan, step.needs, supply_state(plan, answered, answers))
        reasons += wrong or _not_dead(plan, step, answered, answers)
    if len(reasons) > MAX_REASONS:
        return (*reasons[:MAX_REASONS], f"and {len(reasons) - MAX_REASONS} more")
    return tuple(reasons)


def named(step: Step) -> str:
    """A step in words: where, and what."""
    return f"{step.target.label}: {step.title}"


def _wrong_state(plan: Plan, needed: str, state: SupplyState) -> list[str]:
    if needed == state:
        return []
    switches = plan.isolating if needed == "off" else plan.switching_on
    first = " or ".join(named(step) for step in switches)
    known = "not recorded isolated" if state == "unknown" else f"recorded {state}"
    wanted = "isolated" if needed == "off" else "switched on"
    return [f"the supply is {known}; it must be {wanted} first ({first})"]


def _not_dead(
    plan: Plan, step: Step, answered: Mapping[str, Answered], answers: Mapping[str, str]
) -> list[str]:
    """Why no ohmmeter and no hand goes on these conductors: they are not proved dead."""
    if step.needs != "off" or step.item.compare == "dead-voltage":
        return []
    live, missing, since_on = [], [], False
    last_on = _last_on(plan, answered)
    for proof in plan.proving_dead:
        if not proof.target.related(step.target) or not applies(proof, answers):
            continue
        entry = answered.get(proof.id)
        if entry is not None and proof.id in answers and not entry.passing:
            live.append(f"{named(proof)}: not dead; find what feeds it, then prove dead again")
        elif not step.item.quantity or not _comes_before(plan, proof, step):
            continue
        elif entry is None or entry.number < last_on:
            missing.append(proof.title)
            since_on = since_on or entry is not None
    if missing:
        how = "again, its conductors off the terminals: the supply was on since" if since_on else ""
        words = f"prove {step.target.label} dead first {how}".rstrip()
        live.append(f"{words}: {', '.join(missing)}")
    return live


def _last_on(plan: Plan, answered: Mapping[str, Answered]) -> int:
    """Number of the entry that last switched the supply on; 0 when none did."""
    entries = [answered[step.id] for step in plan.switching_on if step.id in answered]
    return max((entry.number for entry in entries), default=0)


def to_do_again(
    plan: Plan, answered: Mapping[str, Answered], answers: Mapping[str, str]
) -> dict[str, str]:
    """Answered steps that count no more before the supply may be switched on, each with why.

    Empty while the supply is not isolated: then nothing of it is needed now.
    """
    if supply_state(plan, answered, answers) != "off":
        return {}
    isolated, last_on = _isolated(plan, answered, answers) or 0, _last_on(plan, answered)
    found = {}
    for step in plan.clearing:
        entry = answered.get(step.id)
        if entry is not None and entry.passing and applies(step, answers):
            found[step.id] = _why_not_cleared(step, isolated, answered, answers)
    for step in plan.proving_dead:
        entry = answered.get(step.id)
        if entry is not None and entry.number < last_on:
            found[step.id] = f"{named(step)}: to be done again, the supply was on after it"
    for step in plan.switching_on:
        entry = answered.get(step.id)
        if entry is not None and entry.number < isolated:
            found[step.id] = f"{named(step)}: the supply was isolated after it"
    return {step: why for step, why in found.items() if why}


def _comes_before(plan: Plan, proof: Step, step: Step) -> bool:
    """Whether a proof stands earlier in the same stage."""
    earlier = plan.place[proof.id] < plan.place[step.id]
    return earlier and proof.stage_number == step.stage_number


def _not_clear(
    plan: Plan, answered: Mapping[str, Answered], answers: Mapping[str, str]
) -> list[str]:
    isolated = _isolated(plan, answered, answers)
    reasons = []
    if isolated is None:
        first = " or ".join(named(step) for step in plan.isolating)
        reasons = [f"the supply is not recorded isolated; checks count from then on ({first})"]
    missing = (
        _why_not_cleared(step, isolated or 0, answered, answers)
        for step in plan.clearing
        if applies(step, answers)
    )
    return [*reasons, *(reason for reason in missing if reason)]


def _isolated(
    plan: Plan, answered: Mapping[str, Answered], answers: Mapping[str, str]
) -> int | None:
    """Number of the entry that last isolated the supply; None when none did."""
    isolations = [answered[step.id] for step in plan.isolating if step.id in answers]
    return max((entry.number for entry in isolations if entry.passing), default=None)


def _why_not_cleared(
    step: Step, isolated: int, answered: Mapping[str, Answered], answers: Mapping[str, str]
) -> str:
    """What is wrong with one clearing step; "" when it stands."""
    entry = answered.get(step.id)
    if entry is None:
        return f"{named(step)}: not done"
    if step.id not in answers:
        return f"{named(step)}: set aside, which makes nothing safe; answer it"
    if not entry.passing:
        return f"{named(step)}: did not pass"
    if entry.number < isolated:
        return f"{named(step)}: to be done again, the supply was isolated after it"
    reopened = (answered[other].number for other in step.reopened_by if other in answered)
    if any(number > entry.number for number in reopened):
        return f"{named(step)}: to be done again, work went on after it"
    return ""


def _held(
    plan: Plan, step: Step, answered: Mapping[str, Answered], answers: Mapping[str, str]
) -> list[str]:
    """What is missing in hold points before this step, at its place: one reason for each.

    A step that failed holds until it passes, or somebody decides on its reading; a release that was
    denied holds. What was skipped with a reason lets go on, and stands as an exception.
    """
    missing: dict[tuple[str, str], list[str]] = {}
    for held in plan.holding:
        if (
            held.stage_number < step.stage_number
            and held.target.related(step.target)
            and applies(held, answers)
            and not (held.id in answered and (answered[held.id].passing or held.id not in answers))
        ):
            state = "not done" if held.id not in answered else "did not pass"
            place = held.stage.title, held.target.label
            missing.setdefault(place, []).append(f"{held.title} ({state})")
    return [
        f"hold point {stage}, {place}: no later work may begin before it is whole: "
        f"{', '.join(steps)}"
        for (stage, place), steps in missing.items()
    ]
