"""Who was at work last, and with which instrument: `at-work.toml`; it never fails."""

from __future__ import annotations

import contextlib
from dataclasses import asdict, dataclass

from commission.problems import CommissionError
from commission.user.folder import data_folder

KIND = "commission people at work"
FORMAT = 1
FILE = "at-work.toml"


@dataclass(frozen=True, slots=True)
class AtWork:
    """Names, and the id of an instrument; each "" when there was none."""

    entered_by: str = ""
    observed_by: str = ""
    instrument: str = ""


def last_at_work() -> AtWork:
    """Those of the last time; nobody when that is not known."""
    from commission.user import tables
    from commission.user.file_shapes import AtWorkFile

    try:
        found = tables.read(data_folder() / FILE, AtWorkFile, KIND, FORMAT)
    except CommissionError:
        return AtWork()
    if found is None:
        return AtWork()
    return AtWork(found.entered_by, found.observed_by, found.instrument)


def remember_at_work(at_work: AtWork) -> None:
    """Keep them for the next new job; a refusing disk is ignored."""
    from commission.user import tables
    from commission.user.file_shapes import AtWorkFile

    whole = {"kind": KIND, "format": FORMAT, **asdict(at_work)}
    with contextlib.suppress(CommissionError, OSError):
        tables.write(data_folder() / FILE, AtWorkFile, whole)
