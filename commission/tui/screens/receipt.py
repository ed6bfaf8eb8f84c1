"""The owner's receipt: who received the report, and the SHA-256 of the file that was received."""

from __future__ import annotations

import hashlib
from typing import TYPE_CHECKING

from commission.asked import read_file
from commission.checklist.schema import NO, YES
from commission.host import Disk
from commission.problems import InputRefused
from commission.record.folder import REPORT
from commission.report.receipt import received_statement
from commission.report.signoff import SignOff
from commission.tui.screens.form import FormScreen, Line, LineRefused
from commission.tui.screens.sign import key_by, passphrase, tell_signed

if TYPE_CHECKING:
    from commission.tui.screens.walk import WalkScreen

ABOUT = (
    "The owner, or whoever receives the report for them, signs that this very file was received. "
    "Signed with the key of this computer: it ties the receipt to the report, and proves neither "
    "the person nor the time. Keep the SHA-256 elsewhere too: it shows if sign-offs are cut off."
)


def receipt_form(walk: WalkScreen) -> FormScreen:
    """The form of the owner's receipt, for a job that is signed."""
    session = walk.session
    try:
        statement = received_statement(read_file(Disk(), walk.job.folder / REPORT))
    except InputRefused:  # gone since: told when the receipt is to be kept
        statement = ""

    def keep(values: dict[str, str]) -> None:
        if values["accept"] != YES:
            raise LineRefused("accept", f"answer '{YES}' to sign, or choose Back")
        key = key_by(values.get("passphrase"))
        signed = SignOff(
            role=values["role"],
            name=values["name"],
            company=values["company"],
            licence="none",
            statement=values["statement"],
            at=session.now(),
            signs_as="owner",
            decision="received",
        )
        digest = hashlib.sha256(session.receive(signed, key)).hexdigest()
        words = f"Receipt signed and saved. SHA-256 of the report now: {digest}"
        tell_signed(walk, key, words)

    return FormScreen(
        "Owner's receipt",
        [
            Line("name", "Name", needed="write the name of whoever receives it"),
            Line("role", "Role", "owner", needed="write what they are: owner, manager"),
            Line("company", "Company", "none", needed="write the company, or 'none'"),
            Line("statement", "Statement", statement, needed="leave the statement in"),
            *passphrase(),
            Line("accept", "Sign the receipt?", "", (YES, NO)),
        ],
        keep,
        about=f"{ABOUT}\n\n{statement}".rstrip(),
        keep_words="Sign and save",
    )
