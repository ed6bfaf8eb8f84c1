"""How an expected value came about: formula, numbers put in, result, causes of doubt, source."""

from __future__ import annotations

from typing import ClassVar

from textual.app import ComposeResult
from textual.binding import Binding, BindingType
from textual.containers import Vertical, VerticalScroll
from textual.content import Content
from textual.widgets import Static

from commission.checklist.plan import Step
from commission.electrical.uncertainty import COVERAGE_FACTOR
from commission.expected.values import Expectation
from commission.job import Job, Status
from commission.tui.keys import CALCULATION_KEYS
from commission.tui.screens.over import OverScreen
from commission.tui.theme import VERDICT_STYLE
from commission.tui.widgets.key_line import KeyLine
from commission.tui.widgets.title import Title
from commission.units import of_a_difference, show
from commission.verdict.judge import interval_words, marked

Part = tuple[str, str] | str
_BAR = 20


class CalculationScreen(OverScreen[str]):
    """One calculation; Left and Right read those of other steps. Dismisses with the step gone to.

    Escape goes back to where it was opened: "".
    """

    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("escape", "leave", "Back"),
        Binding("left", "turn(-1)", "The one before"),
        Binding("right", "turn(1)", "The next"),
        Binding("enter", "go", "To that step"),
    ]

    def __init__(self, job: Job, step_id: str) -> None:
        """Begins with a step, or with the next that has something computed."""
        super().__init__()
        self._job = job
        ids = list(job.statuses)
        self._ids = [one for one in ids if job.expectation_of(job.statuses[one]) is not None]
        after = ids[ids.index(step_id) :]
        ahead = next((one for one in after if one in set(self._ids)), self._ids[0])
        self._at = self._ids.index(ahead)

    def compose(self) -> ComposeResult:
        with Vertical(classes="board"):
            yield Title()
            with VerticalScroll(id="calculation-scroll"):
                yield Static(id="calculation")
        yield KeyLine(CALCULATION_KEYS)

    def on_mount(self) -> None:
        """The text takes the scroll keys."""
        self.query_one("#calculation-scroll").focus()
        self.action_turn(0)

    def action_turn(self, by: int) -> None:
        """Read the calculation before or after, round and round."""
        self._at = (self._at + by) % len(self._ids)
        status = self._job.statuses[self._ids[self._at]]
        expectation = self._job.expectation_of(status)
        title = f"Calculation {self._at + 1} of {len(self._ids)}"
        self.query_one(Title).say(title)
        if expectation is not None:
            text = Content.assemble(calculation(status.step, expectation), *read(status))
            self.query_one("#calculation", Static).update(text)
        self.query_one("#calculation-scroll", VerticalScroll).scroll_home(animate=False)

    def action_go(self) -> None:
        """To the step whose calculation is shown."""
        self.leave(self._ids[self._at])

    def action_leave(self) -> None:
        """Back to where it was opened."""
        self.leave("")


def read(status: Status) -> list[Part]:
    """What was read, and what it means beside the calculation; nothing before it is read."""
    entry = status.entry
    if entry is None or status.state != "answered":
        return []
    verdict = marked(status.verdict)
    return ["\nRead      ", (entry.text, "bold"), "  ", (verdict, VERDICT_STYLE[status.verdict]),
            f"  {status.finding}\n"]  # fmt: skip


def calculation(step: Step, expectation: Expectation) -> Content:
    """The calculation behind a step's expectation, for people who want to check it by hand."""
    unit = step.item.unit
    parts: list[Part] = [(f"{step.target.label}: {step.title}", "bold"), "\n\n"]
    parts += _worked_out("Expected  ", expectation, unit)
    if expectation.estimate is not None:
        parts += ["\n", ("What the drawing lets one expect", "bold"), "\n\n"]
        parts += _worked_out("About     ", expectation.estimate, unit)
    return Content.assemble(*parts)


def _worked_out(head: str, expectation: Expectation, unit: str) -> list[Part]:
    """Value, formula, numbers put in, causes of doubt and source."""
    quantity = expectation.quantity
    parts: list[Part] = [
        head, (interval_words(expectation, unit, quantity), "bold"), "\n",
        "For       ", expectation.conditions, "\n",
        "Formula   ", expectation.formula, "\n",
    ]  # fmt: skip
    if expectation.inputs:
        parts += ["\n", ("Numbers put in", "bold"), "\n"]
    for row in expectation.inputs:
        parts += [f"  {row.name}: {row.value}\n", (f"      {row.source}\n", "$quiet")]
    if expectation.budget:
        parts += ["\n", ("What makes it uncertain, and how much", "bold"), "\n"]
        parts += _causes(expectation, unit)
    return [*parts, "\n", "Source    ", (expectation.source, "$quiet"), "\n"]


def _causes(expectation: Expectation, unit: str) -> list[Part]:
    parts: list[Part] = []
    quantity = of_a_difference(expectation.quantity)
    total = sum(cause.u**2 for cause in expectation.budget) or 1.0
    for cause in expectation.budget:
        share = cause.u**2 / total
        bar = "█" * round(_BAR * share)
        effect = show(cause.u, unit, quantity, 2)
        parts.append(f"  {bar:<{_BAR}} {share * 100:3.0f} %  {effect:>12}  {cause.cause}\n")
    together = show(expectation.u, unit, quantity, 2)
    return [*parts, f"  together u = {together}; {_range_words(expectation)}\n"]


def _range_words(expectation: Expectation) -> str:
    """How the range follows from u: an earth that is best as stated has another upper bound."""
    above = (expectation.high or 0.0) - expectation.value
    if above <= COVERAGE_FACTOR * expectation.u * (1 + 1e-9):
        return "range = ± 2u"
    return "range from 2u below to what the best of them gives alone, 2u added"
