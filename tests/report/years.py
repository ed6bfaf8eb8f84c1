"""Two jobs on one site, years apart, walked with chosen readings."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import replace
from pathlib import Path

from commission.checklist.plan import Step
from commission.crew import Hands
from commission.host import Disk
from commission.job import Job
from commission.opening import open_job
from commission.resources import samples
from commission.session import Session
from commission.user.instruments import Instrument
from tests import walks

Answer = str | Callable[[Session, Step], str] | None
SAMPLE = "small-garden"
LOOP, REVERSED = "path/A/end/B4/loop-resistance", "path/A/end/B4/loop-reversed"
EARTH = "controller/earth-resistance"
OTHER_METER = replace(walks.METER, id="second", serial="C-9")  # invented, as accurate


def off(ohm: float) -> Callable[[Session, Step], str]:
    """A reading that lies so much above what was expected, in SI."""

    def text(session: Session, step: Step) -> str:
        expectation = session.job.expectation(step)
        assert expectation is not None
        return walks.typed(expectation.value + ohm, step)

    return text


def walked(
    folder: Path,
    answers: Mapping[str, Answer] | None = None,
    *,
    kind: str = "new",
    meter: Instrument = walks.METER,
    site: str = "",
    signed: bool = False,
) -> Job:
    """A job walked to its end, well but for some answers by step id; None skips the step."""
    folder.mkdir(parents=True)
    file = folder / f"{SAMPLE}.toml"
    file.write_text(site or samples()[SAMPLE].read_text("utf-8"), encoding="utf-8")
    session = open_job(file, kind=kind, disk=Disk(), now=walks.clock())
    session.crew.take(Hands(observed_by=walks.OBSERVER, entered_by=walks.WRITER, instrument=meter))
    while (step := walks.first_open(session)) is not None:
        wanted = (answers or {}).get(step.id, walks.good_answer(session, step))
        if wanted is None:
            session.skip(step, "no access")
        else:
            text = wanted if isinstance(wanted, str) else wanted(session, step)
            walks.answer(session, step, text)
    if signed:
        session.sign(walks.signoff(), walks.KEY)
    session.close()
    return session.job
