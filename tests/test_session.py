"""A session without a screen: what it refuses, what it keeps, and what a decision changes."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest

from commission.problems import InputRefused, StepRefused
from commission.session import AskBack, Session
from tests.walks import begin, first, good_answer, status, walk_until


@pytest.fixture
def session(tmp_path: Path) -> Iterator[Session]:
    """A new job on the small sample."""
    opened = begin(tmp_path, "small-garden")
    yield opened
    opened.close()


def test_a_decided_reading_lets_the_supply_be_switched_on(session: Session) -> None:
    switch = first(session, lambda step: step.item.supply == "on")
    unbridged = first(session, lambda step: step.item.id == "unbridged-again")
    walk_until(session, switch)
    session.answer(unbridged, "400 ohm", confirmed=True)
    assert status(session, unbridged).verdict == "fail"
    reasons = session.job.reasons_against(switch)
    assert any(unbridged.title in reason for reason in reasons)
    with pytest.raises(StepRefused):
        session.answer(switch, "yes")
    session.accept_exception(unbridged, "measured twice, the owner agrees")
    remaining = session.job.reasons_against(switch)
    assert not any(unbridged.title in reason for reason in remaining)


def test_a_denied_confirmation_is_never_decided_away(session: Session) -> None:
    switch = first(session, lambda step: step.item.supply == "on")
    walk_until(session, switch)
    clear = next(
        step
        for step in session.job.plan.clearing
        if step.item.answer == "confirm" and step.id in session.job.answers
    )
    session.answer(clear, "no")
    session.accept_exception(clear, "in a hurry")
    assert any(clear.title in reason for reason in session.job.reasons_against(switch))


def test_a_reading_far_off_is_asked_back_and_kept_when_meant(session: Session) -> None:
    loop = first(session, lambda step: step.item.compare == "loop-resistance")
    walk_until(session, loop)
    with pytest.raises(AskBack, match="ten times"):
        session.answer(loop, "900 ohm")
    assert status(session, loop).state == "open"
    session.answer(loop, "900 ohm", confirmed=True)
    # On the range of that meter which holds 900 ohm, two counts are ±2 kohm: it cannot tell.
    assert status(session, loop).verdict == "marginal"
    session.answer(loop, "300 ohm", confirmed=True)
    assert status(session, loop).verdict == "fail"


@pytest.mark.parametrize("reason", ["", "   ", "\x1b[31m", "a\u202eb"])
def test_a_reason_has_words_and_no_control_characters(session: Session, reason: str) -> None:
    step = session.job.plan.steps[0]
    with pytest.raises(InputRefused):
        session.skip(step, reason)
    assert session.job.state.entries == ()


def test_an_earlier_answer_counts_again_when_the_later_is_withdrawn(session: Session) -> None:
    step = session.job.plan.steps[0]
    session.answer(step, good_answer(session, step))
    session.answer(step, "another text")
    session.withdraw(2, "mistyped")
    assert session.job.answers[step.id] == good_answer(session, step)
    with pytest.raises(InputRefused, match="cannot be withdrawn"):
        session.withdraw(2, "again")
    assert len(session.job.state.history[step.id]) == 3
