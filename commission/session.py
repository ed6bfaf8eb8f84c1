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
from pathlib import Path
from typing import TYPE_CHECKING, Any

from commission.checklist.plan import Step
from commission.crew import Crew
from commission.electrical.instruments import Accuracy, at_ambient
from commission.job import Job
from commission.judging import judge_answer, read_answer
from commission.problems import InputRefused, StepRefused
from commission.record import drafts
from commission.record.entry import Entry
from commission.record.evidence import attach_file
from commission.record.replay import FINAL, fold
from commission.text import clean
from commission.units import Reading
from commission.verdict.judge import PASS, Judgement, asks_back

if TYPE_CHECKING:
    from commission.host import Disk
    from commission.record.journal import Journal
    from commission.record.lock import JobLock
    from commission.report.seal import Signer
    from commission.report.signoff import SignOff

SEVERITIES = ("danger", "does not work", "to be improved")
YES, NO = "yes", "no"
EXPIRED = "used past its calibration date"


class AskBack(InputRefused):
    """A reading so far off that the program asks whether it is meant as typed."""


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
            reading, judgement = self._judge(step, clean(text))
        except ValueError as error:
            return Preview(None, None, str(error))
        return Preview(reading, judgement)

    def answer(
        self, step: Step, text: str, *, photo: str = "", confirmed: bool = False, note: str = ""
    ) -> Job:
        """Keep the answer of a step; an earlier one stays in the history.

        Raises StepRefused (not allowed now), InputRefused (not understood), AskBack (unless
        `confirmed`), CouldNotWrite. A passing answer closes the defects raised from its step.
        """
        self._refuse_unless_allowed(step)
        try:
            text, photo, note = clean(text), clean(photo), clean(note)
            reading, judgement = self._judge(step, text)
        except ValueError as error:
            raise InputRefused(str(error)) from None
        if step.item.hidden_later and not self.crew.hands.observed_by:
            raise InputRefused("this will be hidden later: name the observer first")
        if reading and not confirmed:
            question = asks_back(self.job.expectation(step), reading, step.item.unit)
            if question:
                raise AskBack(question)
        entry = self._entry("answer", step.id, text=text, photo=photo)
        entry = replace(entry, verdict=judgement.verdict, finding=judgement.finding)
        if reading is not None:
            entry = self._with_reading(entry, step, reading, judgement)
        entries = [entry]
        if note:
            entries.append(self._entry("note", step.id, text=note))
        if judgement.verdict == PASS:
            closing = "a retest passed" if reading else "a second look passed"
            for defect in self.job.defects_of(step.id):
                entries.append(
                    self._entry(
                        "defect", step.id, text=closing, defect=defect.id, state="closed",
                        severity=defect.severity, where=defect.where,
                    )
                )  # fmt: skip
        return self._append(*entries)

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
        with_it = [
            other.number
            for other in state.entries[number:]
            if other.written_with == number and other.number not in state.withdrawn
        ]
        return self._append(
            *(
                self._entry("withdrawal", entry.step, text=reason, refers_to=one)
                for one in (number, *with_it)
            )
        )

    def change_drawing(self, step: Step, subject: str, before: str, after: str, reason: str) -> Job:
        """Record that the ground differs from the drawing: what, as drawn, as found, and why."""
        return self._append(
            self._entry(
                "change", step.id, text=self._reason(reason), subject=self._reason(subject),
                before=self._optional(before), after=self._reason(after),
            )
        )  # fmt: skip

    def attach(self, step: Step, source: Path) -> Job:
        """Copy a photo or document into the job and record its SHA-256."""
        self._refuse_if_signed()
        name, digest = attach_file(self._disk, self.job.folder, step.id, source)
        entry = self._entry("attachment", step.id, text=source.name, file=name)
        return self._append(replace(entry, file_sha256=digest))

    def sign(self, signoff: SignOff, signer: Signer) -> Job:
        """Write the report, signed with a key; the job takes no further entries after it.

        Raises StepRefused while a marginal result is without a decision, InputRefused for a
        sign-off that does not say who signs.
        """
        from commission.report.document import write_signed

        self._refuse_if_signed()
        undecided = [
            f"{one.step.target.label}: {one.step.title}: marginal, not decided yet"
            for one in self.job.undecided()
        ]
        if undecided:
            raise StepRefused(undecided)
        for what in ("name", "role", "company", "licence", "statement"):
            if not getattr(signoff, what).strip():
                raise InputRefused(f"write the {what} of whoever signs, or 'none'")
        write_signed(self._disk, self.job, signoff, signer)
        self.job = replace(self.job, signed=True)
        return self.job

    # What follows is shared by the calls above.

    def _judge(self, step: Step, text: str) -> tuple[Reading | None, Judgement]:
        reading = read_answer(step, text)
        accuracy = self._accuracy(step, reading) if reading else None
        judgement = judge_answer(self.job, step, text, reading, accuracy)
        said = self._said_of_the_instrument(accuracy) if reading else ""
        if said:
            judgement = replace(judgement, finding=f"{judgement.finding}; {said}")
        return reading, judgement

    def _accuracy(self, step: Step, reading: Reading) -> Accuracy | None:
        """What the instrument in use promises for a reading; None when nothing is known."""
        instrument = self.crew.hands.instrument
        if instrument is None or step.item.quantity is None:
            return None
        accuracy = instrument.accuracy_for(step.item.quantity, reading.value or 0.0)
        air_c = self.job.air_c
        return at_ambient(accuracy, air_c) if accuracy and air_c is not None else accuracy

    def _said_of_the_instrument(self, accuracy: Accuracy | None) -> str:
        """What must be known of the instrument beside the verdict."""
        instrument = self.crew.hands.instrument
        if instrument is None:
            return ""
        said = []
        if accuracy is None:
            said.append(f"no accuracy of {instrument.id} is known here, its last digit was taken")
        if instrument.is_expired(self._now().date()):
            said.append(f"{instrument.id} {EXPIRED}")
        return "; ".join(said)

    def _with_reading(
        self, entry: Entry, step: Step, reading: Reading, judgement: Judgement
    ) -> Entry:
        expectation = self.job.expectation(step)
        return replace(
            entry,
            quantity=step.item.quantity or "",
            unit=step.item.unit,
            relation=reading.relation,
            value=reading.value,
            digit=reading.digit or None,
            compared_with=expectation.name if expectation else "",
            expected=expectation.value if expectation else None,
            low=judgement.low,
            high=judgement.high,
            **self._instrument_fields(step, reading),
        )

    def _instrument_fields(self, step: Step, reading: Reading) -> dict[str, Any]:
        """The instrument as it was used, whole, so that the entry can be recomputed alone."""
        instrument = self.crew.hands.instrument
        if instrument is None or step.item.quantity is None:
            return {}
        due = instrument.calibration_due
        fields: dict[str, Any] = {
            "instrument": instrument.id,
            "instrument_make": instrument.make,
            "instrument_serial": instrument.serial,
            "instrument_calibration_due": due.isoformat() if due else "",
            "instrument_true_rms": instrument.true_rms,
        }
        accuracy = self._accuracy(step, reading)
        if accuracy is not None:
            fields["instrument_percent"] = accuracy.percent_of_reading
            fields["instrument_counts"] = accuracy.counts
            fields["instrument_resolution"] = accuracy.resolution
            fields["instrument_offset"] = accuracy.offset_half_width or None
        if instrument.is_expired(self._now().date()):
            fields["warning"] = f"{EXPIRED} {due.isoformat() if due else ''}".strip()
        return fields

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
        if not self.crew.hands.entered_by:
            raise InputRefused("first say who enters the readings: Esc, People and instrument")
        now = self._now()
        return Entry(
            number=0,
            type=kind,  # type: ignore[arg-type]
            step=step,
            entered_by=self.crew.hands.entered_by,
            entered_at=now,
            observed_by=self.crew.hands.observed_by,
            observed_at=now,
            **fields,
        )

    def _append(self, *entries: Entry) -> Job:
        """Write, then fold what was written into a new `Job`."""
        state = self.job.state
        for written in self._journal.append(entries):
            state = fold(state, written)
        self.job = dataclasses.replace(self.job, state=state, notices=())
        return self.job
