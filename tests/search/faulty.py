"""Jobs on the small garden in which something is wrong: what would be read, by hand.

The garden: output - B1 - B2, from there B3 - B4 and B5 - B6; one station in each box.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from pathlib import Path

from commission.checklist.plan import Step
from commission.session import Session
from tests import walks

SAMPLE = "small-garden"
Change = Callable[[Session, Step], str]  # what is answered instead


def more(ohm: float) -> Change:
    """A loop with so much more than drawn."""

    def text(session: Session, step: Step) -> str:
        return walks.typed(walks.good_reading(session.job.expectation(step)) + ohm, step)

    return text


def said(words: str) -> Change:
    """Some answer."""
    return lambda _session, _step: words


def idle(session: Session, step: Step) -> str:
    """The path's standby current: nothing more flows."""
    (standby,) = (s for s in session.job.plan.steps if s.item.compare == "standby-current")
    return walks.typed(walks.good_reading(session.job.expectation(standby)), step)


def loops(*ends: str, ohm: float) -> dict[str, Change]:
    """The loops of some ends, both polarities, with more than drawn."""
    names = ("loop-resistance", "loop-reversed")
    return {f"path/A/end/{end}/{name}": more(ohm) for end in ends for name in names}


def dead(station: str) -> dict[str, Change]:
    """A station whose decoder does nothing."""
    return {
        f"station/{station}/indicator": said("dark"),
        f"station/{station}/valve": said("nothing"),
        f"station/{station}/station-current": idle,
        f"station/{station}/station-voltage": said("0.00 V"),
    }


def walked(
    folder: Path, changes: Mapping[str, Change], until: str = "", sample: str = SAMPLE
) -> Session:
    """A job answered well but for some steps, in walking order, up to the first step `until`."""
    session = walks.begin(folder, sample)
    while (step := walks.first_open(session)) is not None and step.item.id != until:
        change = changes.get(step.id)
        text = change(session, step) if change else walks.good_answer(session, step)
        walks.answer(session, step, text)
    return session


def again(session: Session, step_id: str, text: str = "") -> None:
    """Answer a step anew, well unless something else is given."""
    step = session.job.plan.by_id[step_id]
    walks.answer(session, step, text or walks.good_answer(session, step))
