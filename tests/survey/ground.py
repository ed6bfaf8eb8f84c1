"""The ground below the sample of an old bundle, read through the steps of its survey."""

from __future__ import annotations

import math
from collections.abc import Iterator

from commission.checklist.plan import Step
from commission.expected.inputs import conductor
from commission.session import Session
from commission.survey.sections import kind_of, surveyed, test_of
from commission.units import in_unit
from tests.bundle.ground import Ground

SAMPLE = "old-bundle"
FAR = 1e9  # what is shown for no end


def grounds(session: Session) -> dict[str, Ground]:
    """A sound section for every box, of the kinds and lengths drawn."""
    site = session.job.site
    found = {}
    for section in surveyed(site, {}):
        ohm = {
            name: section.segment.length_m
            * conductor(site.cable_kind[kind_of(section.path, one)], 50.0).r20_ohm_per_m
            for name, one in section.conductors.items()
        }
        found[section.segment.to_box] = Ground(ohm)
    return found


def shown(ground: Ground, step: Step) -> str:
    """What the meter shows at a step of the survey, as it is typed."""
    if step.item.id == "dead":
        return "0.02 V"
    test = test_of(step.id, "/".join(step.id.split("/")[:3]))
    assert test is not None
    ohm = ground.read(test)
    if math.isinf(ohm):
        return "OL"
    return f"{in_unit(ohm, step.item.unit, 'resistance'):.4f} {step.item.unit}"


def open_steps(session: Session) -> Iterator[Step]:
    """The steps of the survey that are open now, the first anew after each answer."""
    while True:
        found = (s.step for s in session.job.statuses.values() if s.state == "open")
        step = next((one for one in found if one.id.startswith("bundle/")), None)
        if step is None:
            return
        yield step


def survey(session: Session, ground: dict[str, Ground]) -> list[str]:
    """Go through the whole survey; returns the ids of its steps as they came."""
    asked = []
    for step in open_steps(session):
        asked.append(step.id)
        if step.item.answer == "measure" and step.item.required:
            text = shown(ground[step.target.box], step)
        elif step.item.answer == "measure":
            session.skip(step, "no bridge here")
            continue
        else:
            text = "yes" if step.item.answer == "confirm" else step.item.choice[0].say
        session.answer(step, text, confirmed=True)
    return asked
