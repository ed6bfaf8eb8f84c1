"""One sign-off: who takes responsibility for a report, in which role, saying what."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from typing import Any

CANNOT_PROVE = "a name typed here and this computer's clock prove neither the person nor the time"


@dataclass(frozen=True, slots=True)
class SignOff:
    """A signature line. `at` carries its offset; exceptions are accepted by whoever signs."""

    role: str
    name: str
    company: str
    licence: str
    statement: str
    at: datetime
    accepted_exceptions: bool = True


def signoff_table(
    number: int, report: str, signoff: SignOff, exceptions: tuple[str, ...]
) -> dict[str, Any]:
    """The `[[signoff]]` block: everything accepted stands above whatever is signed below it."""
    accepts = list(exceptions) if signoff.accepted_exceptions else []
    return {
        "number": number,
        "report": report,
        "exceptions": len(exceptions),
        "accepts": accepts,
        "role": signoff.role,
        "name": signoff.name,
        "company": signoff.company,
        "licence": signoff.licence,
        "statement": signoff.statement,
        "at": signoff.at,
        "remark": CANNOT_PROVE,
    }
