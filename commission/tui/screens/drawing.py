"""The ground differs from the drawing: a form for each kind of change, kept in the record."""

from __future__ import annotations

from collections.abc import Callable
from functools import partial
from typing import TYPE_CHECKING

from commission.tui.screens.form import Line

if TYPE_CHECKING:
    from commission.tui.changes.forms import ChangeForm
    from commission.tui.screens.walk import WalkScreen

REASON = "write in a few words why, or how it was found"
ABOUT = (
    "Kept in the record with who, when and why. Expected values and steps follow it from now on. "
    "Answered steps that it touches ask for a second look; the others stay."
)


class DrawingDialogue:
    """Which kind of change, then its form; `form` and `choose` open dialogues over the walk."""

    def __init__(
        self,
        walk: WalkScreen,
        form: Callable[..., None],
        choose: Callable[..., None],
        after: Callable[[], None],
    ) -> None:
        self._walk, self._form, self._choose, self._after = walk, form, choose, after

    def show(self) -> None:
        """Choose the kind; what has no kind is noted in words only."""
        from commission.tui.changes.forms import change_forms  # a start does without

        forms = change_forms(self._walk.job.site, self._walk.status.step.target)
        options = {key: (form.words, partial(self._redraw, form)) for key, form in forms.items()}
        other = "Something else, only to be noted", self._note
        self._choose("The ground differs from the drawing", {**options, "other": other})

    def _redraw(self, form: ChangeForm) -> None:
        lines = [*form.lines(), Line("reason", "Why, or how it was found", needed=REASON)]
        self._form(form.words, lines, partial(self._keep, form), self._after, ABOUT)

    def _keep(self, form: ChangeForm, values: dict[str, str]) -> None:
        """Make the change and keep it; raises InputRefused, StepRefused."""
        reason = values.pop("reason")
        change = form.change(values)
        self._walk.session.change_site(self._walk.status.step, change, reason)

    def _note(self) -> None:
        step = self._walk.status.step
        self._form(
            "The ground differs from the drawing",
            [
                Line("subject", "What", step.target.label, needed="write what differs"),
                Line("before", "As drawn"),
                Line("after", "As found", needed="write what was found"),
                Line("reason", "Why, or how it was found", needed=REASON),
            ],
            lambda values: self._walk.session.change_drawing(step, **values),
            self._after,
            "Kept in the record and in the report, in words only: expected values and steps stay "
            "as they are.",
        )
