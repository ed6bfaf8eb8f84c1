"""The report of a job: one dictionary, laid out as TOML, and written in one piece.

A person reads it from top to bottom without the program: verdict and exceptions first, sign-offs
last. A program recomputes it from `[inputs]`, `[[history]]` and the exact texts of both files.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import TYPE_CHECKING, Any

from commission import __version__
from commission.checklist.schema import JOB_KIND_WORDS
from commission.job import Job, Status
from commission.problems import InputRefused, StepRefused
from commission.report import history, inputs, sections
from commission.report.buried import register_table
from commission.report.constants import constants_table
from commission.report.drawing import drawing_table
from commission.report.layout import comment, toml_text
from commission.report.seal import Signer, as_text, sealed
from commission.report.signoff import SignOff, signoff_table
from commission.report.working import working_tables
from commission.verdict.progress import HandoverException, exceptions, verdict_of_whole

if TYPE_CHECKING:
    from commission.host import Disk

KIND = "commission report"
FORMAT = 1
NAME = "report.toml"
DRAFT = "DRAFT: not signed; anything in it may still change"
PRACTICE = "PRACTICE: made to learn or to try the program; it says nothing about a real site"
PREVAILS = "as first signed; the sign-offs at the end prevail"
AGAINST = "What stands against acceptance"
HEADINGS = {
    "exception": f"{AGAINST}, each named",
    "job": "The job",
    "site": "The site",
    "person": "People",
    "instrument": "Instruments, as used",
    "stage": "Work on the job as a whole and at the outputs",
    "earth": "Earth",
    "path": "The paths: ends with expected, range, measured and verdict; boxes; stations",
    "worst_set": "The worst set: the stations run together",
    "works": "Will it work: lowest mains, warmest soil, what was read taken into account",
    "carries": "Will the output carry it: the most that may run at once, at nominal mains",
    "defect": "Defects, with what happened to each",
    "change": "Changes to the drawing",
    "drawing": "The drawing as designed and as found",
    "evidence": "Photos and documents, kept in the job's folder",
    "register": "Register of what is buried",
    "inputs": "Inputs and resolved defaults, SI: everything can be recomputed from here on",
    "constants": "Numbers that no site file sets, and how a verdict follows from a reading",
    "conductor": "What each cable kind resolved to, per metre of one conductor",
    "conditions": "Readings that later expectations depend on",
    "working": "Voltages at lowest mains and warmest soil: at the coil, and by the chart rule",
    "expectation": "The expectations used, SI, with formula, inputs and budget of uncertainty",
    "record": "The record: its header, then every entry as it was written, chained by digests",
    "files": "The files that the job was made from, exactly",
    "inspection": "An inspection of all that stands above, and who signs it",
    "signoff": "Sign-offs",
}

NOTHING_AGAINST = {**HEADINGS, "job": f"{AGAINST}: nothing\n\n{HEADINGS['job']}"}


def report_document(
    job: Job, signoff: SignOff | None = None, program: str = __version__
) -> dict[str, Any]:
    """The whole report as a dictionary; pure. Without a sign-off it says that it is a draft.

    `program` is the version that it says it was written by.
    """
    found = exceptions(job)
    tables = {"history": history.entry_tables(job), "signoff": _signoffs(job, signoff, found)}
    return _above(job, signoff, program, found) | {k: v for k, v in tables.items() if v}


def _above(
    job: Job, signoff: SignOff | None, program: str, found: Sequence[HandoverException]
) -> dict[str, Any]:
    """All that stands above the record's entries."""
    header = job.header
    document: dict[str, Any] = {"kind": KIND, "format": FORMAT}
    if header.practice:
        document["practice"] = PRACTICE
    if signoff is None:
        document["draft"] = DRAFT
    document |= {
        "verdict": verdict_of_whole(found),
        "verdict_remark": PREVAILS,
        "exceptions": len(found),
        "report": header.job,
        "exception": sections.exception_tables(job),
        "job": {
            "kind": JOB_KIND_WORDS[header.job_kind],
            "checklist": job.checklist.title,
            "created_at": header.created_at,
            "program": program,
            "formula_set": header.formula_set,
            "entries": len(job.state.entries),
        },
        "site": sections.site_table(job),
        "person": sections.person_tables(job),
        "instrument": sections.instrument_tables(job),
    }
    document |= _work(job)
    document |= {
        "defect": sections.defect_tables(job),
        "change": sections.change_tables(job),
        "drawing": drawing_table(job),
        "evidence": sections.evidence_tables(job),
        "register": register_table(job),
        "inputs": inputs.inputs_table(job.site),
        "constants": constants_table(job.sheet),
        "conductor": inputs.conductor_tables(job.sheet),
        "conditions": sections.condition_table(job),
        "working": working_tables(job.sheet),
        "expectation": sections.expectation_tables(job),
        "record": history.record_table(job),
        "files": history.files_table(job),
    }
    return {key: value for key, value in document.items() if value not in ([], {})}


def _signoffs(
    job: Job, signoff: SignOff | None, found: Sequence[HandoverException]
) -> list[dict[str, Any]]:
    """The first sign-off, but for its two last lines; none of a draft."""
    if signoff is None:
        return []
    accepted = tuple(exception.words for exception in found)
    return [signoff_table(job.header.job, signoff, accepted)]


def _work(job: Job) -> dict[str, Any]:
    """Every step that applies, at the place where a reader looks for it."""
    parts: dict[str, list[Status]] = {"stage": [], "earth": [], "worst": []}
    paths: dict[str, list[Status]] = {path.id: [] for path in job.site.path}
    for status in job.statuses.values():
        target = status.step.target
        if sections.is_earth(status):
            parts["earth"].append(status)
        elif target.scope == "worst-set":
            parts["worst"].append(status)
        elif target.path:
            paths[target.path].append(status)
        else:
            parts["stage"].append(status)
    return {
        "earth": sections.earth_table(job, parts["earth"]),
        "stage": sections.stage_tables(job, parts["stage"]),
        "path": [sections.path_table(job, path, paths[path.id]) for path in job.site.path],
        "worst_set": sections.worst_set_tables(job, parts["worst"]),
        "works": sections.works_tables(job),
        "carries": sections.carries_tables(job),
    }


def report_text(
    job: Job,
    signoff: SignOff | None = None,
    program: str = __version__,
    blocks: Sequence[bytes] | None = None,
) -> str:
    """The report as TOML text, its signature left out.

    The same job, sign-off and program give the same text. `blocks` are the entries as the record
    has them, where they are at hand.
    """
    site = job.site.site
    top = [f"Commissioning report: {site.name}"]
    if job.header.practice:
        top.insert(0, PRACTICE)
    if signoff is None:
        top.insert(0, DRAFT)
    if site.invented:
        top.append("The site and everything on it is invented.")
    top.append(
        "Values are text for people with SI numbers beside them; a name ends in its unit. Local"
    )
    top.append("codes and the authority having jurisdiction decide; limits here are defaults.")
    head = "\n".join(line for text in top for line in comment(text))
    found = exceptions(job)
    body = toml_text(_above(job, signoff, program, found), HEADINGS if found else NOTHING_AGAINST)
    entries = history.history_text(job, blocks=blocks)
    if entries:
        entries = "\n# Every entry, as it was written\n" + entries
    signed = _signoffs(job, signoff, found)
    return f"{head}\n{body}{entries}{toml_text({'signoff': signed}, HEADINGS) if signed else ''}"


def report_bytes(
    job: Job,
    signoff: SignOff,
    program: str = __version__,
    blocks: Sequence[bytes] | None = None,
) -> bytes:
    """What the first signature covers, but for the line that counts it: UTF-8, one line end."""
    return report_text(job, signoff, program, blocks).encode("utf-8")


def draft_text(job: Job) -> str:
    """The report as it would read now, unsigned."""
    return report_text(job)


def write_signed(disk: Disk, job: Job, signoff: SignOff, signer: Signer) -> None:
    """Write the signed report whole, never in place of another.

    Raises StepRefused (signed already), InputRefused (exceptions not accepted, or nobody named),
    CouldNotWrite.
    """
    from commission.host import stands_there, write_first

    signoff.refuse_unnamed()
    path = job.folder / NAME
    if stands_there(disk, path):
        raise StepRefused(["this report is signed and is never re-opened; start a new job"])
    if exceptions(job) and not signoff.accepted_exceptions:
        raise InputRefused("whoever signs accepts the exceptions listed above the signature")
    signoff = replace(signoff, public_key=as_text(signer.public_key))
    write_first(disk, path, sealed(report_bytes(job, signoff), signer))
