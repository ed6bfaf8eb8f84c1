"""What a person may do about the ground, as data: changes of the drawing, searches, repairs.

Whoever adds a kind of change adds a line to `CHANGES`.
"""

from __future__ import annotations

import random
from collections.abc import Callable
from dataclasses import dataclass

from commission.checklist.plan import Step
from commission.practice.repair import PUT_RIGHT, REPAIRS, SEVERITY, places
from commission.search.found import found
from commission.session import Session
from commission.site.changes.kinds import (
    AddBox,
    AddStation,
    Cable,
    Change,
    DeleteBox,
    DeleteStation,
    Length,
    MoveStation,
    Rename,
)
from commission.site.schema import Site
from commission.survey.sections import surveyed
from commission.survey.told import lines
from tests import walks


@dataclass(frozen=True, slots=True)
class Spot:
    """What a change may name, most of it there, and words that somebody typed."""

    path: str
    box: str
    other_box: str
    station: str
    cable: str
    decoder: str
    solenoid: str
    number: int
    length: str
    words: str


CHANGES: tuple[Callable[[Spot], Change], ...] = (
    lambda at: Length(at.path, at.box, at.length, "tape"),
    lambda at: Length(at.path, at.box, at.words, at.words),
    lambda at: Cable(at.path, at.box, at.cable),
    lambda at: Cable(at.path, at.box, at.words),
    lambda at: AddBox(at.path, at.box, f"N{at.number}", at.length, "12.5 m", at.words, at.words),
    lambda at: AddBox(at.path, at.box, at.words, at.length, at.words),
    lambda at: AddStation(
        f"N{at.number}", at.number, at.number, at.path, at.box, at.decoder, at.solenoid, 1, at.words
    ),
    lambda at: MoveStation(at.station, at.path, at.other_box),
    lambda at: Rename("box", at.box, at.words),
    lambda at: Rename("station", at.station, at.words),
    lambda at: Rename(at.words, at.words, at.words),
    lambda at: DeleteStation(at.station),
    lambda at: DeleteBox(at.path, at.box),
)


def spot(site: Site, rng: random.Random, text: str) -> Spot:
    """Somewhere at a site."""
    path = rng.choice(site.path)
    boxes = [segment.to_box for segment in path.segment]
    stations = [station.id for station in site.station] or ["none"]
    return Spot(
        path.id, rng.choice(boxes), rng.choice(boxes), rng.choice(stations),
        rng.choice((*site.cable_kind, "16 AWG", "2.5 mm²")), rng.choice((*site.decoder_kind,)),
        rng.choice((*site.solenoid_kind,)), rng.randrange(300),
        f"{rng.choice((0, 1, 60, 85.5))} {rng.choice(('ft', 'm'))}", text,
    )  # fmt: skip


def change(session: Session, step: Step, rng: random.Random, text: str) -> None:
    """The drawing is another on site."""
    at = spot(session.job.site, rng, text)
    session.change_site(step, rng.choice(CHANGES)(at), text)


def search(session: Session, rng: random.Random, text: str) -> None:
    """Look where the fault is, take up the test that is proposed, and read it."""
    for answer in found(session.job):
        if answer.suggestion is not None:
            step = session.take_up(answer.suggestion.test)
            good = walks.good_answer(session, step)
            walks.answer(session, step, rng.choice((good, walks.bad_answer(step), text)))


def repair(session: Session, step: Step, rng: random.Random) -> None:
    """Put something right at a practice, there or not; what is told then is another."""
    where = rng.choice(places(session.job.site))
    session.raise_defect(step, SEVERITY, where, rng.choice(tuple(REPAIRS)), PUT_RIGHT)
    if session.ground is not None:
        session.ground.tells(session.job, step)


def survey(session: Session, rng: random.Random) -> None:
    """Read what was found of an old bundle, and write the site file with its pairs."""
    lines(session.job, list(surveyed(session.job.site, session.job.state.latest)))
    folder = session.job.folder
    session.write_pairs(str(folder.with_name(f"{folder.name}-{rng.randrange(9)}.toml")))
