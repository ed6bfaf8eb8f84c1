"""A report made again from the record and the files inside it, and what differs from it.

The same function that wrote a report writes it again: whatever was altered in between, a verdict,
an exception, a digit, is a line that differs. Nothing but the report's own bytes is needed.
"""

from __future__ import annotations

import tomllib
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from itertools import zip_longest
from pathlib import Path
from typing import Any, Literal

from commission import __version__
from commission.checklist.load import parse_checklist
from commission.checklist.plan import build_plan
from commission.electrical.sources import FORMULA_SET
from commission.expected.sheet import Sheet
from commission.job import Job
from commission.problems import Problem
from commission.record.entry import Entry
from commission.record.replay import replay
from commission.redrawn import redrawn
from commission.report.agreement import first_apart, lines_agree
from commission.report.document import report_bytes
from commission.report.effort import (
    refuse_too_changed,
    refuse_too_large,
    refuse_too_long,
    refuse_too_much_told,
)
from commission.report.history import entries_of, header_of
from commission.report.seal import ends, uncounted
from commission.report.signoff import TYPED, SignOff
from commission.search import with_search
from commission.site.load import parse_site
from commission.survey import with_survey
from commission.text import visible

_SHOWN = 60  # characters of a line that are quoted
_BEFORE = 20  # of them, before the first that differs
_END = "the end of the file"


def job_of(
    report: Mapping[str, Any],
    name: str,
    *,
    quick: bool = False,
    known_good: bool = False,
    entries: tuple[Entry, ...] | None = None,
) -> Job:
    """The job that a report was written from, by what stands in the report alone.

    Raises InputRefused for an embedded file that cannot be used; when it has to be `quick`, also
    for a site that takes more than a moment to compute. A report that was looked at before is
    `known_good`: its files are not judged once more. `entries` are its own, where they are at hand.
    """
    files = report["files"]
    drawn, listed = files["site"].encode("utf-8"), files["checklist"].encode("utf-8")
    site = parse_site(drawn, f"{name}: files.site", known_good=known_good)
    checklist = parse_checklist(listed, f"{name}: files.checklist", known_good=known_good)
    sheet = Sheet(site)
    if quick:
        refuse_too_large(sheet, name)
        refuse_too_long(checklist, sheet, name)
    plan = build_plan(checklist, site, sheet.drawing.trees, sheet.worst_sets)
    entries = entries_of(report) if entries is None else entries
    state = replay(entries)
    if quick:
        refuse_too_much_told(state, plan, site, name)
    plan = with_survey(plan, site, state)
    job = Job(
        folder=Path(),
        header=header_of(report),
        site=site,
        checklist=checklist,
        plan=with_search(plan, site, (entry.step for entry in entries)),
        sheet=sheet,
        state=state,
        signed=True,
        site_text=files["site"],
        checklist_text=files["checklist"],
    )
    if quick:
        refuse_too_changed(sum(1 for entry in entries if entry.redraws), site, name)
    return redrawn(job, known_good=known_good)


_FIRST = b"\n[[signoff]]\nnumber = 1\n"
_COUNT = b"\nsigned_bytes = "


def signoff_of(report: Mapping[str, Any]) -> SignOff:
    """The first sign-off of a report as it was typed."""
    first = report["signoff"][0]
    return SignOff(**{key: first[key] for key in TYPED})


def unsealed(content: bytes) -> bytes:
    """The bytes of a report up to the line that counts what its first signature covers.

    By how it is written; where that line says how many, `seal.uncounted` goes by what it says.
    """
    end = content.find(_COUNT, max(0, content.rfind(_FIRST)))
    return content if end < 0 else content[: end + 1]


@dataclass(frozen=True, slots=True)
class MadeAgain:
    """What making a report again showed, and the problem that says so.

    What is the same may be so in other digits; `exact` tells that not a byte differs.
    """

    state: Literal["same", "altered", "newer formulas", "another version"]
    problem: Problem | None = None
    exact: bool = False


def made_again(
    report: Mapping[str, Any],
    content: bytes,
    name: str,
    job: Job,
    blocks: Sequence[bytes] | None = None,
) -> MadeAgain:
    """Whether a report is what this program makes of its record and sign-off.

    `blocks` are the entries of its record as that has them, where they are at hand.

    Equal bytes are the quickest answer; else numbers may differ in their last digits, as another
    machine computes them, and all else must be equal. What another version of the program wrote
    under the same formulas may be in other words; its numbers and verdicts must agree.
    """
    program = report["job"]["program"]
    again = report_bytes(job, signoff_of(report), str(program), blocks)
    first = report["signoff"][0]
    stands = uncounted(content, first) if ends(content, [first]) else unsealed(content)
    return compared(stands, again, program, name, job)


def compared(stands: bytes, again: bytes, program: object, name: str, job: Job) -> MadeAgain:
    """Whether what stands in a report is what this program makes, as `made_again` tells it.

    `program` is the version that wrote it, by its own word; `job` the job that it tells of.
    """
    difference = first_difference(stands, again, name)
    if difference is None and program in (__version__, job.header.program):
        # The version in the record's header is sealed by its digest.
        return MadeAgain("same", exact=stands == again)
    if program == __version__:
        return MadeAgain("altered", difference)
    words = f"written with another version of the program ({_said(program)}; this is {__version__})"
    if difference is None:
        words += "; all else stands as this one writes it"
        return MadeAgain("same", Problem(name, words, "job.program"))
    tables = [tomllib.loads(one.decode("utf-8")) for one in (stands, again)]
    place = first_apart(tables[0], tables[1])
    if place:
        words += f"; {_said(place)} is another one under the same formulas: altered"
    else:
        words += f", which may be why line {difference.line} is not what this one writes"
    problem = Problem(name, words, "job.program", difference.line, check_with(program))
    return MadeAgain("altered" if place else "another version", problem)


def other_formulas(report: Mapping[str, Any], name: str) -> Problem | None:
    """That a report was written with another formula set, and so can't be made again here."""
    made_with = report["constants"]["formula_set"]
    if type(made_with) is int and made_with == FORMULA_SET:
        return None
    words = (
        f"written with another formula set ({_said(made_with)}; this program has "
        f"{FORMULA_SET}): what stands above the record cannot be made again here"
    )
    return Problem(
        name, words, "constants.formula_set", remedy=check_with(report["job"]["program"])
    )


def _said(value: object) -> str:
    return visible(str(value), _SHOWN)


def check_with(program: object) -> str:
    """What to do about a report of another version."""
    return f"check it with version {_said(program)} of the program"


def first_difference(content: bytes, again: bytes, name: str) -> Problem | None:
    """The first line that differs: which, what stands there, and what should; None for none."""
    if content == again:
        return None
    pairs = zip_longest(_lines(content), _lines(again), fillvalue=_END)
    for number, (stands, should) in enumerate(pairs, start=1):
        if lines_agree(stands, should):
            continue
        at = next(
            (n for n, (a, b) in enumerate(zip(stands, should, strict=False)) if a != b),
            min(len(stands), len(should)),
        )
        words = (
            f"altered: {_quoted(stands, at)} stands where the record gives {_quoted(should, at)}"
        )
        return Problem(name, words, line=number)
    return None


def _lines(content: bytes) -> list[str]:
    return content.decode("utf-8", "backslashreplace").split("\n")


def _quoted(line: str, at: int) -> str:
    """The part of a line around a character; as it is in the file, with what is hidden shown.

    That character is shown by its code point where it may look like another.
    """
    if line is _END:
        return _END
    start = max(0, at - _BEFORE) if len(line) > _SHOWN else 0
    dots, here = "..." if start else "", line[at : at + 1]
    if not here.isascii():
        here = f"<U+{ord(here):04X}>"
    rest = visible(line[at + 1 :], max(0, start + _SHOWN - at - 1))
    return f"«{dots}{visible(line[start:at])}{visible(here)}{rest}»"
