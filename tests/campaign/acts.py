"""What a person may do, as data: calls of the session, as the screens make them.

Whoever adds a call to the session adds a line here. An act may be refused in words
(CommissionError); anything else that it raises is a fault.
"""

from __future__ import annotations

import random
from collections.abc import Callable
from dataclasses import dataclass, replace
from pathlib import Path

from commission.checklist.plan import Step
from commission.job import Status
from commission.problems import CommissionError
from commission.session import SEVERITIES, Session
from tests import walks
from tests.campaign import ground

Do = Callable[[Session, random.Random, str], object]
PHOTO = Path("/camera/box.jpg")  # on a simulated disk; on a real one a file that is not there


@dataclass(frozen=True, slots=True)
class Act:
    """One thing to do: `text` is whatever somebody typed, sensible or not."""

    name: str
    do: Do
    weight: int = 1


def any_status(session: Session, rng: random.Random) -> Status:
    """A step that applies: most often the next to do, else any."""
    statuses = list(session.job.statuses.values())
    step_id = session.job.next_to_do(statuses[0].step.id)
    if step_id is not None and rng.random() < 0.7:
        return session.job.statuses[step_id]
    return rng.choice(statuses)


def any_step(session: Session, rng: random.Random) -> Step:
    """The step of that."""
    return any_status(session, rng).step


def answer_well(session: Session, rng: random.Random, _text: str) -> None:
    """A good answer."""
    step = any_step(session, rng)
    walks.answer(session, step, walks.good_answer(session, step))


def answer_badly(session: Session, rng: random.Random, _text: str) -> None:
    """A reading far off, or the choice that says that it does not work."""
    step = any_step(session, rng)
    text = walks.bad_answer(step)
    if step.item.answer == "measure":
        value = walks.good_reading(session.job.expectation(step))
        text = walks.typed(value * rng.choice((0.3, 0.9, 1.02, 2, 30)), step)
    walks.answer(session, step, text)


def answer_anything(session: Session, rng: random.Random, text: str) -> None:
    """Whatever was typed, previewed on the way, meant or not."""
    step = any_step(session, rng)
    session.preview(step, text)
    session.answer(step, text, photo=text[:5], note=text[5:9], confirmed=rng.random() < 0.5)


def withdraw(session: Session, rng: random.Random, text: str) -> None:
    """Take back any entry, also one that can't be."""
    session.withdraw(rng.randint(0, len(session.job.state.entries) + 1), text)


def raise_defect(session: Session, rng: random.Random, text: str) -> None:
    """A defect anywhere, of any severity."""
    severity = rng.choice((*SEVERITIES, text))
    session.raise_defect(any_step(session, rng), severity, text, text, text)


def close_defect(session: Session, rng: random.Random, text: str) -> None:
    """A second look at a defect, there or not."""
    session.close_defect(f"D{rng.randint(0, len(session.job.state.defects) + 1)}", text)


def other_hands(session: Session, rng: random.Random, text: str) -> None:
    """Other people, another instrument, or none."""
    instrument = rng.choice((None, walks.METER, walks.METER, walks.OLD_METER))
    hands = replace(session.crew.hands, instrument=instrument)
    session.crew.take(replace(hands, observed_by=rng.choice((walks.OBSERVER, walks.WRITER))))


def draft(session: Session, rng: random.Random, text: str) -> None:
    """Leave something half typed."""
    step = any_step(session, rng)
    session.keep_draft(step.id, text)
    session.draft()


def look(session: Session, rng: random.Random, text: str) -> None:
    """What a card, a list and a picture ask the job for."""
    status = any_status(session, rng)
    session.job.expectation(status.step)
    session.job.reasons_against(status.step)
    list(session.job.undecided())
    session.preview(status.step, text)


ACTS: tuple[Act, ...] = (
    Act("answer well", answer_well, 12),
    Act("answer badly", answer_badly, 3),
    Act("answer anything", answer_anything, 4),
    Act("skip", lambda s, rng, text: s.skip(any_step(s, rng), text)),
    Act("not applicable", lambda s, rng, text: s.not_applicable(any_step(s, rng), text)),
    Act("note", lambda s, rng, text: s.note(any_step(s, rng), text)),
    Act("exception", lambda s, rng, text: s.accept_exception(any_step(s, rng), text)),
    Act("defect", raise_defect, 2),
    Act("second look", close_defect, 2),
    Act("withdraw", withdraw, 3),
    Act("change", lambda s, rng, text: s.change_drawing(any_step(s, rng), text, text, text, text)),
    Act("another drawing", lambda s, rng, text: ground.change(s, any_step(s, rng), rng, text), 2),
    Act("repair", lambda s, rng, _text: ground.repair(s, any_step(s, rng), rng)),
    Act("photo", lambda s, rng, text: s.attach(any_step(s, rng), PHOTO)),
    Act("people and instrument", other_hands),
    Act("half-typed", draft),
    Act("look about", look, 2),
)
# What takes longer, or leaves files beside the job.
SELDOM: tuple[Act, ...] = (
    Act("search", ground.search),
    Act("survey", lambda s, rng, _text: ground.survey(s, rng)),
)


def finish(session: Session) -> None:
    """Answer what can be answered, skip the rest, and decide what is marginal: ready to sign."""
    while (step := walks.first_open(session)) is not None:
        try:
            walks.answer(session, step, walks.good_answer(session, step))
        except CommissionError:
            session.skip(step, "not possible now")
    while (undecided := next(session.job.undecided(), None)) is not None:
        session.accept_exception(undecided.step, "as it is")
