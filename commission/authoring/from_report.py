"""The site file for the next phase, from what an earlier report holds."""

from __future__ import annotations

import hashlib
from collections.abc import Iterator, Mapping
from typing import Any

from commission.problems import InputRefused
from commission.report.finding import ANOTHER_VERSION, NEWER, SOUND
from commission.report.layout import comment
from commission.report.reading import examined
from commission.text import visible


def site_of_report(content: bytes, name: str) -> str:
    """The site file that a report holds, below a head that says where it comes from.

    What was found otherwise on site stands in the head. Raises InputRefused for a report that does
    not hold what was signed.
    """
    seen = examined(content, name)
    if seen.report is None or seen.state not in (SOUND, NEWER, ANOTHER_VERSION):
        problems = [finding.problem for finding in seen.findings]
        raise InputRefused(problems or f"{visible(name)} is no report that can be relied on")
    text: str = seen.report["files"]["site"]
    head = "\n".join(line for words in _head(content, seen.report) for line in comment(words))
    return f"{head}\n\n{text}"


def _head(content: bytes, report: Mapping[str, Any]) -> Iterator[str]:
    yield f"From report {report['report']}, SHA-256 {hashlib.sha256(content).hexdigest()}"
    yield "Its site file follows as it was signed."
    changes = report.get("change", [])
    if changes:
        yield "LOOK AGAIN: found otherwise on site, and to be put in below:"
    for one in changes:
        told = {key: str(one.get(key, "")) for key in ("subject", "before", "after", "why")}
        yield f"- {told['subject']}: {told['before']} is {told['after']} ({told['why']})"
