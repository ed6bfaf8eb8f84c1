"""Who signed a report, by which key, and what that key is here.

An unknown or a changed key is listed and improves nothing.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Any, Literal

from commission.problems import Problem
from commission.report.against import MAX_SHOWN
from commission.report.finding import (
    ALTERED,
    ANOTHER_VERSION,
    CHANGED_KEY,
    NEWER,
    NOT_READABLE,
    REFUSED,
    SAME_KEY,
    SIGNATURE,
    SOUND,
    UNKNOWN_KEY,
    Finding,
    State,
)
from commission.report.seal import KEY_BYTES, as_bytes, fingerprint
from commission.text import visible
from commission.user.signers import KnownSigners

Trust = Literal["known", "unknown", "changed key", "does not hold"]
TRUSTED = "signed by known keys"


@dataclass(frozen=True, slots=True)
class SignedBy:
    """One sign-off: what it says of itself, and what its key is here."""

    number: int
    signs_as: str
    name: str
    role: str
    company: str
    licence: str
    at: str
    public_key: str  # base64; "" where it is none
    fingerprint: str
    trust: Trust
    known_as: str = ""  # the name under which a key is known that signs by another
    decision: str = ""  # of a later one: countersigned, refused, received
    reasons: str = ""


def signoffs_of(
    report: Mapping[str, Any], findings: tuple[Finding, ...], known: KnownSigners
) -> tuple[SignedBy, ...]:
    """Every sign-off of a report with what its key is here; `findings` are those on its bytes."""
    broken = {finding.problem.key for finding in findings if finding.kind == SIGNATURE}
    found = []
    for number, block in enumerate(report["signoff"], start=1):
        key = as_bytes(block.get("public_key"), KEY_BYTES)
        name, text = text_of(block, "name"), text_of(block, "public_key")
        holds = key is not None and f"signoff {number}" not in broken
        known_as = known.name_of(text)
        found.append(
            SignedBy(
                number,
                signs_as=text_of(block, "signs_as"),
                name=name,
                role=text_of(block, "role"),
                company=text_of(block, "company"),
                licence=text_of(block, "licence"),
                at=text_of(block, "at"),
                public_key=text if key else "",
                fingerprint=fingerprint(key) if key else "",
                trust=_trust(name, text, known) if holds else "does not hold",
                known_as=known_as if known_as != name else "",
                decision=text_of(block, "decision"),
                reasons=text_of(block, "reasons"),
            )
        )
    return tuple(found)


def _trust(name: str, public_key: str, known: KnownSigners) -> Trust:
    keys = known.keys_of(name)
    if public_key in keys:
        return "known"
    return "changed key" if keys else "unknown"


def key_findings(signoffs: tuple[SignedBy, ...], name: str) -> Iterator[Finding]:
    """Keys that are not known here under the name that signs; they improve nothing."""
    for one in signoffs:
        who = f"{one.name} as {one.signs_as}, fingerprint {one.fingerprint}"
        place = f"signoff {one.number}"
        if one.trust == "unknown":
            words = f"signed by {who}: this key is not known here"
            if one.known_as:
                words += f" under that name, but as the key of {one.known_as}"
            remedy = (
                "hear the fingerprint from the signer, then: "
                f"commission signers --know REPORT --number {one.number}"
            )
            yield Finding(UNKNOWN_KEY, Problem(name, words, place, remedy=remedy))
        elif one.trust == "changed key":
            words = f"signed by {who}: this name is known here with another key"
            remedy = "ask the signer, over a line that you trust, whether the key was changed"
            yield Finding(CHANGED_KEY, Problem(name, words, place, remedy=remedy))
    for one in signoffs[1:]:
        if one.signs_as == "inspector" and one.fingerprint == signoffs[0].fingerprint:
            words = "the inspector signed with the installer's key: nobody else looked"
            remedy = "have the inspection done by somebody with a key of their own"
            yield Finding(SAME_KEY, Problem(name, words, f"signoff {one.number}", remedy=remedy))


def refusals(signoffs: tuple[SignedBy, ...], name: str) -> Iterator[Finding]:
    """Inspectors who refused to countersign."""
    for one in signoffs:
        if one.decision == "refused":
            words = f"{one.name} refused to countersign: {one.reasons}"
            remedy = "have it put right, and inspected again"
            yield Finding(REFUSED, Problem(name, words, f"signoff {one.number}", remedy=remedy))


def standing_of(state: State, signoffs: tuple[SignedBy, ...]) -> str:
    """Whether to rely on it, in a few words; no unknown key makes them better."""
    if state == ALTERED:
        return "not to be trusted: altered"
    trust = {one.trust for one in signoffs}
    words = "signed by keys not known here"
    if "changed key" in trust:
        words = "signed by a changed key"
    elif trust == {"known"}:
        words = TRUSTED
    elif "known" in trust:
        words = "signed by known keys and by keys not known here"
    words = _with_decision(words, signoffs)
    return words if state == SOUND else f"{words}; {_UNPROVEN[state]}"


def _with_decision(words: str, signoffs: tuple[SignedBy, ...]) -> str:
    """What the last inspector decided: a refusal always shows, only a known key improves."""
    first = signoffs[0].public_key  # whoever signs first decides nothing
    decided = [one for one in signoffs[1:] if one.signs_as == "inspector"]
    if not decided:
        return words
    last = decided[-1]
    if last.decision == "refused":
        known = "" if last.trust == "known" else ", by a key not known here"
        return f"refused by the inspector{known}; {words}"
    if last.decision != "countersigned" or last.public_key == first:
        return words
    return f"{words}, countersigned" if words == TRUSTED else words


_UNPROVEN = {
    NEWER: "not made again here: other formulas",
    ANOTHER_VERSION: "not all of it made again here: another version",
    NOT_READABLE: NOT_READABLE,
}


def text_of(table: Mapping[str, Any], key: str) -> str:
    """A text, or what stands in its place, safe to show; "" for nothing."""
    try:
        return visible(str(table.get(key, "")), MAX_SHOWN)
    except (ValueError, RecursionError):  # a number too long to be written, a list too deep
        return "?"
