"""Undo the last answer: an entry of its own, so that the history keeps both."""

from __future__ import annotations

from typing import TYPE_CHECKING

from commission.job import Job
from commission.record.entry import Entry
from commission.record.replay import SETTLING
from commission.tui.screens.form import FormScreen, Line
from commission.tui.widgets.step_card import entry_words

if TYPE_CHECKING:
    from commission.tui.screens.walk import WalkScreen


def last_answer(job: Job) -> Entry | None:
    """The newest live entry that settled a step; None in a job without one."""
    settled = (one for one in reversed(job.state.entries) if one.type in SETTLING)
    return next((one for one in settled if job.state.is_live(one)), None)


def undo_words(job: Job, entry: Entry) -> str:
    """An entry by its step and what was said there."""
    step = job.plan.by_id.get(entry.step)
    return f"{step.title if step else entry.step}: {entry_words(entry)}"


def undo_form(walk: WalkScreen, entry: Entry) -> FormScreen:
    """The form that takes an answer back."""
    label = "Reason; the entry stays in the history, marked withdrawn"
    line = Line("reason", label, "typed by mistake", needed="write the reason in a few words")
    return FormScreen(
        f"Undo: {undo_words(walk.job, entry)}",
        [line],
        lambda values: walk.session.withdraw(entry.number, values["reason"]),
        keep_words="Undo",
    )


def undone(walk: WalkScreen, entry: Entry) -> None:
    """Stand at the step again, with what was typed there."""
    walk.refresh_job()
    walk.saved()
    there = entry.step if entry.step in walk.job.statuses else walk.step_id
    walk.show_step(there, text=entry.text if entry.type == "answer" else "")
