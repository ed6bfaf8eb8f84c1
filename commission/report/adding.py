"""What is added to a signed report: an inspection, the owner's receipt.

The file is written as a copy and renamed, never in place; nothing signed is ever written anew.
"""

from __future__ import annotations

from collections.abc import Mapping
from contextlib import suppress
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

from commission.job import Job
from commission.problems import CouldNotWrite, InputRefused, StepRefused
from commission.report.document import NAME
from commission.report.examined import examined
from commission.report.finding import ALTERED, LINE_ENDS, NOT_READABLE
from commission.report.inspection import inspection_bytes
from commission.report.reading import parse_report
from commission.report.receipt import quotes, receipt_bytes
from commission.report.seal import Signer, as_text, sealed
from commission.report.signoff import SignOff
from commission.verdict.progress import exceptions

if TYPE_CHECKING:
    from commission.host import Disk


def add_inspection(disk: Disk, job: Job, earlier: bytes, signoff: SignOff, signer: Signer) -> None:
    """Write the report that a job inspected, with the inspection, into the job's folder.

    Raises StepRefused (signed already), InputRefused (no decision, a refusal without reasons,
    exceptions not accepted, the installer's key), CouldNotWrite.
    """
    from commission.host import stands_there, write_first

    signoff.refuse_unnamed()
    path = job.folder / NAME
    if stands_there(disk, path):
        raise StepRefused(["this inspection is signed and is never re-opened; start a new job"])
    if signoff.decision not in ("countersigned", "refused"):
        raise InputRefused("an inspector countersigns or refuses")
    if signoff.decision == "refused" and not signoff.reasons.strip():
        raise InputRefused("write the reasons why you refuse to countersign")
    if exceptions(job) and not signoff.accepted_exceptions:
        raise InputRefused("whoever signs accepts the exceptions listed above the signature")
    report = parse_report(earlier, NAME)
    key = as_text(signer.public_key)
    _refuse_the_first(report["signoff"][0], key)
    signoff = replace(signoff, signs_as="inspector", public_key=key)
    number = len(report["signoff"]) + 1
    write_first(disk, path, sealed(inspection_bytes(earlier, number, job, signoff), signer))


def _refuse_the_first(block: Mapping[str, Any], key: str) -> None:
    """Raise InputRefused for the key that a report was first signed with, the installer's."""
    if block["public_key"] == key:
        raise InputRefused(
            f"the report was signed by {block['name']} with this same key "
            f"({block['fingerprint']}): an inspector signs with a key of their own, "
            "on a computer or in an account of their own"
        )


def add_receipt(disk: Disk, folder: Path, signoff: SignOff, signer: Signer) -> bytes:
    """Add the owner's receipt to the signed report in a job's folder; returns its bytes now.

    Raises InputRefused (none is there, it was altered, received already, or the statement does not
    quote its digest), CouldNotWrite.
    """
    from commission.host import write_atomically

    signoff.refuse_unnamed()
    path = folder / NAME
    try:
        before = disk.read(path)
    except OSError as error:
        raise InputRefused(f"{NAME} can't be read: {error.strerror or error}; sign it first") from (
            error
        )
    seen = examined(before, NAME)
    ends_changed = any(one.kind == LINE_ENDS for one in seen.findings)
    if seen.state in (ALTERED, NOT_READABLE) or seen.report is None or ends_changed:
        raise InputRefused([finding.problem for finding in seen.findings])
    blocks = seen.report["signoff"]
    if blocks[-1]["signs_as"] == "owner":
        raise InputRefused("the owner's receipt stands in this report already")
    if not quotes(signoff.statement, before):
        raise InputRefused("the owner's statement quotes the SHA-256 of the report: leave it in")
    key = as_text(signer.public_key)
    signoff = replace(signoff, signs_as="owner", decision="received", public_key=key)
    report = str(seen.report["report"])
    after = sealed(receipt_bytes(before, len(blocks) + 1, report, signoff), signer)
    try:
        write_atomically(disk, path, after)
    except CouldNotWrite:
        with suppress(CouldNotWrite):  # where only the last call failed: as it was, to try again
            write_atomically(disk, path, before)
        raise
    return after
