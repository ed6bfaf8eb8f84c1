"""One report reviewed: verdict and standing above, and a list for each question."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from typing import ClassVar

from textual.app import ComposeResult
from textual.binding import Binding, BindingType
from textual.containers import Vertical
from textual.content import Content
from textual.screen import Screen
from textual.widgets import OptionList, Static
from textual.widgets.option_list import Option

from commission.report.finding import KINDS, SOUND, Finding
from commission.report.review import NOT_REAL, InFull, Review
from commission.report.reviewed_steps import ReviewedOutput, ReviewedStep
from commission.report.signed_by import TRUSTED, SignedBy
from commission.tui.keys import REVIEW_KEYS
from commission.tui.theme import VERDICT_STYLE
from commission.tui.widgets.key_line import KeyLine
from commission.verdict.judge import FAIL, MARKS

Part = tuple[str, str] | str
Row = tuple[Content, Content]  # a line of a list, and all of it


class ReviewScreen(Screen[None]):
    """Draws a review; its lists are turned with numbers and arrows, Enter shows all of a line."""

    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("escape", "back", "Leave", show=False),
        Binding("left", "turn(-1)", "List before", show=False),
        Binding("right", "turn(1)", "Next list", show=False),
        *(Binding(str(n), f"view({n - 1})", show=False) for n in range(1, 7)),
    ]

    def __init__(self, found: InFull) -> None:
        super().__init__()
        self._found = found
        self._view = 0
        self._rows: list[Row] = []
        review = found.review
        self._views: tuple[tuple[str, Callable[[], Iterable[Row]]], ...] = (
            (f"findings {len(review.findings)}", lambda: map(_finding_row, review.findings)),
            (f"exceptions {len(found.exceptions)}", lambda: map(_same, found.exceptions)),
            (f"steps {len(found.steps)}", lambda: map(_step_row, found.steps)),
            (f"sign-offs {len(review.signoffs)}", lambda: map(_signed_row, review.signoffs)),
            ("works", lambda: map(_output_row, found.outputs)),
            ("file", self._file_rows),
        )

    def compose(self) -> ComposeResult:
        with Vertical(classes="board"):
            yield Static(Content(f"Review of {self._found.review.name}"), id="dialogue-title")
            yield Static(self._head(), id="review-head")
            yield Static(id="views")
            yield OptionList(id="review-rows")
        yield KeyLine(REVIEW_KEYS)

    def on_mount(self) -> None:
        """Begin with the findings."""
        self.query_one(OptionList).focus()
        self.action_view(0)

    def _head(self) -> Content:
        """What it says and whether to rely on it, before anything else."""
        review = self._found.review
        parts: list[Part] = []
        if review.practice:
            parts.append((f"{NOT_REAL}\n", "bold"))
        if review.verdict:
            parts += ["Verdict as signed: ", (review.verdict, "bold"), "\n"]
        parts += ["Standing:          ", standing_of(review)]
        if review.site:
            parts.append(f"\n{review.site}; {review.job_kind}")
        return Content.assemble(*parts)

    def action_back(self) -> None:
        """To the list that it was chosen from; where there is none, leave."""
        if len(self.app.screen_stack) == 1:
            self.app.exit()
        elif self.is_current:  # a key typed twice leaves once
            self.app.pop_screen()

    def action_turn(self, by: int) -> None:
        """The list before or after, round and round."""
        self.action_view((self._view + by) % len(self._views))

    def action_view(self, number: int) -> None:
        """Show one list."""
        self._view = number
        parts: list[Part] = []
        for n, (name, _) in enumerate(self._views):
            parts.append((f"[{n + 1} {name}]", "bold") if n == number else f" {n + 1} {name} ")
        self.query_one("#views", Static).update(Content.assemble(*parts))
        self._rows = list(self._views[number][1]())
        rows = self.query_one(OptionList)
        rows.clear_options()
        rows.add_options([Option(line) for line, _all in self._rows])
        if not self._rows:
            rows.add_option(Option(Content(self._nothing(number)), disabled=True))
        rows.action_first()

    def _nothing(self, number: int) -> str:
        """Why a list is empty."""
        if self._views[number][0].startswith(("steps", "works")):
            return "None: what it was made from does not hold or cannot be read."
        return "None."

    def _file_rows(self) -> Iterable[Row]:
        review = self._found.review
        formulas = f", formula set {review.formula_set}" if review.formula_set else ""
        facts = (
            ("SHA-256", review.sha256),
            ("Bytes", str(review.bytes)),
            ("Report", review.report),
            ("Written by", f"version {review.program}{formulas}" if review.program else ""),
            ("It follows", review.follows),
            *(("", note) for note in review.notes),
            *(
                (f"SHA-256 of the {one.bytes} bytes up to sign-off {one.signoffs}", one.sha256)
                for one in review.versions[:-1]
            ),
            *((f"SHA-256 of {one.file}", one.sha256) for one in review.evidence),
        )
        for name, value in facts:
            if value:
                yield _same(f"{name}\n  {value}" if name else value)

    def on_option_list_option_selected(self, event: OptionList.OptionSelected) -> None:
        """Show all of a line."""
        from commission.tui.screens.form import TextScreen

        if event.option not in event.option_list.options:
            return  # another list stands there by now: it was chosen in the one before
        name = self._views[self._view][0].partition(" ")[0].capitalize()
        title = f"{name}: {event.option_index + 1} of {len(self._rows)}"
        self.app.push_screen(TextScreen(title, self._rows[event.option_index][1]))


def standing_of(review: Review) -> tuple[str, str]:
    """Whether to rely on a report, and how that is drawn."""
    trusted = review.state == SOUND and review.standing.startswith(TRUSTED)
    standing = review.standing
    if review.state not in standing:
        standing = f"{review.state}; {standing}"
    return standing, "bold" if trusted else f"${FAIL} bold"


def _same(words: str) -> Row:
    return Content(words), Content(words)


def _finding_row(finding: Finding) -> Row:
    problem = finding.problem
    place = f"line {problem.line}" if problem.line else problem.key
    head: list[Part] = [(finding.kind, "bold"), f"  {problem.message}"]
    whole = [*head, f"\n\n{KINDS[finding.kind]}\n"]
    if place:
        whole.append(f"\nWhere      {place}")
    if problem.remedy:
        whole.append(f"\nTo do      {problem.remedy}\n")
    return Content.assemble(*head), Content.assemble(*whole)


def _step_row(step: ReviewedStep) -> Row:
    mark, style = MARKS.get(step.verdict, " "), VERDICT_STYLE.get(step.verdict, "")
    head: list[Part] = [(mark, style), f" {step.place}: {step.title}"]
    parts: list[Part] = [*head, "\n    "]
    if step.expected:
        parts.append(f"expected {step.expected}; read ")
    parts += [f"{step.read or 'nothing'}; ", (step.verdict, style)]
    if step.inspector:
        agrees = {True: "agrees", False: "does not agree", None: "not compared"}[step.agrees]
        parts.append(f"\n    inspector {step.inspector}; {step.inspector_verdict}; {agrees}")
    return Content.assemble(*parts), Content.assemble(*_whole_step(step, head, style))


def _whole_step(step: ReviewedStep, head: Sequence[Part], style: str) -> list[Part]:
    """A step line by line."""
    required = "required" if step.required else "not required"
    whole: list[Part] = [*head, f"\n\nStage      {step.stage}; {required}\n"]
    if step.expected:
        whole.append(f"Expected   {step.expected}\n")
    whole += [f"Read       {step.read or 'nothing'}\n", "Verdict    ", (step.verdict, style)]
    if step.finding:
        whole.append(f"\nBecause    {step.finding}")
    if step.inspector:
        e_n = f"; |E_n| {step.e_n:.2f}, up to 1 agrees" if step.e_n is not None else ""
        whole.append(f"\nInspector  {step.inspector}; {step.inspector_verdict}{e_n}")
    return [*whole, "\n"]


def _output_row(one: ReviewedOutput) -> Row:
    """The worst set of an output: what was read decides."""
    words = Content.assemble(
        (f"Output {one.output}: will its worst set work?", "bold"),
        "\n    As found, which decides: ",
        (one.found, VERDICT_STYLE.get(one.verdict, "")),
        f"\n    As designed: {one.designed}",
    )
    return words, words


def _signed_row(one: SignedBy) -> Row:
    known = f", known as {one.known_as}" if one.known_as else ""
    decision = f"\n    {one.decision}{f': {one.reasons}' if one.reasons else ''}"
    line: list[Part] = [
        (f"{one.number} {one.signs_as}: {one.name}", "bold"),
        f", {one.role}\n    key {one.fingerprint or 'none'}: ",
        (f"{one.trust}{known}", "bold"),
        decision if one.decision else "",
    ]
    whole = (
        f"\n\nCompany    {one.company}\nLicence    {one.licence}\nAt         {one.at}\n"
        f"Public key {one.public_key}\n\n"
        "A key and a clock of one's own prove neither the person nor the time: hear the\n"
        "fingerprint from the signer, and compare the SHA-256 with the one on the owner's sheet.\n"
    )
    return Content.assemble(*line), Content.assemble(*line, whole)
