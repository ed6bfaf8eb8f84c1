"""The list of all steps with their state."""

from __future__ import annotations

from collections.abc import Iterator

from commission.job import Job, Status
from commission.tui.messages import StepEntered, StepHighlighted
from commission.tui.widgets.rows import Line, Rows
from commission.verdict.judge import FAIL, MARGINAL, MARKS, PASS, RECORDED

_STATE_MARK = {"open": " ", "skipped": "-", "not applicable": "o"}
_STYLE = {PASS: PASS, FAIL: FAIL, MARGINAL: MARGINAL, RECORDED: PASS}
AGAIN = "~"


class StepList(Rows):
    """Stages as headings, steps below; the cursor's step is the one shown beside it."""

    def show_steps(self, job: Job, cursor: str) -> None:
        """Take over a new picture of the job."""
        self.show(_lines(job), cursor)

    def chosen(self, key: str) -> None:
        """Go to the entry of the step under the cursor."""
        self.post_message(StepEntered(key))

    def moved(self, key: str) -> None:
        """Show the step under the cursor."""
        self.post_message(StepHighlighted(key))


def _lines(job: Job) -> Iterator[Line]:
    stage = place = ""
    for step_id, status in job.statuses.items():
        step = status.step
        if step.stage.id != stage:
            stage, place = step.stage.id, ""
            yield Line("", ((step.stage.title, "head"),))
        if step.target.label != place:
            place = step.target.label
            if place and step.target.scope != "job":
                yield Line("", ((f" {place}", "bold"),))
        mark, style = _state(status)
        yield Line(step_id, ((f"{mark} {step.title}", style),))


def _state(status: Status) -> tuple[str, str]:
    """The mark of a step, and its style."""
    if status.again or status.second_look:
        return AGAIN, "plain"
    answered = status.state == "answered"
    mark = MARKS[status.verdict] if answered else _STATE_MARK[status.state]
    return mark, _STYLE.get(status.verdict, "plain")
