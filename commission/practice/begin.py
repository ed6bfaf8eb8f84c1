"""A practice is begun: the site, its checklist and its job in the user's folder, and the truth."""

from __future__ import annotations

import random
from collections.abc import Callable
from datetime import datetime
from pathlib import Path

from commission.host import Disk, write_atomically
from commission.opening import open_job
from commission.practice.checklist import practice_checklist
from commission.practice.site import site_text
from commission.practice.truth import LEVELS, Difficulty, Truth, hidden, keep
from commission.problems import InputRefused
from commission.resources import checklists
from commission.session import Session
from commission.site.load import parse_site
from commission.user.folder import data_folder, make_private

SITE, CHECKLIST = "practice.toml", "practice-checklist.toml"
MAX_FAULTS = 3


def begin(
    faults: int,
    difficulty: Difficulty,
    number: int,
    *,
    disk: Disk,
    now: Callable[[], datetime],
    folder: Path | None = None,
) -> Session:
    """Begin a practice with so many hidden faults; the same number gives the same practice.

    In a new folder of the user's, or in the empty one given. Raises InputRefused, CouldNotWrite.
    """
    if not 1 <= faults <= MAX_FAULTS:
        raise InputRefused(f"1 to {MAX_FAULTS} faults can be hidden")
    rng, level = random.Random(number), LEVELS[difficulty]
    content = site_text(rng, rng.randint(*level.boxes), number).encode("utf-8")
    truth = Truth(number, hidden(rng, parse_site(content, SITE), level, faults))
    place = make_private(folder or _free(number))
    listed = practice_checklist(checklists()["new-installation"].read_text("utf-8"))
    write_atomically(disk, place / SITE, content)
    write_atomically(disk, place / CHECKLIST, listed.encode("utf-8"))
    session = open_job(place / SITE, kind="new", checklist=place / CHECKLIST, disk=disk, now=now)
    try:
        keep(disk, session.job.folder, truth)
    except BaseException:
        session.close()
        raise
    return session


def _free(number: int) -> Path:
    """A folder that is not there yet."""
    base = data_folder() / "practice"
    names = (base / f"{number}-{again}" for again in range(1, 10_000))
    return next(path for path in names if not path.exists())
