"""What is known already of what an open step asks for: shown, and where it is one, the answer."""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

from commission.job import Job, Status
from commission.session import Session

if TYPE_CHECKING:
    from commission.practice.ground import Ground


class Known(NamedTuple):
    """Words to show beside a step, and the answer proposed; both "" where nothing is known."""

    words: str = ""
    answer: str = ""


def offered(session: Session, status: Status) -> Known:
    """What is known of a step that is open, in a job that is not signed."""
    item, job = status.step.item, session.job
    if session.ground is not None and not job.signed:
        return Known(_told_in_practice(session.ground, status, job))
    if item.offers is None or status.state != "open" or job.signed:
        return Known()
    if item.offers == "sample" and item.answer != "text":
        answer, why = session.sample.proposed(status.step), session.sample.reason(status.step)
        words = why if why == answer else f"{answer}: {why}"
        return Known(f"Proposed: {words}. Enter keeps it", answer)
    if item.offers == "additions":
        return _addition(job, status)
    if item.offers == "sample":
        words = session.sample.words
    elif item.offers == "report":
        words = _report(job)
    else:
        words = session.crew.known(item.offers)
    return Known(words, words if item.answer == "text" else "")


def _told_in_practice(ground: Ground, status: Status, job: Job) -> str:
    """What the simulated meter shows, or the helper reads back; nothing before its turn."""
    if job.reasons_against(status.step):
        return ""
    told = ground.tells(job, status.step)
    if not told:
        return ""
    if status.step.item.answer == "measure":
        return f"The meter shows {told}"
    return f"The helper reads back: {told}"


def _addition(job: Job, status: Status) -> Known:
    """The first choice for what is new since the report that the job follows, else the second."""
    from commission.additions import added_at

    new, choices = added_at(job, status.step.target), status.step.item.choice
    if new is None or len(choices) < 2:
        return Known()
    answer = choices[0 if new else 1].say
    words = f"Proposed: {answer}: {new or 'as in the earlier drawing'}. Enter keeps it"
    return Known(words, answer)


def _report(job: Job) -> str:
    """The report that a job follows; "" where it follows none."""
    if job.earlier is None:
        return ""
    header = job.earlier.header
    return f"{header.job} of {header.created_at:%Y-%m-%d}, SHA-256 {job.header.follows_report}"
