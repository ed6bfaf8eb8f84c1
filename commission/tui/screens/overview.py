"""Where the job stands: how far each stage is, and what is open, failed, marginal or a defect."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from typing import ClassVar

from textual.app import ComposeResult
from textual.binding import Binding, BindingType
from textual.containers import Vertical
from textual.content import Content
from textual.widgets import OptionList, Static
from textual.widgets.option_list import Option

from commission.job import Job, Status
from commission.tui.keys import BOARD_KEYS
from commission.tui.screens.over import OverScreen
from commission.tui.theme import VERDICT_STYLE
from commission.tui.widgets.key_line import KeyLine
from commission.tui.widgets.step_list import AGAIN
from commission.tui.widgets.title import Title
from commission.verdict.judge import FAIL, MARGINAL, MARKS
from commission.verdict.progress import StageProgress, exceptions, stages, verdict_of_whole
from commission.works import will_it_work

Row = tuple[str, Content]  # the step to go to, "" for none, and what is written
_BAR = 16  # so that a stage with its bar fits the narrowest window


class OverviewScreen(OverScreen[str]):
    """One list for each question, by its number; dismisses with the step to go to, "" for none."""

    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("escape", "leave", "Back"),
        Binding("left", "turn(-1)", "List before"),
        Binding("right", "turn(1)", "Next list"),
        *(Binding(str(n), f"view({n - 1})", show=False) for n in range(1, 7)),
    ]

    def __init__(self, job: Job) -> None:
        super().__init__()
        self._job = job
        self._view = 0
        statuses = job.statuses.values()
        self._open = [one for one in statuses if one.to_do]
        self._failed = [one for one in statuses if one.verdict == FAIL]
        self._marginal = [one for one in statuses if one.verdict == MARGINAL]
        self._against = exceptions(job)
        self._views: tuple[tuple[str, Callable[[], Iterable[Row]]], ...] = (
            ("stages", self._stage_rows),
            (f"open {len(self._open)}", lambda: map(_step_row, self._open)),
            (f"failed {len(self._failed)}", lambda: map(_step_row, self._failed)),
            (f"marginal {len(self._marginal)}", lambda: map(_step_row, self._marginal)),
            (f"defects {len(job.open_defects)}", self._defect_rows),
            (f"against {len(self._against)}", self._against_rows),
        )

    def compose(self) -> ComposeResult:
        with Vertical(classes="board"):
            yield Title("Where the job stands")
            yield Static(self._head(), id="overview-head")
            yield Static(id="views")
            yield OptionList(id="overview-rows")
        yield KeyLine(BOARD_KEYS)

    def on_mount(self) -> None:
        """Begin with the stages."""
        self.query_one(OptionList).focus()
        self.action_view(0)

    def _head(self) -> Content:
        statuses = self._job.statuses.values()
        done = sum(status.state != "open" for status in statuses)
        return Content.assemble(
            (self._standing(), "bold"),
            f"\n{done} of {len(statuses)} steps  {_bar(done, len(statuses))}",
        )  # fmt: skip

    def _standing(self) -> str:
        """The verdict once it is signed; before that, how much stands in the way of acceptance."""
        if self._job.signed:
            return f"Signed: {verdict_of_whole(self._against)}"
        against = len(self._against)
        if not against:
            return "Not signed yet; nothing stands against accepting it"
        return f"Not signed yet; {against} {'point' if against == 1 else 'points'} against it"

    def action_turn(self, by: int) -> None:
        """The list before or after, round and round."""
        self.action_view((self._view + by) % len(self._views))

    def action_view(self, number: int) -> None:
        """Show one list."""
        self._view = number
        names = [
            f"[{n} {name}]" if n == number + 1 else f" {n} {name} "
            for n, (name, _) in enumerate(self._views, start=1)
        ]
        parts = [(name, "bold") if name.startswith("[") else (name, "") for name in names]
        self.query_one("#views", Static).update(Content.assemble(*parts))
        rows = self.query_one(OptionList)
        rows.clear_options()
        for place, (step_id, words) in enumerate(self._views[number][1]()):
            rows.add_option(Option(words, id=f"{place} {step_id}", disabled=not step_id))
        if not rows.option_count:
            rows.add_option(Option(Content("None."), disabled=True))
        rows.action_first()

    def _stage_rows(self) -> Iterable[Row]:
        for stage in stages(self._job):
            yield self._first_of(stage.stage), _stage_words(stage)
        yield "", Content("")
        for output, works in will_it_work(self._job).items():
            head = (f"Will output {output} work? ", "bold")
            yield "", Content.assemble(head, f"{works.words}; {works.readings} readings taken in")
        for site_output in self._job.site.output:
            for carried in self._job.sheet.carried(site_output.id):
                head = (f"Will output {site_output.id} carry it? ", "bold")
                yield "", Content.assemble(head, carried.words)

    def _first_of(self, stage: str) -> str:
        """The first step to do of a stage, else its first."""
        own = [s for s in self._job.statuses.values() if s.step.stage.id == stage]
        to_do = (s.step.id for s in own if s.to_do)
        return next(to_do, own[0].step.id)

    def _defect_rows(self) -> Iterable[Row]:
        for defect in self._job.open_defects:
            action = f"; to do: {defect.action}" if defect.action else ""
            words = f"  {defect.severity}: {defect.where}: {defect.text}{action}"
            there = defect.step if defect.step in self._job.statuses else ""
            yield there, Content.assemble((defect.id, "bold"), words)

    def _against_rows(self) -> Iterable[Row]:
        for exception in self._against:
            there = exception.step if exception.step in self._job.statuses else ""
            yield there, Content.assemble((exception.kind, "bold"), f"  {exception.words}")

    def action_leave(self) -> None:
        """Back to where it was opened."""
        self.leave("")

    def on_option_list_option_selected(self, event: OptionList.OptionSelected) -> None:
        """Go to the step."""
        self.leave((event.option.id or "").partition(" ")[2])


def _bar(done: int, of: int) -> str:
    filled = _BAR * done // of if of else 0
    return "█" * filled + "░" * (_BAR - filled)


def _stage_words(stage: StageProgress) -> Content:
    parts: list[tuple[str, str] | str] = [
        f"{stage.title:<24.24} {_bar(stage.done, stage.steps)} {stage.done:>4} of {stage.steps:<4}"
    ]
    for verdict, count in ((FAIL, stage.failed), (MARGINAL, stage.marginal)):
        if count:
            words = f" {MARKS[verdict]} {count} {verdict}"
            parts.append((words, VERDICT_STYLE[verdict]))
    return Content.assemble(*parts)


def _step_row(status: Status) -> Row:
    step = status.step
    mark = AGAIN if status.again or status.second_look else MARKS.get(status.verdict, " ")
    if status.state == "open":
        mark = "·"
    words = f" {step.target.label}: {step.title}"
    kept = status.entry.text if status.entry and status.state == "answered" else ""
    why = status.again or status.second_look or "; ".join(filter(None, (kept, status.finding)))
    style = VERDICT_STYLE.get(status.verdict, "")
    parts: list[tuple[str, str] | str] = [(mark, style), words]
    if why:
        parts.append((f"\n    {why}", "$quiet"))
    return step.id, Content.assemble(*parts)
