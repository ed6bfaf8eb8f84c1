"""The owner's receipt: a sign-off that quotes the SHA-256 of the report as it was handed over."""

from __future__ import annotations

import hashlib

from commission.report.layout import toml_text
from commission.report.signoff import SignOff, later_signoff_table

HEADING = "Receipt of all that stands above"


def received_statement(before: bytes) -> str:
    """What the owner says: that this very file was received."""
    return f"I received this report with the SHA-256 {hashlib.sha256(before).hexdigest()}."


def quotes(statement: str, before: bytes) -> bool:
    """Whether a statement holds the SHA-256 of a report."""
    return hashlib.sha256(before).hexdigest() in statement


def receipt_bytes(before: bytes, number: int, report: str, signoff: SignOff) -> bytes:
    """A report with the owner's receipt, up to the line that counts its bytes; pure.

    `number` is that of the sign-off, `report` the report's id.
    """
    signed = later_signoff_table(number, report, signoff, before)
    return before + toml_text({"signoff": [signed]}, {"signoff": HEADING}).encode("utf-8")
