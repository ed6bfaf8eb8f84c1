"""One sign-off: who takes responsibility for a report, in which role, saying what, by which key."""

from __future__ import annotations

import hashlib
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import Any, Literal

from commission.problems import InputRefused
from commission.report.seal import KEY_BYTES, as_bytes, fingerprint

SignsAs = Literal["installer", "inspector", "owner"]
Decision = Literal["", "countersigned", "refused", "received"]  # what a later sign-off decides
TYPED = ("role", "name", "company", "licence", "statement", "at", "signs_as", "public_key")
CANNOT_PROVE = (
    "a name typed here, a key made on a laptop of one's own and that laptop's clock prove neither "
    "the person nor the time"
)


@dataclass(frozen=True, slots=True)
class SignOff:
    """A signature line. `at` carries its offset; exceptions are accepted by whoever signs.

    `public_key` is the key that signs, in base64; a draft has none. `decision` is that of a later
    sign-off: the inspector countersigns or refuses, with reasons; the owner receives.
    """

    role: str
    name: str
    company: str
    licence: str
    statement: str
    at: datetime
    signs_as: SignsAs = "installer"
    public_key: str = ""
    accepted_exceptions: bool = True
    decision: Decision = ""
    reasons: str = ""

    def refuse_unnamed(self) -> None:
        """Raise InputRefused where it does not say who signs."""
        for what in ("name", "role", "company", "licence", "statement"):
            if not getattr(self, what).strip():
                raise InputRefused(f"write the {what} of whoever signs, or 'none'")


def first_signs_as(job_kind: str) -> SignsAs:
    """Who signs a job first: its inspector where it is an inspection, else its installer."""
    return "inspector" if job_kind == "inspection" else "installer"


def signoff_table(report: str, signoff: SignOff, exceptions: tuple[str, ...]) -> dict[str, Any]:
    """The first `[[signoff]]` of a report, but for its two last lines.

    Everything accepted stands above whatever is signed below it.
    """
    accepts = list(exceptions) if signoff.accepted_exceptions else []
    return {
        "number": 1,
        "report": report,
        "signs_as": signoff.signs_as,
        "exceptions": len(exceptions),
        "accepts": accepts,
        **said_by(signoff),
    }


def later_signoff_table(
    number: int, report: str, signoff: SignOff, before: bytes, exceptions: tuple[str, ...] = ()
) -> dict[str, Any]:
    """A further `[[signoff]]`, but for its two last lines; `before` is the report as it was.

    `exceptions` are those of the inspection that it signs.
    """
    said: dict[str, Any] = {"number": number, "report": report, "signs_as": signoff.signs_as}
    said |= {"decision": signoff.decision, "follows_sha256": hashlib.sha256(before).hexdigest()}
    if signoff.reasons:
        said["reasons"] = signoff.reasons
    if exceptions:
        said |= {"exceptions": len(exceptions), "accepts": list(exceptions)}
    return said | said_by(signoff)


def later_signoff_of(block: Mapping[str, Any]) -> SignOff:
    """A further sign-off as it was typed; of a block that is none a LookupError or ValueError."""
    if block["signs_as"] not in ("inspector", "owner"):
        raise ValueError("a later sign-off is an inspector's or the owner's")
    typed = {key: block[key] for key in (*TYPED, "decision")}
    return SignOff(**typed, reasons=block.get("reasons", ""))


def unlike(block: Mapping[str, Any]) -> str:
    """Which key of a sign-off holds what this program never writes there; "" for none.

    Texts are none that are empty, and a time has whole seconds and its offset from UTC.
    """
    at = block.get("at")
    if not isinstance(at, datetime) or at.utcoffset() is None or at.microsecond:
        return "at"
    given = [key for key in ("decision", "reasons") if key in block]
    texts = ((key, block.get(key)) for key in (*TYPED, *given) if key != "at")
    return next((k for k, text in texts if not isinstance(text, str) or not text.strip()), "")


def said_by(signoff: SignOff) -> dict[str, Any]:
    """Who signs, saying what, when, and by which key."""
    key = as_bytes(signoff.public_key, KEY_BYTES)
    return {
        "role": signoff.role,
        "name": signoff.name,
        "company": signoff.company,
        "licence": signoff.licence,
        "statement": signoff.statement,
        "at": signoff.at,
        "remark": CANNOT_PROVE,
        **({"public_key": signoff.public_key, "fingerprint": fingerprint(key)} if key else {}),
    }
