"""What a survey found, as lines for people and as numbers for programs."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from commission.checklist.words import listed
from commission.job import Job
from commission.survey.sections import Surveyed, fault_m


def lines(job: Job, sections: list[Surveyed]) -> Iterator[str]:
    """Every section: its pair and what is abandoned where, or the reading to take next."""
    for found in sections:
        head = f"Path {found.path.id}, {found.near} to {found.far}: "
        yield head + _standing(job, found)
        told = [f"{name} {state}" for name, state in found.states.items()]
        count, most = len(found.read), found.section.most_readings
        yield f"  {', '.join(told)} ({count} of at most {most} readings)"
        if found.decision.pair and found.abandoned:
            left = listed(list(found.abandoned))
            yield f"  abandon {left}: disconnect and cap {found.at_near} and in {found.far}"
        for method, far_m in fault_m(job.site, found, job.state.latest):
            yield f"  by {method} the leak lies {far_m:.1f} m from {found.near}"
        if found.decision.why:
            yield f"  {found.decision.why}"


def _standing(job: Job, found: Surveyed) -> str:
    if found.decision.pair:
        loop = found.loop.text if found.loop else ""
        return f"{found.decision.pair[0]} and {found.decision.pair[1]}, loop {loop}"
    if not found.is_dead:
        return "prove every conductor dead first"
    test = found.decision.next
    if test is None:
        return "no sound pair: new cable, or repair and read again"
    step = next(s for s in job.plan.steps if s.id.startswith(found.place) and _is(s.id, found))
    return f"next: {step.title}"


def _is(step_id: str, found: Surveyed) -> bool:
    from commission.survey.sections import test_of

    return test_of(step_id, found.place) == found.decision.next


def document(job: Job, sections: list[Surveyed]) -> dict[str, Any]:
    """The same for programs."""
    return {
        "sections": [
            {
                "path": found.path.id,
                "box": found.segment.to_box,
                "from": found.segment.from_box,
                "dead": found.is_dead,
                "conductors": dict(found.states),
                "pair": list(found.decision.pair or ()),
                "loop_ohm": found.loop.value if found.loop else None,
                "abandoned": list(found.abandoned),
                "next": _next(found),
                "readings": len(found.read),
                "most_readings": found.section.most_readings,
                "why": found.decision.why,
                "leak_m": dict(fault_m(job.site, found, job.state.latest)),
            }
            for found in sections
        ]
    }


def _next(found: Surveyed) -> list[str]:
    """The next reading and its conductors; empty when nothing more is asked."""
    test = found.decision.next
    return [part for part in (test.kind, test.first, test.second) if part] if test else []
