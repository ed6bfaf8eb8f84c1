"""Somebody who plays a practice: types what the meter shows and what the helper reads back."""

from __future__ import annotations

from pathlib import Path

from commission.checklist.plan import Step
from commission.crew import Hands
from commission.host import Disk
from commission.practice.begin import begin
from commission.practice.truth import Difficulty
from commission.search import STAGE
from commission.search.found import Found, found
from commission.session import Session
from commission.user.instruments import DEMO
from tests import walks

MAX_TESTS = 25


def begun(folder: Path, number: int, difficulty: Difficulty = "easy", faults: int = 1) -> Session:
    """A practice with somebody at work on it."""
    session = begin(
        faults, difficulty, number, disk=Disk(), now=walks.clock(), folder=folder / str(number)
    )
    session.crew.take(Hands(walks.OBSERVER, walks.WRITER, DEMO))
    return session


def told(session: Session, step: Step) -> str:
    """What is told at a step, or what anybody would say."""
    ground = session.ground
    assert ground is not None
    return ground.tells(session.job, step) or walks.good_answer(session, step)


def do(session: Session, step: Step) -> None:
    """Answer a step with what is told."""
    session.answer(step, told(session, step), confirmed=True)


def walk_through(session: Session) -> None:
    """Answer every step of the checklist, in walking order, until one is refused."""
    while (step := walks.first_open(session)) is not None:
        if session.job.reasons_against(step):
            return
        do(session, step)


def search(session: Session) -> Found:
    """Make the tests that are suggested until there is none; returns what was found at last."""
    for _ in range(MAX_TESTS):
        (answer,) = found(session.job)
        if answer.suggestion is None:
            return answer
        step: Step | None = session.take_up(answer.suggestion.test)
        while step is not None and step.stage.id == STAGE:
            into_state(session, step)
            do(session, step)
            step = walks.first_open(session)
    return answer


def into_state(session: Session, step: Step) -> None:
    """Isolate or switch on as a step needs it, in the order that the reasons ask for."""
    by_id = session.job.plan.by_id
    if step.needs == "off" and session.job.supply != "off":
        do(session, by_id["controller/isolate"])
    for _ in range(30):
        if not session.job.reasons_against(step):
            return
        if step.needs == "off":
            proof = next(
                s for s in session.job.plan.steps
                if s.item.compare == "dead-voltage" and session.job.statuses[s.id].again
            )  # fmt: skip
            do(session, proof)
            continue
        clearing = (s for s in session.job.plan.steps if s.item.clears or s.item.supply == "on")
        stale = next(
            s for s in clearing
            if (s.id in session.job.statuses)
            and (session.job.statuses[s.id].again or session.job.statuses[s.id].state == "open")
        )  # fmt: skip
        do(session, stale)
