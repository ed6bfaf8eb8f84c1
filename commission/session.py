"""One open job: the only place that causes writes; publishes a frozen `Job` after each.

An answer is judged, appended to the record and on disk (fsync) before `Session` shows the new
`Job`; when the disk refuses, `CouldNotWrite` is raised and nothing has changed, so that the same
call can be made again.
"""

from __future__ import annotations

import dataclasses
from collections.abc import Callable
from dataclasses import dataclass, replace
from datetime import datetime
from functools import cached_property
from pathlib import Path
from typing import TYPE_CHECKING, Any

from commission.answering import Answering
from commission.asked import own_copy
from commission.checklist.plan import Step
from commission.crew import Crew
from commission.job import Job
from commission.practice import TRUTH
from commission.problems import InputRefused, StepRefused
from commission.record import drafts
from commission.record import folder as folders
from commission.record.entry import Entry
from commission.record.evidence import attach_file
from commission.record.replay import FINAL, fold, written_along
from commission.redrawn import lost_with_work, redrawn, told_of, with_entries
from commission.survey import with_survey
from commission.text import clean
from commission.units import Reading
from commission.verdict.judge import Judgement

if TYPE_CHECKING:
    from commission.field_entry import Taken
    from commission.field_list import FieldList
    from commission.host import Disk
    from commission.locate.readings import FieldTest
    from commission.practice.ground import Ground
    from commission.record.journal import Journal
    from commission.record.lock import JobLock
    from commission.report.seal import Signer
    from commission.report.signoff import SignOff
    from commission.sampling import Sample
    from commission.site.changes.kinds import Change

SEVERITIES = ("danger", "does not work", "to be improved")


@dataclass(frozen=True, slots=True)
class Preview:
    """What an answer would mean, before it is confirmed."""

    reading: Reading | None
    judgement: Judgement | None
    problem: str = ""


def now_local() -> datetime:
    """This moment in local time with its offset, in whole seconds."""
    return datetime.now().astimezone().replace(microsecond=0)


class Session:
    """One open job. Made by `commission.opening.open_job`, closed with `close`."""

    def __init__(
        self,
        job: Job,
        journal: Journal,
        lock: JobLock,
        disk: Disk,
        now: Callable[[], datetime] = now_local,
    ) -> None:
        self.job = job
        self._journal = journal
        self._lock = lock
        self._disk = disk
        self._now = now
        self.crew = Crew(job.state.entries, practice=job.header.practice)

    def close(self) -> None:
        """Release the job for others."""
        self._journal.close()
        self._lock.release()

    def now(self) -> datetime:
        """This moment by the clock of the session."""
        return self._now()

    @cached_property
    def sample(self) -> Sample:
        """What is proposed to be repeated in an inspection."""
        from commission.sampling import sample

        return sample(self.job)

    @cached_property
    def ground(self) -> Ground | None:
        """The practice ground, with its hidden faults; None for a job at any other site."""
        if not (self.job.header.practice and (self.job.folder / TRUTH).exists()):
            return None
        from commission.expected.sheet import Sheet
        from commission.practice.ground import Ground
        from commission.practice.truth import read

        truth = read(self._disk, self.job.folder)
        if truth is None:
            return None
        # What is in the ground lies there as designed, whatever was changed in the drawing since.
        sheet = Sheet(self.job.designed) if self.job.redrawn_by else self.job.sheet
        return Ground(sheet, truth)

    def take_up(self, test: FieldTest) -> Step:
        """The first step of a test that may find a fault; nothing is written before it is answered.

        A test taken up before and not made is let go.
        """
        from commission.search import with_search
        from commission.search.steps import id_of

        own = id_of(test)
        steps = [own, *(entry.step for entry in self.job.state.entries)]
        plan = with_search(self.job.plan, self.job.site, steps)
        self.job = replace(self.job, plan=plan)
        return next(step for step in plan.steps if step.id.startswith(own))

    def draft(self) -> tuple[str, str]:
        """The step and the half-typed entry kept when the program last ended; both "" for none."""
        return drafts.read(self._disk, self.job.folder, len(self.job.state.entries))

    def keep_draft(self, step_id: str, text: str) -> None:
        """Keep a half-typed entry beside the record; a disk that refuses is no reason to stay."""
        kept = "" if self.job.signed else text
        count = len(self.job.state.entries)
        drafts.write(self._disk, self.job.folder, count, step_id, kept)

    def preview(self, step: Step, text: str) -> Preview:
        """Judge an answer as it is being typed; writes nothing."""
        if not text.strip():
            return Preview(None, None)
        try:
            reading, judgement = self._answering.judge(step, clean(text))
        except ValueError as error:
            return Preview(None, None, str(error))
        return Preview(reading, judgement)

    def would_be(self, step: Step, text: str) -> Job:
        """The job as it would stand with an answer kept; writes nothing, raises InputRefused."""
        try:
            answering, text = self._answering, clean(text)
            entry = answering.answered(step, text, *answering.judge(step, text))
        except ValueError as error:
            raise InputRefused(str(error)) from None
        return with_entries(self.job, entry)

    def answer(
        self, step: Step, text: str, *, photo: str = "", confirmed: bool = False, note: str = ""
    ) -> Job:
        """Keep the answer of a step; an earlier one stays in the history.

        Raises StepRefused (not allowed now), InputRefused (not understood), AskBack (unless
        `confirmed`), CouldNotWrite. A passing answer closes the defects raised from its step.
        """
        self._refuse_unless_allowed(step)
        entries = self._answering.entries(step, text, photo=photo, confirmed=confirmed, note=note)
        return self._append(*entries)

    def answer_all(
        self, listed: FieldList, name: str, entered_by: str, *, confirmed: bool = False
    ) -> Taken:
        """Keep a list of answers that were written in the field: all in one write, or none.

        Raises InputRefused with every problem, StepRefused, CouldNotWrite. See `field_entry`.
        """
        from commission.field_entry import Desk, take_in

        self._refuse_if_signed()
        desk = Desk(name, entered_by, self._now(), self.crew.instruments(), confirmed)
        taken = take_in(self.job, listed, desk)
        if taken.problems:
            raise InputRefused(taken.problems)
        self._append(*taken.entries, as_list=True)
        return taken

    def skip(self, step: Step, reason: str) -> Job:
        """Leave a step undone, with a reason."""
        return self._append(self._entry("skip", step.id, text=self._reason(reason)))

    def not_applicable(self, step: Step, reason: str) -> Job:
        """Say that a step does not apply here, with a reason."""
        return self._append(self._entry("not-applicable", step.id, text=self._reason(reason)))

    def note(self, step: Step, text: str) -> Job:
        """Add a note to a step."""
        return self._append(self._entry("note", step.id, text=self._reason(text)))

    def accept_exception(self, step: Step, reason: str) -> Job:
        """Decide to hand over a marginal or failed result as a named exception."""
        latest = self.job.state.latest.get(step.id)
        return self._append(
            self._entry(
                "note", step.id, text=self._reason(reason), decision="exception",
                refers_to=latest.number if latest else None,
            )
        )  # fmt: skip

    def raise_defect(self, step: Step, severity: str, where: str, text: str, action: str) -> Job:
        """Open a defect from a step: what, where, how bad, and what is to be done."""
        if severity not in SEVERITIES:
            raise InputRefused(f"severity is one of: {', '.join(SEVERITIES)}")
        number = f"D{len(self.job.state.defects) + 1}"
        return self._append(
            self._entry(
                "defect", step.id, text=self._reason(text), defect=number, state="opened",
                severity=severity, where=self._optional(where), action=self._optional(action),
            )
        )  # fmt: skip

    def close_defect(self, defect_id: str, what_was_seen: str) -> Job:
        """Close a defect by a confirmed second look, where there is nothing to measure.

        A defect of a step whose reading is compared with something is closed by a passing retest
        only (InputRefused).
        """
        defect = self.job.state.defects.get(defect_id)
        if defect is None or defect.state != "opened":
            raise InputRefused(f"{defect_id} is not an open defect")
        step = self.job.plan.by_id.get(defect.step)
        if step is not None and step.item.answer == "measure" and step.item.compare:
            raise InputRefused(f"{defect_id} closes when a retest of {step.title} passes")
        return self._append(
            self._entry(
                "defect", defect.step, text=self._reason(what_was_seen), defect=defect_id,
                state="closed", severity=defect.severity, where=defect.where,
            )
        )  # fmt: skip

    def withdraw(self, number: int, reason: str) -> Job:
        """Take back an entry, and what it closed; all stay in the record, marked as withdrawn."""
        state = self.job.state
        known = {entry.number: entry for entry in state.entries}
        if number not in known or number in state.withdrawn:
            raise InputRefused(f"entry {number} cannot be withdrawn")
        entry = known[number]
        if entry.type in FINAL:
            raise InputRefused(f"a {entry.type} cannot be withdrawn")
        reason = self._reason(reason)
        with_it = [one for one in written_along(entry, state.entries) if one not in state.withdrawn]
        entries = [
            self._entry("withdrawal", entry.step, text=reason, refers_to=one)
            for one in (number, *with_it)
        ]
        if entry.redraws:
            self._refuse_lost_work(with_entries(self.job, *entries))
        return self._append(*entries)

    def change_drawing(self, step: Step, subject: str, before: str, after: str, reason: str) -> Job:
        """Record that the ground differs from the drawing: what, as drawn, as found, and why."""
        return self._append(
            self._entry(
                "change", step.id, text=self._reason(reason), subject=self._reason(subject),
                before=self._optional(before), after=self._reason(after),
            )
        )  # fmt: skip

    def change_site(self, step: Step, change: Change, reason: str) -> Job:
        """Change the drawing that this job goes by, as it was found on site; keeps what and why.

        Raises InputRefused with every problem of the drawing as it would be then, StepRefused for
        what would take work out of the safety order. Steps that it touches ask for a second look.
        """
        from commission.site.changes.kinds import line
        from commission.site.changes.words import SO_ALREADY

        self._refuse_if_signed()
        subject, before, after = told_of(self.job, change)
        entry = self._entry(
            "change", step.id, text=self._reason(reason),
            subject=subject, before=before, after=after, redraws=line(change),
        )  # fmt: skip
        job = with_entries(self.job, entry)
        if job.site == self.job.site:
            raise InputRefused(SO_ALREADY)
        self._refuse_lost_work(job)
        return self._append(entry)

    def _refuse_lost_work(self, after: Job) -> None:
        lost = lost_with_work(self.job, after)
        if lost:
            raise StepRefused(lost)

    def attach(self, step: Step, source: Path) -> Job:
        """Copy a photo or document into the job and record its SHA-256."""
        self._refuse_if_signed()
        name, digest = attach_file(self._disk, self.job.folder, step.id, source)
        entry = self._entry("attachment", step.id, text=source.name, file=name)
        return self._append(replace(entry, file_sha256=digest))

    def write_pairs(self, name: str) -> Path:
        """Write the job's site file with the pairs of its old bundle to a new file.

        The job stays as it is. Raises InputRefused, CouldNotWrite.
        """
        from commission.new_file import write_new_file
        from commission.survey.path_found import with_pairs_written

        path = Path(name).expanduser()
        return write_new_file(with_pairs_written(self.job), str(path), path, self._disk)

    def sign(self, signoff: SignOff, signer: Signer) -> Job:
        """Write the report, signed with a key; the job takes no further entries after it.

        An inspection of a report is added to that report, countersigned or refused. Raises
        StepRefused while a marginal result is without a decision, InputRefused for a sign-off that
        does not say who signs, or by the installer's key.
        """
        self._refuse_if_signed()
        undecided = [
            f"{one.step.target.label}: {one.step.title}: marginal, not decided yet: "
            "test it again, raise a defect, or hand it over as a named exception"
            for one in self.job.undecided()
        ]
        if undecided:
            raise StepRefused(undecided)
        if self.job.inspects:
            from commission.report.adding import add_inspection

            copy = self.job.folder / folders.EARLIER
            earlier = own_copy(self._disk, copy, self.job.header.follows_report)
            add_inspection(self._disk, self.job, earlier, signoff, signer)
        else:
            from commission.report.document import write_signed

            write_signed(self._disk, self.job, signoff, signer)
        self.job = replace(self.job, signed=True)
        return self.job

    def receive(self, signoff: SignOff, signer: Signer) -> bytes:
        """Add the owner's receipt to a signed report; returns its bytes; see `add_receipt`."""
        from commission.report.adding import add_receipt

        return add_receipt(self._disk, self.job.folder, signoff, signer)

    # What follows is shared by the calls above.

    @property
    def _answering(self) -> Answering:
        """What answers become at this moment."""
        return Answering(self.job, self.crew.hands, self._now())

    def _refuse_if_signed(self) -> None:
        if self.job.signed:
            raise StepRefused(["this report is signed and is never re-opened; start a new job"])

    def _refuse_unless_allowed(self, step: Step) -> None:
        reasons = self.job.reasons_against(step)
        if reasons:
            raise StepRefused(reasons)

    def _reason(self, text: str) -> str:
        cleaned = self._optional(text)
        if not cleaned:
            raise InputRefused("write the reason in a few words")
        return cleaned

    def _optional(self, text: str) -> str:
        try:
            return clean(text)
        except ValueError as error:
            raise InputRefused(str(error)) from None

    def _entry(self, kind: str, step: str, **fields: Any) -> Entry:
        self._refuse_if_signed()
        return self._answering.entry(kind, step, **fields)

    def _append(self, *entries: Entry, as_list: bool = False) -> Job:
        """Write, then fold what was written into a new `Job`."""
        state = self.job.state
        for written in self._journal.append(entries, as_list=as_list):
            state = fold(state, written)
        plan = with_survey(self.job.plan, self.job.site, state)
        job = dataclasses.replace(self.job, plan=plan, state=state, notices=())
        self.job = redrawn(job, known_good=True)
        return self.job
