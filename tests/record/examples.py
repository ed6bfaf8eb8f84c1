"""Invented headers and entries, one of each type, and a clock that stands still."""

from __future__ import annotations

from datetime import datetime, timedelta, timezone
from pathlib import Path

from commission.record.entry import Entry, Header
from commission.record.folder import Origin
from commission.record.journal import Journal
from tests.record.simulated_disk import SimulatedDisk

NOON = datetime(2026, 5, 4, 12, 0, 0, tzinfo=timezone(timedelta(hours=-6)))
FOLDER = Path("/ground/oakfield-new-2026-05-04-1")
RECORD_PATH = FOLDER / "record.toml"
SITE_PATH = Path("/ground/oakfield.toml")
END = "path/A/end/B12/loop-resistance"

HEADER = Header(
    program="0.1.0",
    formula_set=1,
    job="oakfield-new-2026-05-04-1-0a1b2c3d",
    job_kind="new",
    practice=True,
    created_at=NOON,
    site_sha256="1" * 64,
    checklist_sha256="2" * 64,
)
ORIGIN = Origin(
    site=b'kind = "commission site"\n',
    checklist=b'kind = "commission checklist"\n',
    job_kind="new",
    program="0.1.0",
    formula_set=1,
)


def now() -> datetime:
    return NOON


def answer(text: str = "11.6 ohm", step: str = END) -> Entry:
    return Entry(
        number=0,
        type="answer",
        step=step,
        text=text,
        entered_by="A. Invented",
        entered_at=NOON,
        observed_by='B. "Bo" Invented',
        observed_at=NOON,
        quantity="resistance",
        unit="ohm",
        relation="=",
        value=11.6,
        digit=0.1,
        expected=11.52,
        low=10.9,
        high=12.1,
        verdict="pass",
        finding="as drawn; a joint of 0.8 Ω or more would have been seen",
        instrument_true_rms=False,
        instrument_counts=3.0,
        instrument_resolution=1e-05,
    )


# Each follows one answer, number 1.
ONE_OF_EACH_TYPE = {
    "answer": answer(),
    "skip": Entry(0, "skip", step=END, text="box under water", entered_at=NOON),
    "not-applicable": Entry(0, "not-applicable", step=END, text="no such end"),
    "note": Entry(0, "note", step=END, text="kept", decision="exception", refers_to=1),
    "defect": Entry(
        0, "defect", step=END, text="bad joint", defect="D1", state="opened",
        severity="does not work", where="box B7", action="remake",
    ),
    "withdrawal": Entry(0, "withdrawal", step=END, text="wrong box", refers_to=1),
    "change": Entry(0, "change", subject="segment B3 to B4", before="55 m", after="61 m"),
    "attachment": Entry(0, "attachment", step=END, file="evidence/x-1.jpg", file_sha256="3" * 64),
    "recovery": Entry(0, "recovery", text="17 bytes set aside", file="record.torn-1.toml"),
}  # fmt: skip


def disk_with_record(*entries: Entry) -> SimulatedDisk:
    """A disk that holds a record with these entries, each written by itself."""
    disk = SimulatedDisk()
    disk.put(FOLDER / "site.toml", b"")
    Journal.create(RECORD_PATH, HEADER, disk)
    disk.sync_directory(FOLDER)
    journal = Journal.open(RECORD_PATH, disk, now).journal
    for entry in entries:
        journal.append([entry])
    journal.close()
    return disk
