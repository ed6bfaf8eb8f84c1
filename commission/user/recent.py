"""Jobs opened lately by this user: `recent.toml`, newest first. A convenience: it never fails."""

from __future__ import annotations

import os
from dataclasses import asdict, dataclass
from datetime import datetime
from pathlib import Path

from commission.problems import CommissionError
from commission.user import tables
from commission.user.file_shapes import RecentFile
from commission.user.folder import data_folder

KIND = "commission recent jobs"
FORMAT = 1
FILE = "recent.toml"
MAX_RECENT = 20


@dataclass(frozen=True, slots=True)
class Recent:
    """A job's folder and when it was last opened."""

    folder: Path
    opened_at: datetime


def recent_jobs() -> tuple[Recent, ...]:
    """Jobs opened lately, newest first, without those whose folder has gone."""
    return tuple(one for one in _kept() if os.path.isdir(one.folder))


def remember_job(folder: Path, opened_at: datetime) -> None:
    """Put a job first in the list; an unreadable list starts again, a refusing disk is ignored."""
    folder = folder.absolute()
    others = [one for one in _kept() if one.folder != folder]
    newest = [Recent(folder, opened_at), *others][:MAX_RECENT]
    rows = [asdict(one) | {"folder": str(one.folder)} for one in newest]
    try:
        whole = {"kind": KIND, "format": FORMAT, "job": rows}
        tables.write(data_folder() / FILE, RecentFile, whole)
    except (CommissionError, OSError):
        return


def _kept() -> list[Recent]:
    try:
        found = tables.read(data_folder() / FILE, RecentFile, KIND, FORMAT)
    except CommissionError:
        return []
    return [Recent(Path(row.folder), row.opened_at) for row in found.job] if found else []
