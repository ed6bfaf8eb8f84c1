"""The reports of a folder, each with what its review says; Enter looks into one."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import ClassVar

from textual.app import ComposeResult
from textual.binding import Binding, BindingType
from textual.containers import Vertical
from textual.content import Content
from textual.screen import Screen
from textual.widgets import OptionList, Static
from textual.widgets.option_list import Option

from commission.problems import InputRefused
from commission.report.review import NOT_REAL, InFull, Review
from commission.text import counted
from commission.tui.keys import REVIEWS_KEYS
from commission.tui.screens.review import ReviewScreen, standing_of
from commission.tui.widgets.key_line import KeyLine
from commission.verdict.judge import FAIL

Part = tuple[str, str] | str


@dataclass(frozen=True, slots=True)
class Listed:
    """A report of the folder: its name there, and how it is reviewed; both raise InputRefused."""

    name: str
    reviewed: Callable[[], Review]
    in_full: Callable[[], InFull]


class ReviewsScreen(Screen[None]):
    """Lists reports at once and reviews one after the other; keys are dealt with in between."""

    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("escape", "app.leave", "Leave", show=False),
    ]

    def __init__(
        self,
        folder: str,
        listed: Sequence[Listed],
        remarks: Callable[[Sequence[Review]], Sequence[str]],
    ) -> None:
        """`remarks` tells of several reports which supersedes which."""
        super().__init__()
        self._folder = folder
        self._listed = tuple(listed)
        self._remarks = remarks
        self._reviews: dict[int, Review] = {}

    def compose(self) -> ComposeResult:
        with Vertical(classes="board"):
            yield Static(Content(f"Reports of {self._folder}"), id="dialogue-title")
            yield Static(id="review-head")
            yield OptionList(
                *(Option(Content.assemble((one.name, "bold"))) for one in self._listed),
                id="review-rows",
            )
        yield KeyLine(REVIEWS_KEYS)

    def on_mount(self) -> None:
        """Stand on the first; the reviews begin after the first picture."""
        rows = self.query_one(OptionList)
        rows.focus()
        rows.highlighted = 0
        self._count(0)
        self.call_after_refresh(self._look, 0)

    def _look(self, number: int) -> None:
        """Review one report, then the next."""
        if number == len(self._listed):
            self._say_remarks()
            return
        one = self._listed[number]
        try:
            review = self._reviews[number] = one.reviewed()
            line = _line(one.name, review)
        except InputRefused as error:
            line = Content.assemble((one.name, "bold"), "\n    ", (str(error), f"${FAIL} bold"))
        self.query_one(OptionList).replace_option_prompt_at_index(number, line)
        self._count(number + 1)
        self.call_after_refresh(self._look, number + 1)

    def _say_remarks(self) -> None:
        """Once all are known: which supersedes which."""
        rows = self.query_one(OptionList)
        said = self._remarks(list(self._reviews.values()))
        for (number, review), words in zip(self._reviews.items(), said, strict=True):
            if words:
                line = _line(self._listed[number].name, review)
                rows.replace_option_prompt_at_index(number, line + Content(f"\n    {words}"))

    def _count(self, done: int) -> None:
        against = sum(1 for review in self._reviews.values() if review.findings)
        words = f"{done} of {len(self._listed)} reviewed; {against} with findings"
        self.query_one("#review-head", Static).update(Content(words))

    def on_option_list_option_selected(self, event: OptionList.OptionSelected) -> None:
        """Look into one report."""
        if not self.is_current:  # a key typed twice opens once
            return
        try:
            found = self._listed[event.option_index].in_full()
        except InputRefused:
            return  # its line says why, or will
        self.app.push_screen(ReviewScreen(found))


def _line(name: str, review: Review) -> Content:
    """What a review says of a report: that it is none of a real site before all else."""
    parts: list[Part] = [(name, "bold"), "\n    "]
    if review.practice:
        parts.append((f"{NOT_REAL}\n    ", "bold"))
    parts.append(standing_of(review))
    parts.append(f"; {counted(len(review.findings), 'finding')}")
    about = [f"{review.verdict} as signed"] if review.verdict else []
    about += [review.site, review.job_kind] if review.site else []
    if about:
        parts.append(f"\n    {'; '.join(about)}")
    return Content.assemble(*parts)
