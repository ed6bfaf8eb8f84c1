"""What is taken along on paper: its page, and the file that it goes to when none is named."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from commission.problems import InputRefused
from commission.text import visible

if TYPE_CHECKING:
    from commission.checklist.plan import Step
    from commission.expected.values import Expectation
    from commission.host import Disk


def of_site(path: Path, kind: str | None, disk: Disk) -> tuple[str, Path]:
    """The sheet of all steps of a kind of job at a site; a new installation without a kind."""
    from commission.asked import Asked, read_file, refuse_unknown_kind
    from commission.checklist.load import parse_checklist
    from commission.checklist.plan import build_plan
    from commission.expected.sheet import Sheet
    from commission.opening import standard_checklist
    from commission.printing.blank import Blank
    from commission.printing.blank_sheet import blank_sheet
    from commission.site.load import parse_site

    refuse_unknown_kind(Asked(str(path), kind, new=False, checklist=None))
    listed = standard_checklist(kind or "new", disk)
    site = parse_site(read_file(disk, path), path.name)
    checklist = parse_checklist(read_file(disk, listed), listed.name)
    sheet = Sheet(site)
    plan = build_plan(checklist, site, sheet.drawing.trees, sheet.worst_sets)

    def expectation(step: Step) -> Expectation | None:
        return sheet.expectation(step.item.compare, step.target) if step.item.compare else None

    blank = Blank(site, checklist.job, plan, plan.steps, expectation)
    return blank_sheet(blank), path.with_name(f"{path.stem}-sheet.html")


def of_job(path: Path, kind: str | None, disk: Disk) -> tuple[str, Path]:
    """The sheet of what is open in a job, or to be done again."""
    from commission.opening import read_job
    from commission.printing.blank import open_in
    from commission.printing.blank_sheet import blank_sheet

    if kind is not None:
        raise InputRefused("--job goes with a site: a job has its kind already")
    job = read_job(path, disk)
    shown = visible(str(path))
    if job.signed:
        raise InputRefused(f"{shown} is signed: nothing is open in it")
    blank = open_in(job)
    if not blank.steps:
        raise InputRefused(f"nothing is open in {shown}")
    folder = path.absolute()
    return blank_sheet(blank), folder.with_name(f"{folder.name}-sheet.html")


def of_report(path: Path, kind: str | None, disk: Disk) -> tuple[str, Path]:
    """The owner's sheet of a signed report. Raises InputRefused for one that does not hold.

    Paper outlives every warning: what was altered, cannot be read, or cannot be made again here is
    refused with what the review says, and not printed.
    """
    from commission.printing.handover_sheet import handover_sheet
    from commission.record.journal import RECORD
    from commission.report import finding as kinds
    from commission.reviewing import Desk

    shown = visible(str(path))
    if kind is not None:
        raise InputRefused("--job goes with a site: a report has its kind already")
    review, seen = Desk(disk, None).and_examined(path, shown, "")
    holds = seen.state in (kinds.SOUND, kinds.ANOTHER_VERSION) and review.state == seen.state
    if not holds or review.of(kinds.LINE_ENDS) or seen.report is None or seen.job is None:
        said = [str(one.problem) for one in review.findings if one.kind in kinds.DOES_NOT_HOLD]
        remedy = "commission review tells all of it"
        raise InputRefused("\n".join([f"{shown} is not printed:", *said, remedy]))
    sheet = handover_sheet(seen.report, review, seen.job)
    folder = path.absolute().parent
    if (folder / RECORD).exists():  # nothing is put into a job's folder
        return sheet, folder.with_name(f"{folder.name}-report.html")
    return sheet, path.with_suffix(".html")
