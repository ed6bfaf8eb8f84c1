"""The end of a practice: the truth beside what was concluded, and what it cost."""

from __future__ import annotations

from commission.job import Job
from commission.locate.next_test import Costs
from commission.locate.words import Words
from commission.practice.repair import left, repairs
from commission.practice.truth import Truth
from commission.search import STAGE
from commission.search.found import found


def compared(job: Job, truth: Truth) -> tuple[tuple[str, str], ...]:
    """Headings and what stands below them: the truth, the conclusions, the cost."""
    words, designed = Words(job.site), Words(job.designed)
    still = left(job, truth)
    hidden = [
        f"{designed.place(one.place)}: {words.fault(one)}{'' if one in still else ' (put right)'}"
        for one in truth.faults
    ]
    defects = [f"{d.id} ({d.state}) {d.where}: {d.text}" for d in job.state.defects.values()]
    answers = [
        words.statement(answer.posterior)
        for answer in found(job)
        if answer.posterior is not None and answer.is_wrong
    ]
    return (
        ("What was hidden", "\n".join(hidden)),
        ("What you concluded: the defects raised", "\n".join(defects) or "none"),
        ("What the readings say by themselves", "\n".join(answers) or "no fault"),
        ("What the search cost", cost(job)),
    )


def cost(job: Job) -> str:
    """The boxes opened, the tests and the repairs made, in minutes of two people."""
    costs, boxes, minutes = Costs(), set[str](), 0.0
    for status in job.statuses.values():
        step = status.step
        if step.stage.id == STAGE and status.state == "answered" and not step.item.clears:
            if step.target.box:
                boxes.add(step.target.box)
            minutes += costs.dead if step.needs == "off" else costs.live
    minutes += costs.open_box * len(boxes)
    mended = len(list(repairs(job)))
    minutes += (costs.open_box + costs.remake_joint) * mended
    opened = f"{len(boxes)} {'box' if len(boxes) == 1 else 'boxes'} opened"
    tried = f", {mended} {'repair' if mended == 1 else 'repairs'}" if mended else ""
    return f"{opened}{tried}, about {minutes:.0f} minutes"
