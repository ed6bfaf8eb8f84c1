"""The list of all steps with their state: drawn line by line, so that length costs nothing."""

from __future__ import annotations

from typing import ClassVar

from rich.segment import Segment
from rich.style import Style
from textual import events
from textual.binding import Binding, BindingType
from textual.geometry import Size
from textual.scroll_view import ScrollView
from textual.strip import Strip

from commission.job import Job
from commission.tui.messages import StepEntered, StepHighlighted
from commission.verdict.judge import MARKS

_STATE_MARK = {"open": " ", "skipped": "-", "not applicable": "o"}
_AGAIN = "~"


class StepList(ScrollView, can_focus=True):
    """Stages as headings, steps below; the cursor's step is the one shown beside it."""

    COMPONENT_CLASSES: ClassVar[set[str]] = {
        "steps--stage",
        "steps--place",
        "steps--open",
        "steps--pass",
        "steps--fail",
        "steps--marginal",
        "steps--cursor",
    }
    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("up", "move(-1)", show=False),
        Binding("down", "move(1)", show=False),
        Binding("pageup", "move(-12)", show=False),
        Binding("pagedown", "move(12)", show=False),
        Binding("home", "edge(0)", show=False),
        Binding("end", "edge(-1)", show=False),
        Binding("enter", "enter", show=False),
    ]

    def __init__(self, **more: str) -> None:
        super().__init__(id=more.get("id"))
        self._rows: list[tuple[str, str, str]] = []  # kind, text, step id
        self._row_of: dict[str, int] = {}
        self._cursor = ""

    def show(self, job: Job, cursor: str) -> None:
        """Take over a new picture of the job."""
        self._rows, self._row_of = [], {}
        stage = place = ""
        for step_id, status in job.statuses.items():
            step = status.step
            if step.stage.id != stage:
                stage, place = step.stage.id, ""
                self._rows.append(("stage", step.stage.title, ""))
            if step.target.label != place:
                place = step.target.label
                if place and step.target.scope != "job":
                    self._rows.append(("place", f" {place}", ""))
            mark = (
                MARKS[status.verdict] if status.state == "answered" else _STATE_MARK[status.state]
            )
            kind = status.verdict if status.verdict in ("pass", "fail", "marginal") else "open"
            if status.verdict == "recorded":
                kind = "pass"
            if status.again or status.second_look:
                mark, kind = _AGAIN, "open"
            self._row_of[step_id] = len(self._rows)
            self._rows.append((kind, f" {mark} {step.title}", step_id))
        self.virtual_size = Size(0, len(self._rows))
        self._cursor = cursor if cursor in self._row_of else next(iter(self._row_of), "")
        self.refresh()
        self._keep_in_view()

    def on_resize(self) -> None:
        """Keep the cursor in view; before the first layout there was no height to do it with."""
        self._keep_in_view()

    def move_to(self, step_id: str) -> None:
        """Put the cursor on a step without telling anybody."""
        if step_id in self._row_of and step_id != self._cursor:
            self._cursor = step_id
            self.refresh()
            self._keep_in_view()

    def render_line(self, y: int) -> Strip:
        """Draw one visible line."""
        width = self.size.width
        row = y + self.scroll_offset.y
        if row >= len(self._rows):
            return Strip.blank(width, self.rich_style)
        kind, text, step_id = self._rows[row]
        style: Style = self.get_component_rich_style(f"steps--{kind}")
        if step_id and step_id == self._cursor:
            style = self.get_component_rich_style("steps--cursor")
            text = ">" + text[1:]
        return Strip([Segment(text, style)]).adjust_cell_length(width, style)

    def _keep_in_view(self) -> None:
        """Scroll so that the cursor stands near the middle, and no room is left unused."""
        row = self._row_of.get(self._cursor)
        if row is not None and self.size.height:
            self.scroll_to(y=row - self.size.height // 2, animate=False, force=True)

    def action_move(self, by: int) -> None:
        """Move the cursor over steps, headings skipped."""
        ids = list(self._row_of)
        if ids:
            here = ids.index(self._cursor) if self._cursor in self._row_of else 0
            self._go(ids[min(len(ids) - 1, max(0, here + by))])

    def action_edge(self, place: int) -> None:
        """Jump to the first or the last step."""
        if self._row_of:
            self._go(list(self._row_of)[place])

    def action_enter(self) -> None:
        """Go to the entry of the step under the cursor."""
        if self._cursor:
            self.post_message(StepEntered(self._cursor))

    def _go(self, step_id: str) -> None:
        self.move_to(step_id)
        self.post_message(StepHighlighted(step_id))

    def on_click(self, event: events.Click) -> None:
        """A click on a row moves the cursor there."""
        row = event.y + self.scroll_offset.y
        if row < len(self._rows) and self._rows[row][2]:
            self._go(self._rows[row][2])
