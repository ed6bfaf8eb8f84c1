"""One sign-off: who takes responsibility for a report, in which role, saying what, by which key."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from typing import Any, Literal

from commission.report.seal import KEY_BYTES, as_bytes, fingerprint

SignsAs = Literal["installer", "inspector", "owner"]
CANNOT_PROVE = (
    "a name typed here, a key made on a laptop of one's own and that laptop's clock prove neither "
    "the person nor the time"
)


@dataclass(frozen=True, slots=True)
class SignOff:
    """A signature line. `at` carries its offset; exceptions are accepted by whoever signs.

    `public_key` is the key that signs, in base64; a draft has none.
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
