"""The site file for the next phase, from what an earlier report holds."""

from __future__ import annotations

import hashlib
from collections.abc import Iterator, Mapping, Sequence
from functools import partial
from typing import Any

from commission.authoring.copied import with_kinds
from commission.problems import InputRefused
from commission.redrawn import as_found_text, redrawing
from commission.report.examined import examined
from commission.report.finding import ANOTHER_VERSION, NEWER, SOUND
from commission.report.layout import comment
from commission.resources import with_schema_hint
from commission.text import visible

_TAKEN = "as it was taken on site"


def site_of_report(content: bytes, name: str) -> str:
    """The site file as found that a report holds, below a head that says where it comes from.

    What was noted on site and changed no drawing stands in the head. Raises InputRefused for a
    report that does not hold what was signed.
    """
    seen = examined(content, name)
    if seen.report is None or seen.state not in (SOUND, NEWER, ANOTHER_VERSION):
        problems = [finding.problem for finding in seen.findings]
        raise InputRefused(problems or f"{visible(name)} is no report that can be relied on")
    if seen.job is None:  # of other formulas: what was found otherwise can't be put in here
        text, changes = str(seen.report["files"]["site"]), seen.report.get("change", [])
    else:
        text = as_found_text(seen.job, partial(with_kinds, where=_TAKEN))
        drawn = {entry.number for entry in redrawing(seen.job)}
        told = seen.report.get("change", [])
        changes = [one for one in told if one.get("entry") not in drawn]
    head = "\n".join(
        line for words in _head(content, seen.report, changes) for line in comment(words)
    )
    return f"{head}\n\n{with_schema_hint(text)}"


def _head(
    content: bytes, report: Mapping[str, Any], changes: Sequence[Mapping[str, Any]]
) -> Iterator[str]:
    yield f"From report {report['report']}, SHA-256 {hashlib.sha256(content).hexdigest()}"
    yield "Its site file follows, with the changes of the drawing that were found on site."
    if changes:
        yield "LOOK AGAIN: noted on site, and to be put in below by hand:"
    for one in changes:
        told = {key: str(one.get(key, "")) for key in ("subject", "before", "after", "why")}
        yield f"- {told['subject']}: {told['before']} is {told['after']} ({told['why']})"
