"""An inspection as it is added to the report that it inspects: pure, from the inspector's job.

The earlier report's bytes stand first and are never written anew. Below them `[[inspection]]` says
what the inspector found beside what the installer had found, and holds the inspector's record and
checklist, so that all of it can be made again; the site file is that of the report.
"""

from __future__ import annotations

from typing import Any

from commission import __version__
from commission.checklist.schema import JOB_KIND_WORDS
from commission.job import Job
from commission.report import history, sections
from commission.report.document import HEADINGS
from commission.report.layout import toml_text
from commission.report.second import HOW, second_readings
from commission.report.signoff import SignOff, later_signoff_table
from commission.verdict.progress import exceptions, verdict_of_whole

HISTORY_LINE = b"[[inspection.history]]"


def inspection_bytes(
    before: bytes, number: int, job: Job, signoff: SignOff, program: str = __version__
) -> bytes:
    """A report with an inspection of it and its sign-off, up to the line that counts its bytes.

    `before` is the report that the job follows; `number` that of the sign-off. The same job,
    sign-off and program give the same bytes.
    """
    if job.earlier is None:
        raise ValueError("this inspection follows no report")
    accepted = tuple(one.words for one in exceptions(job))
    signed = later_signoff_table(number, job.earlier.header.job, signoff, before, accepted)
    text = (
        toml_text({"inspection": [_table(job, job.earlier, program)]}, HEADINGS)
        + history.history_text(job, HISTORY_LINE)
        + toml_text({"signoff": [signed]}, {})
    )
    return before + text.encode("utf-8")


def _table(job: Job, earlier: Job, program: str) -> dict[str, Any]:
    """All of an inspection but its entries."""
    header, found = job.header, exceptions(job)
    second = list(second_readings(earlier, job))
    agree = [one.agrees for one in second]
    table: dict[str, Any] = {
        "verdict": verdict_of_whole(found),
        "exceptions": len(found),
        "job": header.job,
        "kind": JOB_KIND_WORDS[header.job_kind],
        "checklist": job.checklist.title,
        "created_at": header.created_at,
        "program": program,
        "formula_set": header.formula_set,
        "entries": len(job.state.entries),
        "agree": agree.count(True),
        "differ": agree.count(False),
        "remark": HOW,
        "comparison": [one.table for one in second],
        "exception": sections.exception_tables(job),
        "evidence": sections.evidence_tables(job),
        "record": history.record_table(job),
        "files": {"checklist": job.checklist_text},
    }
    return {key: value for key, value in table.items() if value != []}
