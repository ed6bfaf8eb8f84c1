"""What the menu of a step offers: each action opens a dialogue and asks the session."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from functools import partial
from pathlib import Path

from textual.content import Content

from commission.checklist.plan import Step
from commission.job import Status
from commission.problems import InputRefused
from commission.record.entry import Entry
from commission.record.replay import FINAL
from commission.session import SEVERITIES
from commission.tui.looks import Looks
from commission.tui.screens.form import ONE_OF_THEM, FormScreen, Line, LineRefused, MenuScreen
from commission.tui.screens.old_bundle import bundle_options
from commission.tui.screens.paper import paper_options
from commission.tui.screens.practising import practice_options, repair_options
from commission.tui.widgets.step_card import entry_words, expected_words, likely_words

REASON = "write the reason in a few words"
UNDO_SHOWN = 45  # characters of an answer in the menu, so that it stays one line
FAULT = "Find the fault: where, and which test next (Ctrl+F)"


class Actions(Looks):
    """The dialogues of the walk. Each keeps through the session or says why it did not."""

    def _form(
        self,
        title: str,
        lines: list[Line],
        keep: Callable[[dict[str, str]], object],
        after: Callable[[], None],
        about: Content | str = "",
        keep_words: str = "Keep",
    ) -> None:
        def closed(kept: bool | None) -> None:
            if kept:
                after()
            else:
                self._walk.entry.focus()

        form = FormScreen(title, lines, keep, about=about, keep_words=keep_words)
        self._walk.app.push_screen(form, closed)

    def _choose(
        self, title: str, options: dict[str, tuple[str, Callable[[], None]]], about: str = ""
    ) -> None:
        def chosen(key: str | None) -> None:
            if key:
                options[key][1]()
            else:
                self._walk.entry.focus()

        menu = MenuScreen(title, [(key, words) for key, (words, _) in options.items()], about)
        self._walk.app.push_screen(menu, chosen)

    def menu(self) -> None:
        """Everything that can be done with the step at hand, and with the job."""
        step = self._walk.status.step
        options: dict[str, tuple[str, Callable[[], None]]] = {}
        if not self._walk.job.signed:
            from commission.tui.screens.undo import last_answer, undo_words

            last = last_answer(self._walk.job)
            # It always has its line, so that the numbers below it stay the same.
            options["undo"] = ("Undo the last answer: none yet", self._as_typed)
            if last is not None:
                answer = undo_words(self._walk.job, last)
                answer = answer if len(answer) <= UNDO_SHOWN else f"{answer[: UNDO_SHOWN - 1]}…"
                words = f"Undo the last answer: {answer}"
                options["undo"] = (words, partial(self.undo, last))
            options["skip"] = ("Skip this step, with a reason", self.skip)
            options["na"] = ("Not applicable here, with a reason", self.not_applicable)
            options["note"] = ("Add a note", self.note)
            options["defect"] = ("Raise a defect", self.defect)
            options["second"] = ("Close a defect after a second look", self.second_look)
            options["fault"] = (FAULT, self.find_fault)
            options["change"] = ("The ground differs from the drawing", self.change)
            options["photo"] = ("Attach a photo or document", self.photo)
            options["withdraw"] = ("Take back an entry of this step", self.withdraw)
            options["people"] = ("People and instrument", self.people)
            options["instrument"] = ("New instrument, or its data", self.instrument)
        options["picture"] = ("The paths as a picture", self.picture)
        options["profile"] = ("The profile: voltages, loops, stations", self.profile)
        options["overview"] = ("What is done, failed, open", self.overview)
        options |= paper_options(self._walk)
        signing = "Owner's receipt" if self._walk.job.signed else "Sign and save the report"
        options["sign"] = (signing, self.sign)
        options |= bundle_options(self._walk) | practice_options(self._walk)
        options["help"] = ("Keys and help", self.help)
        place = f"{step.target.label}: {step.title}" if step.target.label else step.title
        self._choose(place, options)

    def _after(self) -> None:
        self._walk.refresh_job()
        self._walk.saved()
        self._walk.show_step(self._walk.step_id, text=self._walk.typed)

    def _next(self) -> None:
        self._walk.after_answer()

    def skip(self) -> None:
        """Leave the step undone, with a reason."""
        step = self._walk.status.step
        required = "It is required: it will stand as an exception. " if step.item.required else ""
        self._form(
            f"Skip: {step.title}",
            [Line("reason", f"{required}Reason", needed=REASON)],
            lambda values: self._walk.session.skip(step, values["reason"]),
            self._next,
        )

    def not_applicable(self) -> None:
        """Say that the step does not apply here, with a reason."""
        step = self._walk.status.step
        self._form(
            f"Not applicable: {step.title}",
            [Line("reason", "Reason", needed=REASON)],
            lambda values: self._walk.session.not_applicable(step, values["reason"]),
            self._next,
        )

    def note(self) -> None:
        """Add a note to the step."""
        step = self._walk.status.step
        self._form(
            f"Note: {step.title}",
            [Line("text", "Note", needed="write the note")],
            lambda values: self._walk.session.note(step, values["text"]),
            self._after,
        )

    def defect(self, text: str = "", where: str = "") -> None:
        """Raise a defect from the step; its text and place are proposed as the search found them.

        Without, they are the finding and the place of the step.
        """
        status = self._walk.status
        step = status.step
        self._form(
            f"Defect: {step.target.label}: {step.title}",
            [
                Line(
                    "text",
                    "What is wrong",
                    text or (status.finding if status.entry else ""),
                    needed="write in a few words what is wrong",
                ),
                Line("severity", "How bad", SEVERITIES[1], SEVERITIES, needed=ONE_OF_THEM),
                Line("where", "Where", where or step.target.label),
                Line("action", "What is to be done"),
            ],
            lambda values: self._walk.session.raise_defect(step, **values),
            self._after,
        )

    def change(self) -> None:
        """The ground is not as drawn: what is to be another, or only what is to be noted."""
        from commission.tui.screens.drawing import DrawingDialogue

        DrawingDialogue(self._walk, self._form, self._choose, self._after).show()

    def second_look(self) -> None:
        """Close an open defect that needs no measurement."""
        open_defects = self._walk.job.open_defects
        if not open_defects:
            self._walk.say("No defect is open", "$quiet")
            return
        about = "\n".join(f"{d.id}  {d.where}: {d.text}" for d in open_defects)
        self._form(
            "Close a defect after a second look",
            [
                Line(
                    "defect",
                    "Defect",
                    open_defects[0].id,
                    tuple(d.id for d in open_defects),
                    needed=ONE_OF_THEM,
                ),
                Line("seen", "What was seen now", needed="write in a few words what was seen"),
            ],
            lambda values: self._walk.session.close_defect(values["defect"], values["seen"]),
            self._after,
            about,
        )

    def decide(self, status: Status, before: str = "") -> None:
        """A failed or marginal result: what now? `before` says what cannot be done until then."""
        step = status.step
        options: dict[str, tuple[str, Callable[[], None]]] = {
            "again": (
                "Test again now (a better meter, or after a repair)"
                if step.item.answer == "measure"
                else "Look again now, and answer anew",
                self._again,
            ),
            "defect": ("Raise a defect", self.defect),
            "fault": (FAULT, self.find_fault),
            **repair_options(self._walk),
            "exception": ("Hand over with this as a named exception", self.exception),
            "later": ("Go on without deciding", self._walk.action_next_open),
        }
        kept = status.entry.text if status.entry else ""
        expected = expected_words(self._walk.job, status)
        about = f"Kept: {kept}" + (f"     Expected: {expected}" if expected else "")
        about = f"{about}\n{status.finding}".rstrip()
        label, cause = likely_words(self._walk.job, step.target.station)
        about = f"{about}\n{label}: {cause}" if cause else about
        about = f"{before}\n{about}" if before else about
        self._choose(f"{status.verdict.upper()}: {step.target.label}: {step.title}", options, about)

    def find_fault(self) -> None:
        """Where the fault is as far as the readings tell, and which test next."""
        from commission.tui.screens.fault import FaultDialogue

        FaultDialogue(self._walk, self.defect).show()

    def _as_typed(self) -> None:
        self._walk.show_step(self._walk.step_id, text=self._walk.typed)

    def _again(self) -> None:
        self._walk.show_step(self._walk.step_id)

    def exception(self) -> None:
        """Accept a result as a named exception."""
        step = self._walk.status.step
        self._form(
            f"Exception: {step.title}",
            [Line("reason", "Why it is handed over like this", needed=REASON)],
            lambda values: self._walk.session.accept_exception(step, values["reason"]),
            self._next_open,
        )

    def _next_open(self) -> None:
        self._walk.refresh_job()
        self._walk.saved()
        self._walk.action_next_open()

    def hidden(self, status: Status, text: str) -> None:
        """Keep an answer about something that will be hidden: who saw it, and which photo."""
        step, walk = status.step, self._walk
        hands = walk.session.crew.hands

        def keep(values: dict[str, str]) -> None:
            if not values["photo"] and not values["file"]:
                words = "write the photo's number, or 'none' and why; or name a file"
                raise LineRefused("photo", words)
            observed = replace(hands, observed_by=values["observed_by"] or hands.entered_by)
            walk.session.crew.take(observed)
            photo = values["photo"] or Path(values["file"]).name
            if values["file"]:  # first: a file that is not there leaves the step unanswered
                self._attach(step, values["file"])
            walk.session.answer(step, text, photo=photo)

        self._form(
            f"This will be hidden later: {step.title}",
            [
                Line("observed_by", "Who saw it", hands.observed_by),
                Line("photo", "Photo: its number on the camera or phone"),
                Line("file", "Or a file to copy into the job (may stay empty)"),
            ],
            keep,
            self._next,
            f"Answer: {text}",
        )

    def _attach(self, step: Step, name: str) -> None:
        try:
            self._walk.session.attach(step, Path(name).expanduser())
        except InputRefused as refused:
            raise LineRefused("file", str(refused)) from None

    def photo(self) -> None:
        """Copy a photo or document into the job, or name a photo that is kept elsewhere."""
        step, walk = self._walk.status.step, self._walk

        def keep(values: dict[str, str]) -> None:
            if not values["file"] and not values["reference"]:
                raise LineRefused("file", "name a file, or a photo's number")
            if values["file"]:
                self._attach(step, values["file"])
            if values["reference"]:
                walk.session.note(step, f"photo: {values['reference']}")

        self._form(
            f"Photo or document: {step.title}",
            [
                Line("file", "File to copy into the job"),
                Line("reference", "Or a photo's number on the camera or phone"),
            ],
            keep,
            self._after,
        )

    def withdraw(self) -> None:
        """Take back an entry of the step: the only one, or one of those there are."""
        state, step = self._walk.job.state, self._walk.status.step
        live = [
            entry
            for entry in reversed(state.history.get(step.id, ()))
            if state.is_live(entry) and entry.type not in FINAL
        ]
        if not live:
            self._walk.say("There is nothing to take back here", "$quiet")
        elif len(live) == 1:
            self._take_back(live[0])
        else:
            self._choose(
                f"Take back: {step.title}",
                {
                    str(one.number): (entry_words(one), partial(self._take_back, one))
                    for one in live
                },
                "Which entry? The newest is the first.",
            )

    def undo(self, entry: Entry) -> None:
        """Take back the last answer, and stand at its step with what was typed there."""
        from commission.tui.screens.undo import undo_form, undone

        def closed(kept: bool | None) -> None:
            if kept:
                undone(self._walk, entry)
            else:
                self._walk.entry.focus()

        self._walk.app.push_screen(undo_form(self._walk, entry), closed)

    def _take_back(self, entry: Entry) -> None:
        self._form(
            f"Take back: {entry_words(entry)}",
            [
                Line(
                    "reason",
                    "Reason; the entry stays in the history, marked withdrawn",
                    needed=REASON,
                )
            ],
            lambda values: self._walk.session.withdraw(entry.number, values["reason"]),
            self._after,
        )

    def people(self) -> None:
        """Who watches, who writes, with which instrument."""
        from commission.tui.screens.people import people_form

        self._walk.app.push_screen(people_form(self._walk), lambda _kept: self._as_typed())

    def instrument(self) -> None:
        """Enter an instrument, or mend its data."""
        from commission.tui.screens.people import instrument_form

        self._walk.app.push_screen(instrument_form(self._walk), lambda _kept: self._as_typed())

    def sign(self) -> None:
        """Sign and save the report; once it is signed, the owner's receipt."""
        from commission.tui.screens.receipt import receipt_form
        from commission.tui.screens.sign import sign_form

        undecided = None if self._walk.job.signed else next(self._walk.job.undecided(), None)
        if undecided is not None:
            self._walk.show_step(undecided.step.id)
            self.decide(undecided, "Before signing, say what becomes of this")
            return
        form = receipt_form if self._walk.job.signed else sign_form
        self._walk.app.push_screen(form(self._walk), lambda _kept: self._after_sign())

    def _after_sign(self) -> None:
        typed = "" if self._walk.job.signed else self._walk.typed
        self._walk.show_step(self._walk.step_id, text=typed)
