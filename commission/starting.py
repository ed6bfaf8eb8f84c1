"""What there is to go on with: jobs opened lately as they stand, and site files at hand."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from commission.checklist.schema import JOB_KIND_WORDS
from commission.electrical.network import CollapseError
from commission.opening import read_job
from commission.problems import CommissionError
from commission.resources import samples
from commission.toml_place import HEAD_BYTES, stated_kind
from commission.verdict.judge import FAIL, MARGINAL

if TYPE_CHECKING:
    from commission.host import Disk

_MAX_FILES = 200  # a folder of thousands is not looked through


@dataclass(frozen=True, slots=True)
class AtHand:
    """One job opened lately. `problem` says why it cannot be read; then nothing else is known."""

    folder: Path
    site: str = ""
    kind: str = ""
    practice: bool = False
    signed: bool = False
    steps: int = 0
    done: int = 0
    failed: int = 0
    marginal: int = 0
    problem: str = ""


def at_hand(folder: Path, disk: Disk) -> AtHand:
    """A job as it stands on disk; reads only, and never fails."""
    try:
        job = read_job(folder, disk)
    except (CommissionError, CollapseError) as error:
        return AtHand(folder, problem=str(error).splitlines()[0])
    statuses = job.statuses.values()
    return AtHand(
        folder=folder,
        site=job.site.site.name,
        kind=JOB_KIND_WORDS.get(job.header.job_kind, job.header.job_kind),
        practice=job.header.practice,
        signed=job.signed,
        steps=len(statuses),
        done=sum(one.state != "open" for one in statuses),
        failed=sum(one.verdict == FAIL for one in statuses),
        marginal=sum(one.verdict == MARGINAL for one in statuses),
    )


def sites_here(folder: Path) -> tuple[Path, ...]:
    """The site files of a folder, by name; empty where it cannot be read."""
    try:
        files = sorted(folder.glob("*.toml"))[:_MAX_FILES]
        return tuple(path for path in files if path.is_file() and _is_site(path))
    except OSError:
        return ()


def _is_site(path: Path) -> bool:
    with path.open("rb") as file:
        return stated_kind(file.read(HEAD_BYTES)) == "commission site"


def sample_names() -> tuple[str, ...]:
    """The invented sites that come with the program."""
    return tuple(samples())
