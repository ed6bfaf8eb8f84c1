"""The reports that this user has seen: of each the longest version, and its earlier ones.

A report cut after an earlier sign-off is sound in itself: only who saw the longer one can tell.
What was seen first under an id stays; a file that does not go on from it never replaces it.
"""

from __future__ import annotations

import hashlib
from collections.abc import Mapping, Sequence
from dataclasses import asdict, dataclass
from datetime import datetime
from pathlib import Path
from typing import Any

from commission.user.folder import data_folder

KIND = "commission seen reports"
FORMAT = 1
FILE = "seen-reports.toml"
MAX_SEEN = 5_000  # reports; those seen longest ago are left out first


@dataclass(frozen=True, slots=True)
class SeenVersion:
    """A report up to the end of one sign-off."""

    signoffs: int
    bytes: int
    sha256: str


@dataclass(frozen=True, slots=True)
class SeenReport:
    """The versions of one report, the longest last, and when that was first seen."""

    report: str
    seen_at: datetime
    version: tuple[SeenVersion, ...]

    @property
    def longest(self) -> SeenVersion:
        """The longest version seen."""
        return self.version[-1]

    def is_earlier(self, sha256: str) -> SeenVersion | None:
        """The earlier version that has this digest; None for the longest and for any other."""
        return next((one for one in self.version[:-1] if one.sha256 == sha256), None)

    def goes_on_in(self, content: bytes) -> bool:
        """Whether a file is the longest version, or goes on from it."""
        start = content[: self.longest.bytes]
        return hashlib.sha256(start).hexdigest() == self.longest.sha256


def seen_file() -> Path:
    """Where seen reports are remembered."""
    return data_folder() / FILE


def load_seen() -> dict[str, SeenReport]:
    """Every report seen, by its id; raises InputRefused with the problems of the file."""
    from commission.user import tables
    from commission.user.file_shapes import SeenFile

    found = tables.read(seen_file(), SeenFile, KIND, FORMAT)
    if found is None:
        return {}
    return {
        row.report: SeenReport(
            row.report, row.seen_at, tuple(SeenVersion(**one.model_dump()) for one in row.version)
        )
        for row in found.seen
    }


def with_seen(
    seen: Mapping[str, SeenReport], report: str, versions: Sequence[SeenVersion],
    content: bytes, now: datetime,
) -> dict[str, SeenReport]:  # fmt: skip
    """What was seen, and one more sound report; nothing changes where it does not go on."""
    earlier = seen.get(report)
    if earlier and (len(content) <= earlier.longest.bytes or not earlier.goes_on_in(content)):
        return dict(seen)
    others = {key: one for key, one in seen.items() if key != report}
    return {**others, report: SeenReport(report, now, tuple(versions))}


def keep_seen(seen: Mapping[str, SeenReport]) -> None:
    """Write the register whole, with what other reviews kept since it was read.

    What they saw stays where a report of ours does not go on from it. Raises CouldNotWrite,
    InputRefused.
    """
    from commission.user import tables
    from commission.user.file_shapes import SeenFile

    kept = load_seen()
    for key, one in seen.items():
        other = kept.get(key)
        if other is None or other.longest in one.version:
            kept[key] = one
    newest = sorted(kept.values(), key=lambda one: one.seen_at.timestamp())[-MAX_SEEN:]
    rows: list[dict[str, Any]] = [asdict(one) for one in newest]
    tables.write(seen_file(), SeenFile, {"kind": KIND, "format": FORMAT, "seen": rows})
