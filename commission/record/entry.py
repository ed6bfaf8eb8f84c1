"""The header and the entries of a record, format 1, as plain values.

An entry is flat: one TOML table of text, numbers, truth values and times. Fields that say nothing
are left out of the file.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from typing import Literal

from commission.electrical.instruments import Accuracy

KIND = "commission record"
FORMAT = 1

EntryType = Literal[
    "answer",
    "skip",
    "not-applicable",
    "note",
    "defect",
    "withdrawal",
    "change",
    "attachment",
    "recovery",
]


@dataclass(frozen=True, slots=True)
class Header:
    """The top of a record: which job this is and what it was made from."""

    program: str  # version
    formula_set: int
    job: str  # job id: the folder's name at creation plus 8 random characters
    job_kind: str  # a key of JOB_KIND_WORDS
    practice: bool
    created_at: datetime
    site_sha256: str
    checklist_sha256: str
    follows_report: str = ""  # SHA-256 of the report that the job follows; left out when none


@dataclass(frozen=True, slots=True)
class Entry:
    """One confirmed act. Times carry their offset; values are SI.

    answer           `text` as typed or picked; a reading adds value, relation, digit, quantity,
                     unit, the expectation it was compared with, and its instrument
    skip, not-applicable   `text` is the reason
    note             `text`; `decision` when it settles the marginal result of entry `refers_to`
    defect           `defect` is its id (D1, D2, ...), `state` opened or closed
    withdrawal       takes back entry `refers_to`; `text` says why
    change           of the drawing: `subject`, `before`, `after`, `text` says why; `redraws` is the
                     change itself, where the drawing follows it
    attachment       `file` in evidence/, `file_sha256`
    recovery         `text`: what was set aside when a torn record was opened; `file` where
    """

    number: int
    type: EntryType
    step: str = ""
    text: str = ""
    entered_by: str = ""
    entered_at: datetime | None = None
    observed_by: str = ""
    observed_at: datetime | None = None
    # a reading
    quantity: str = ""
    unit: str = ""
    relation: str = ""  # "=", "<", ">", "OL"
    value: float | None = None
    digit: float | None = None
    compared_with: str = ""
    expected: float | None = None
    low: float | None = None
    high: float | None = None
    # what was concluded then
    verdict: str = ""
    finding: str = ""
    photo: str = ""
    # the instrument of a reading, whole, so that it can be recomputed from this entry alone
    instrument: str = ""
    instrument_make: str = ""
    instrument_serial: str = ""
    instrument_calibration_due: str = ""  # ISO date, "" when not known
    instrument_true_rms: bool | None = None
    instrument_percent: float | None = None
    instrument_counts: float | None = None
    instrument_resolution: float | None = None  # SI
    instrument_offset: float | None = None  # SI, left after nulling the leads
    warning: str = ""
    # notes, defects, withdrawals, changes, attachments
    refers_to: int | None = None
    decision: str = ""
    defect: str = ""
    state: str = ""  # "opened", "closed"
    severity: str = ""  # "danger", "does not work", "to be improved"
    where: str = ""
    action: str = ""
    subject: str = ""
    before: str = ""
    after: str = ""
    redraws: str = ""  # one line, see `site.changes`
    file: str = ""
    file_sha256: str = ""
    # filled in by the journal: how many entries count together or not at all, in the first of
    # them; the first of several entries written at one go, in all but it; then the chain
    list_of: int | None = None
    written_with: int | None = None
    previous: str = ""
    sha256: str = ""

    @property
    def accuracy(self) -> Accuracy:
        """The accuracy of its instrument; one count of the last digit where none is known."""
        if self.instrument_percent is None:
            return Accuracy(0.0, 1.0, self.digit or 0.0)
        return Accuracy(
            self.instrument_percent,
            self.instrument_counts or 0.0,
            self.instrument_resolution or 0.0,
            self.instrument_offset or 0.0,
        )
