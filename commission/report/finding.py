"""What a review finds: a word for its kind, and the problem itself."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Final, Literal

from commission.problems import Problem

State = Literal["sound", "altered", "newer formulas", "another version", "not readable"]
SOUND: Final = "sound"
ALTERED: Final = "altered"
NEWER: Final = "newer formulas"
ANOTHER_VERSION: Final = "another version"
NOT_READABLE: Final = "not readable"

LINE_ENDS, SIGNATURE, RECORD, FILES = "line ends", "signature", "record", "files"
PRACTICE, UNKNOWN_KEY, CHANGED_KEY, SAME_KEY = "practice", "unknown key", "changed key", "same key"
REFUSED, NOT_AGREED = "refused", "not agreed"
EXCEPTION, OPEN_DEFECT, NOT_DONE = "exception", "open defect", "not done"
EXPIRED, OUT_OF_ORDER = "instrument past calibration", "out of order"
CUT, ANOTHER_SEEN, OTHER_DIGEST = "cut", "another one seen", "another digest"
EVIDENCE, TIMESTAMP = "evidence", "timestamp"

# Every kind, in the order in which they are told, with what it means.
KINDS: Final = {
    NOT_READABLE: "it is no report that this program can read, with the reason",
    LINE_ENDS: "mail or an editor changed its line ends, or put a mark in front",
    SIGNATURE: "a signature does not hold, is missing, moved, or bytes were added",
    RECORD: "the record inside it was altered: its chain of digests is broken",
    FILES: "the site file or the checklist inside it is not the one that the record names",
    ALTERED: "a line, number or verdict is not what its own record gives under its own formulas",
    NEWER: (
        "written with another formula set, or of a job begun with one: it cannot be made again here"
    ),
    ANOTHER_VERSION: "written by another version of the program",
    CUT: "a longer version of it was seen here before",
    ANOTHER_SEEN: "another file was seen here before under the same id",
    OTHER_DIGEST: "it is not the file whose SHA-256 was asked for",
    PRACTICE: "no report of a real site",
    UNKNOWN_KEY: "a sign-off by a key that is not known here",
    CHANGED_KEY: "a sign-off by a known name with another key",
    SAME_KEY: "inspector and installer signed with the same key",
    REFUSED: "an inspector refused to countersign, with reasons",
    NOT_AGREED: "what an inspector read or saw does not agree with the report",
    EXCEPTION: "something stands against acceptance, as signed",
    OPEN_DEFECT: "a defect that nobody closed",
    NOT_DONE: "a required step that was not done, skipped, or marked not applicable",
    EXPIRED: "an instrument was used after its calibration was due",
    OUT_OF_ORDER: "numbers or times of entries and sign-offs go back, or are missing",
    EVIDENCE: "a photo or document in the job's folder is missing or was changed",
    TIMESTAMP: "the timestamp token beside it does not hold or could not be checked",
}
# With one of these it is not the report that was signed, or nothing of it was made again here.
DOES_NOT_HOLD: Final = (NOT_READABLE, LINE_ENDS, SIGNATURE, RECORD, FILES, ALTERED, NEWER)


@dataclass(frozen=True, slots=True)
class Finding:
    """Something to know of a report: its kind, and the problem with place and remedy."""

    kind: str
    problem: Problem


def in_order(findings: Iterable[Finding]) -> tuple[Finding, ...]:
    """Findings in the order of their kinds; of one kind as they came."""
    places = {kind: place for place, kind in enumerate(KINDS)}
    return tuple(sorted(findings, key=lambda one: places[one.kind]))
