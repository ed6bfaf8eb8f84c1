"""A signed report for paper, and the file that it goes to when none is named.

Paper outlives every warning: what was altered, cannot be read, or cannot be made again here is
refused with what the review says, and not printed.
"""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from commission.problems import InputRefused
from commission.text import visible

if TYPE_CHECKING:
    from commission.host import Disk


def of_report(path: Path, kind: str | None, disk: Disk) -> tuple[str, Path]:
    """The sheet of a report. Raises InputRefused for one that does not hold."""
    from commission.asked import read_file
    from commission.commands.review import Desk
    from commission.printing.handover_sheet import handover_sheet
    from commission.record.journal import RECORD
    from commission.report import finding as kinds
    from commission.report.examined import examined

    shown = visible(str(path))
    if kind is not None:
        raise InputRefused("--job goes with a site: a report has its kind already")
    review = Desk(disk, None).reviewed(path, shown, "")
    seen = examined(read_file(disk, path), shown, quick=True)
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
