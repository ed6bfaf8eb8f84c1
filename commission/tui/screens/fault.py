"""Where the fault is, and which test next: in short over a menu, and whole to scroll through."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING

from textual.content import Content

from commission.job import Job
from commission.locate.instructions import Instructions
from commission.locate.readings import DEAD_KINDS, FieldTest
from commission.locate.words import Words, chance
from commission.search.found import Found, found
from commission.search.told import told
from commission.tui.screens.form import MenuScreen, TextScreen
from commission.tui.screens.practising import repair_options

if TYPE_CHECKING:
    from commission.session import Session
    from commission.tui.screens.walk import WalkScreen

_OTHERS = 2  # places named beside the likeliest
_LEFT_OUT = 2  # of what was not taken in, while nothing else is wrong
_STYLES = {"head": "bold", "text": "", "quiet": "$quiet"}


class FaultDialogue:
    """What was found over the step at hand, and what can be done with it.

    The next test can be taken up as a step: its result is entered there like any other, in the
    order that keeps people from being hurt.
    """

    def __init__(self, walk: WalkScreen, defect: Callable[[str, str], None]) -> None:
        self._walk, self._defect = walk, defect

    def show(self) -> None:
        """Show the likeliest places, and choose what to do."""
        job = self._walk.job
        answer = answer_for(job, self._walk.status.step.target.output)
        options: dict[str, tuple[str, Callable[[], None]]] = {}
        if answer.suggestion is not None and not job.signed:
            test = answer.suggestion.test
            options["take"] = ("Enter this test's result", lambda: self._take_up(test))
        text = TextScreen("Find the fault", whole(job, answer))
        options["whole"] = (
            "Read all: places, outcomes, what to take care of",
            lambda: self._read(text),
        )
        if answer.is_wrong and not job.signed:
            options["defect"] = ("Raise a defect", lambda: self._raise(answer))
            options |= repair_options(self._walk)

        def chosen(key: str | None) -> None:
            if key:
                options[key][1]()
            else:
                self._walk.entry.focus()

        rows = [(key, words) for key, (words, _) in options.items()]
        menu = MenuScreen("Find the fault", rows, in_short(job, answer))
        self._walk.app.push_screen(menu, chosen)

    def _raise(self, answer: Found) -> None:
        """Raise a defect, in the words of what was found; its place once that is sure."""
        believed, words = answer.posterior, Words(self._walk.job.site)
        assert believed is not None  # something is wrong
        where = words.places(believed.best[0]) if believed.sure else ""
        self._defect(words.statement(believed), where)

    def _read(self, text: TextScreen) -> None:
        self._walk.app.push_screen(text, lambda _left: self.show())

    def _take_up(self, test: FieldTest) -> None:
        step = self._walk.session.take_up(test)
        self._walk.refresh_job()
        self._walk.show_step(step.id)


def answer_for(job: Job, output: str) -> Found:
    """What was found on the output of a step; of a step of the whole job, where there is most."""
    answers = found(job)
    own = (one for one in answers if one.symptoms.output == output)
    wrong = (one for one in answers if one.is_wrong)
    return next(own, None) or next(wrong, answers[0])


def in_short(job: Job, answer: Found) -> str:
    """The likeliest places, and the next test with what it costs."""
    if answer.posterior is None or not answer.is_wrong:
        lines = [told(job, answer)[1].text]
        lines += [f"Not taken in: {words}" for words in answer.symptoms.left_out[:_LEFT_OUT]]
        return "\n".join(lines)
    words, instructions = Words(job.site), Instructions(job.site)
    lines = [words.statement(answer.posterior)]
    for places, probability in answer.ranked[1 : 1 + _OTHERS]:
        lines.append(f"or {words.places(places)} ({chance(probability)})")
    more = len(answer.ranked) - 1 - _OTHERS
    lines += [f"or {more} more, less likely"] if more > 0 else []
    if answer.suggestion is not None:
        lines.append(f"Next test: {instructions.test(answer.suggestion.test)}")
        lines.append(f"({instructions.effort(answer.suggestion)})")
        lines += [supply] if (supply := _supply_first(job, answer.suggestion.test)) else []
    elif answer.undecided:
        lines.append("No test that can be made here decides between them with this meter")
    return "\n".join(lines)


def _supply_first(job: Job, test: FieldTest) -> str:
    """What the supply has to be for a test, where it is not; how to get there by keys."""
    if test.kind in DEAD_KINDS and job.supply != "off":
        return "The supply is on: isolate it first (Ctrl+L, the first step), then prove dead"
    if test.kind not in DEAD_KINDS and job.supply != "on":
        return "The supply is off: go on with the walk (Ctrl+N) until it is switched on"
    return ""


def whole(job: Job, answer: Found) -> Content:
    """Everything: all places, what each outcome would mean, cautions, what was not taken in."""
    parts: list[tuple[str, str] | str] = []
    for line in told(job, answer):
        parts += ["\n" if parts and line.part == "head" else "", (line.text, _STYLES[line.part])]
        parts += ["\n"]
    return Content.assemble(*parts)


def truth_screen(session: Session) -> TextScreen:
    """The truth of a practice beside what was concluded."""
    from commission.practice.ending import compared

    parts: list[tuple[str, str] | str] = []
    ground = session.ground
    for heading, text in compared(session.job, ground.truth) if ground else ():
        parts += [(heading, "bold"), f"\n{text}\n\n"]
    return TextScreen("The truth", Content.assemble(*parts))
