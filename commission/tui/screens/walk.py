"""The walk: one step at a time, with the list of all steps beside it where there is room."""

from __future__ import annotations

from collections.abc import Callable
from functools import cached_property
from typing import TYPE_CHECKING, ClassVar

from textual import events
from textual.app import ComposeResult
from textual.binding import BindingType
from textual.containers import Horizontal, Vertical, VerticalScroll
from textual.content import Content
from textual.geometry import Size
from textual.screen import Screen
from textual.widgets import Static

from commission.answering import AskBack
from commission.job import Job, Status
from commission.offered import offered
from commission.problems import CommissionError, StepRefused
from commission.repairs import to_test_again
from commission.search import PREFIX
from commission.session import Session
from commission.tui.keys import BOUND, lines
from commission.tui.messages import StepEntered, StepHighlighted
from commission.tui.theme import VERDICT_STYLE
from commission.tui.widgets.pick_input import PickInput
from commission.tui.widgets.step_card import beside_words, card
from commission.tui.widgets.step_list import StepList
from commission.tui.widgets.title import PRACTICE
from commission.verdict.judge import FAIL, MARGINAL, RECORDED, Judgement

if TYPE_CHECKING:
    from commission.tui.actions import Actions

WIDE = 100  # columns from which the list stands beside the step


class WalkScreen(Screen[None]):
    """Reads any step at any time; keeps an answer with Enter."""

    BINDINGS: ClassVar[list[BindingType]] = [*BOUND]

    def __init__(self, session: Session) -> None:
        super().__init__()
        self.session = session
        self.step_id = session.job.resume_at()
        self._stands = False  # whether a step is shown: before that nothing can be half typed
        self._shown = ""  # the text that the verdict line speaks of
        self._left: dict[str, str] = {}  # half-typed entries of steps that were left, by step
        self._proposal = ""  # what the entry proposed when its step was shown
        self._meant = ""  # a far-off reading that was asked back: Enter again keeps it

    def compose(self) -> ComposeResult:
        yield Static(id="where")
        with Horizontal(id="body"):
            yield StepList(id="steps")
            with Vertical(id="step"):
                with VerticalScroll(id="card-scroll", can_focus=False):
                    yield Static(id="card")
                yield Static(id="large")
                yield Static(Content("more text: Ctrl+R shows all of it"), id="more")
                yield Static(id="choices")
                yield PickInput(id="entry", keys=self._keys())
                yield Static(id="verdict")
        yield Static(id="kept")
        yield Static(id="keys")

    def on_mount(self) -> None:
        """Stand where the last answer left off; ask for people first when nobody is named."""
        self._fit(self.size)
        step_id, draft = self.session.draft()
        draft = draft if step_id in self.job.statuses else ""
        self.step_id = step_id if draft else self.step_id
        self.query_one(StepList).show_steps(self.job, self.step_id)
        self.tell("\n".join(self.job.notices))
        self.show_step(self.step_id, text=draft)
        self._stands = True
        scroll = self.query_one("#card-scroll", VerticalScroll)
        self.watch(scroll, "show_vertical_scrollbar", self._more, init=False)
        if not self.job.signed and not self.session.crew.anyone_named:
            self.actions.people()
        # Reading the user's instruments takes longer than a key may: after the first picture.
        self.set_timer(0.4, lambda: self.session.crew.hands)

    @cached_property
    def actions(self) -> Actions:
        """The dialogues, loaded when the first one is needed."""
        from commission.tui.actions import Actions

        return Actions(self)

    @property
    def job(self) -> Job:
        """The job as it stands now."""
        return self.session.job

    @property
    def status(self) -> Status:
        """The step at hand."""
        return self.job.statuses[self.step_id]

    @property
    def entry(self) -> PickInput:
        """The line where answers are typed."""
        return self.query_one("#entry", PickInput)

    @property
    def typed(self) -> str:
        """What somebody typed into the entry, not what was proposed there."""
        return "" if self.entry.value == self._proposal else self.entry.value

    # Drawing

    def on_resize(self, event: events.Resize) -> None:
        """Fold the list away where there is no room for both."""
        self._fit(event.size)
        if self.has_class("large"):
            self.call_after_refresh(self._verdict_of, self._shown)

    def _fit(self, size: Size) -> None:
        self.set_class(size.width < WIDE, "narrow")
        self._say_keys()
        if size.width >= WIDE:
            self.remove_class("listing")

    def on_descendant_focus(self) -> None:
        """The keys at the bottom are those of what has the focus."""
        self._say_keys()

    def _say_keys(self) -> None:
        shown = self.has_class("listing") or not self.has_class("narrow")
        in_list = shown and self.query_one(StepList).has_focus
        words = lines(self.size.width, in_list=in_list, large=self.has_class("large"))
        self.query_one("#keys", Static).update(Content(words))

    def _more(self, overflows: bool) -> None:
        """Say that the card goes on below, and how to read it."""
        self.query_one("#step").set_class(overflows, "long")

    def show_step(self, step_id: str, *, text: str | None = None) -> None:
        """Show a step, its entry as it was left, or with the text given."""
        if step_id != self.step_id:
            self._left[self.step_id] = self.typed
        text = self._left.pop(step_id, "") if text is None else text
        self.step_id = step_id
        status, step = self.status, self.status.step
        ids = list(self.job.statuses)
        place = f"{step.stage.title} | {step.target.label}"
        practice = PRACTICE if self.job.header.practice else ""
        number = f"step {ids.index(step_id) + 1} of {len(ids)}"
        head = f" {practice}{number} | supply {self.job.supply} | "
        self.query_one("#where", Static).update(Content.assemble(head, (place, "bold")))
        self.query_one("#card", Static).update(card(self.job, status))
        self.query_one("#card-scroll", VerticalScroll).scroll_home(animate=False)
        self.query_one(StepList).go_to(step_id)
        entry = self.entry
        entry.choices = status.step.item.offered
        known = offered(self.session, status)
        self._proposal = known.answer
        entry.disabled = self.job.signed
        self.query_one("#choices", Static).update(Content(self._offer(status, known.words)))
        with entry.prevent(PickInput.Changed):
            entry.value = text
            entry.cursor_position = len(text)
            if self._proposal and not text:
                entry.propose(self._proposal)
        self._meant = ""
        self._verdict_of(text)
        if not self.has_class("listing"):
            entry.focus()

    def _offer(self, status: Status, known: str) -> str:
        item = status.step.item
        if self.job.signed:
            return "Signed: nothing can be added. A new job goes on from here."
        if item.answer == "measure":
            meter = self.session.crew.instrument_name
            what = f"the reading of {meter}" if meter else "the reading, of no named instrument"
            typing = f"Type {what} ({item.unit} when no unit is typed), then Enter"
            return f"{known}\n{typing}".lstrip()
        if item.answer == "text":
            if known and not self._proposal:
                return f"{known}\nType, then Enter"
            proposed = "Enter keeps what is proposed, typing replaces it"
            return proposed if known else "Type, then Enter"
        choices = item.offered
        offered = "   ".join(f"{n} {choice}" for n, choice in enumerate(choices, start=1))
        return f"{known}\n{offered}    number or Up/Down, then Enter".lstrip()

    def refresh_job(self) -> None:
        """Draw the job anew after something was kept."""
        if self.step_id not in self.job.statuses:
            self.step_id = self.job.resume_at()
        self.query_one(StepList).show_steps(self.job, self.step_id)

    def saved(self) -> None:
        """Say what is on disk; called only after the write returned."""
        entry = self.job.state.entries[-1]
        at = entry.entered_at.strftime("%H:%M:%S") if entry.entered_at else ""
        tells = "   Ctrl+F: what that tells" if entry.step.startswith(PREFIX) else ""
        self.tell(f"Saved on disk at {at}, entry {entry.number}{tells}")

    def tell(self, words: str) -> None:
        """Say what was done, in the line above the keys; it stays until something else is done."""
        self.query_one("#kept", Static).update(Content(words))

    def say(self, words: str, style: str = "$fail bold") -> None:
        """Say something about the entry, in the place of the verdict."""
        self.query_one("#verdict", Static).update(Content.styled(words, style))

    def _verdict_of(self, text: str) -> None:
        """The verdict of what is typed so far."""
        self._shown = text
        line = self.query_one("#verdict", Static)
        self._draw_large(None)
        if not text.strip():
            line.update(Content(""))
            return
        preview = self.session.preview(self.status.step, self.entry.meant)
        if preview.judgement is None:
            line.update(Content.styled(preview.problem, "$quiet"))
            return
        judged = preview.judgement
        self._draw_large(judged)
        recorded = judged.verdict == RECORDED  # not yet: only Enter does it
        words = f"{judged.mark} {'to be recorded' if recorded else judged.verdict}"
        detail = judged.finding.removeprefix("recorded; ") if preview.reading else self.entry.meant
        beside = self._beside(self.entry.meant) if self.job.earlier else ""
        detail = f"{detail}\n{beside}" if beside else detail
        more = f"  {detail}" if detail else ""
        line.update(Content.assemble((words, VERDICT_STYLE[judged.verdict]), more))

    def _draw_large(self, judged: Judgement | None) -> None:
        """The step at hand in large letters, where that was asked for."""
        if self.has_class("large"):
            from commission.tui.widgets.large import large

            place = self.query_one("#large", Static)
            drawn = large(self.job, self.status, self.typed.strip(), judged, place.size)
            place.update(drawn)

    def _beside(self, text: str) -> str:
        """Whether what is typed would agree with the report that the job follows."""
        step = self.status.step
        if step.item.answer not in ("measure", "observe") or self.job.reasons_against(step):
            return ""
        try:
            job = self.session.would_be(step, text)
        except CommissionError:
            return ""
        return beside_words(job, job.statuses[step.id])

    # Keys

    def on_input_changed(self, event: PickInput.Changed) -> None:
        """Judge while typing. A change that the entry has left behind says nothing any more."""
        typed = self.entry.value
        if event.input.id == "entry" and event.value == typed != self._shown:
            self._meant = ""
            self._verdict_of(typed)

    def _keys(self) -> dict[str, Callable[[], None]]:
        """What the entry does with its keys, in the order in which they are typed."""
        return {
            "enter": self.confirm,
            "pageup": lambda: self.action_read(-1),
            "pagedown": lambda: self.action_read(1),
            "ctrl+n": self.action_next_open,
            "ctrl+l": self.action_steps,
            "ctrl+g": self.action_calculation,
            "ctrl+f": self.action_fault,
            "ctrl+r": self.action_whole,
            "ctrl+o": self.action_large,
            "escape": self.action_menu,
        }

    def confirm(self) -> None:
        """Enter keeps the answer, and moves on only when it is on disk."""
        text = self.entry.meant
        self._shown = self.entry.value
        if not text:
            self.say("Type an answer first, or PgDn to read on, Esc for the menu", "$quiet")
            return
        step = self.status.step
        if (
            step.item.hidden_later
            and text in self.entry.choices
            and not self.job.reasons_against(step)
        ):
            self.actions.hidden(self.status, text)
            return
        try:
            self.session.answer(step, text, confirmed=text == self._meant)
        except AskBack as question:
            self._meant = text
            self.say(f"{question} Enter again keeps it.", "$marginal bold")
        except StepRefused as refused:
            first, *others = refused.reasons
            self.say(f"Not yet: {first}" + (f"; {len(others)} more above" if others else ""))
        except CommissionError as error:
            self.say(str(error))
        else:
            self.after_answer()

    def after_answer(self) -> None:
        """Something was kept for the step at hand: say so, and go on."""
        kept = self.step_id
        with self.entry.prevent(PickInput.Changed):
            self.entry.value = ""
        self.refresh_job()
        self.saved()
        status = self.job.statuses.get(kept)
        if status is not None and status.verdict in (FAIL, MARGINAL):
            self.show_step(kept)
            self.actions.decide(status)
            return
        self.action_next_open()

    def action_read(self, by: int) -> None:
        """Read the next or previous step; nothing is kept."""
        ids = list(self.job.statuses)
        self.show_step(ids[min(len(ids) - 1, max(0, ids.index(self.step_id) + by))])

    def action_next_open(self) -> None:
        """Go to the next step that is still open, or to be done again."""
        if (step_id := self.job.next_to_do(self.step_id)) is not None:
            self.show_step(step_id)
            return
        undecided = next(self.job.undecided(), None)
        if undecided is not None:
            self.show_step(undecided.step.id)
            self.actions.decide(undecided)
            return
        stale, defect = next(to_test_again(self.job), (None, ""))
        if stale is not None and not self.job.signed:
            self.show_step(stale.step.id)
            self.say(f"Did not pass before {defect} was put right: test again", "$marginal bold")
            return
        self.show_step(self.step_id)
        signed = "Signed: there is nothing left to do here."
        done = "Every step has been gone through. Esc, then sign."
        self.say(signed if self.job.signed else done, "$pass bold")

    def action_steps(self) -> None:
        """Go to the list; where there is no room for both, in place of the step."""
        self.remove_class("large")
        steps = self.query_one(StepList)
        if self.has_class("narrow"):
            self.toggle_class("listing")
        leaves = steps.has_focus or (self.has_class("narrow") and not self.has_class("listing"))
        self.set_focus(self.entry if leaves else steps)

    def on_step_highlighted(self, message: StepHighlighted) -> None:
        """Show what the list's cursor stands on, the list keeps the keys."""
        self.show_step(message.step_id)
        self.query_one(StepList).focus()

    def on_step_entered(self, message: StepEntered) -> None:
        """From the list to that step's entry."""
        self.remove_class("listing")
        self.show_step(message.step_id)

    def action_calculation(self) -> None:
        """Show how the expected value came about."""
        self.actions.calculation()

    def action_fault(self) -> None:
        """Show where the fault may be, and which test is worth most."""
        self.actions.find_fault()

    def action_whole(self) -> None:
        """The card as a text of its own, where it is longer than its place."""
        self.actions.whole()

    def action_large(self) -> None:
        """The step at hand for arm's length, or back to all of it."""
        self.toggle_class("large")
        self.remove_class("listing")
        self.entry.focus()
        self._say_keys()
        self.call_after_refresh(self._verdict_of, self._shown)

    def action_menu(self) -> None:
        """Everything else that can be done here."""
        self.actions.menu()

    def keep_draft(self) -> None:
        """Keep the half-typed entry for the next opening; what was kept stays until then."""
        if self._stands:
            self.session.keep_draft(self.step_id, self.typed)
