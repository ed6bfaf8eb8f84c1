"""From an answer to the entries that are kept of it: read, judged, composed. Writes nothing."""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import datetime
from typing import Any

from commission.checklist.plan import Step
from commission.crew import Hands, fields_of
from commission.electrical.instruments import Accuracy, at_ambient
from commission.job import Job
from commission.judging import judge_answer, read_answer, said_of_instrument, with_said
from commission.problems import InputRefused
from commission.record.entry import Entry
from commission.text import clean
from commission.units import Reading
from commission.verdict.judge import PASS, Judgement, asks_back


class AskBack(InputRefused):
    """A reading so far off that the program asks whether it is meant as typed."""


@dataclass(frozen=True, slots=True)
class Answering:
    """Who answers a job's steps, and when; `entered_at` is left out for what is typed on the spot.

    One moment holds for all that an answer says: a clock may jump between two looks at it.
    """

    job: Job
    hands: Hands
    observed_at: datetime
    entered_at: datetime | None = None

    def entries(
        self, step: Step, text: str, *, photo: str = "", confirmed: bool = False, note: str = ""
    ) -> tuple[Entry, ...]:
        """The entries of an answer: itself, its note, and the defects that it closes.

        Raises InputRefused (not understood), AskBack (unless `confirmed`). Whether the step may be
        answered now is for the caller to ask.
        """
        try:
            text, photo, note = clean(text), clean(photo), clean(note)
            reading, judgement = self.judge(step, text)
        except ValueError as error:
            raise InputRefused(str(error)) from None
        if step.item.hidden_later and not self.hands.observed_by:
            raise InputRefused("this will be hidden later: name the observer first")
        if reading and not confirmed:
            question = asks_back(self.job.expectation(step), reading, step.item.unit)
            if question:
                raise AskBack(question)
        entries = [self.answered(step, text, reading, judgement, photo)]
        if note:
            entries.append(self.entry("note", step.id, text=note))
        if judgement.verdict == PASS:
            closing = "a retest passed" if reading else "a second look passed"
            for defect in self.job.defects_of(step.id):
                entries.append(
                    self.entry(
                        "defect", step.id, text=closing, defect=defect.id, state="closed",
                        severity=defect.severity, where=defect.where,
                    )
                )  # fmt: skip
        return tuple(entries)

    def entry(self, kind: str, step: str, **fields: Any) -> Entry:
        """An entry by these hands; raises InputRefused while nobody is named."""
        if not self.hands.entered_by:
            raise InputRefused("first say who enters the readings: Esc, People and instrument")
        return Entry(
            number=0,
            type=kind,  # type: ignore[arg-type]
            step=step,
            entered_by=self.hands.entered_by,
            entered_at=self.entered_at or self.observed_at,
            observed_by=self.hands.observed_by,
            observed_at=self.observed_at,
            **fields,
        )

    def judge(self, step: Step, text: str) -> tuple[Reading | None, Judgement]:
        """The reading in an answer, if it is one, and what it means; raises ValueError."""
        reading = read_answer(step, text)
        accuracy = self._accuracy(step, reading) if reading else None
        judgement = judge_answer(self.job, step, text, reading, accuracy)
        said = self._said_of_the_instrument(accuracy) if reading else ""
        return reading, replace(judgement, finding=with_said(judgement, said))

    def _accuracy(self, step: Step, reading: Reading) -> Accuracy | None:
        """What the instrument in use promises for a reading; None when nothing is known."""
        instrument = self.hands.instrument
        if instrument is None or step.item.quantity is None:
            return None
        accuracy = instrument.accuracy_for(step.item.quantity, reading.value or 0.0)
        air_c = self.job.air_c
        return at_ambient(accuracy, air_c) if accuracy and air_c is not None else accuracy

    def _said_of_the_instrument(self, accuracy: Accuracy | None) -> str:
        """What must be known of the instrument beside the verdict."""
        instrument = self.hands.instrument
        if instrument is None:
            return ""
        expired = instrument.is_expired(self.observed_at.date())
        return said_of_instrument(instrument.id, known=accuracy is not None, expired=expired)

    def answered(
        self, step: Step, text: str, reading: Reading | None, judgement: Judgement, photo: str = ""
    ) -> Entry:
        """The entry of an answer that was judged."""
        entry = self.entry("answer", step.id, text=text, photo=photo)
        entry = replace(entry, verdict=judgement.verdict, finding=judgement.finding)
        if reading is None:
            return entry
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
        instrument = self.hands.instrument
        if instrument is None or step.item.quantity is None:
            return {}
        return fields_of(instrument, self._accuracy(step, reading), self.observed_at.date())
