"""The power cut after every call that a whole walk makes to the disk, and every entry cut anywhere.

The disk keeps only what was synced, or some of the rest with it: names in any combination, bytes
with holes. A killed program proves nothing here: what it wrote stays in the system's own memory.
"""

from __future__ import annotations

import random
from collections.abc import Callable
from pathlib import Path
from typing import get_args
from unittest.mock import patch

from commission import opening
from commission.crew import Hands
from commission.opening import Unheld, open_job
from commission.problems import CommissionError
from commission.record.entry import Entry, EntryType
from commission.record.folder import REPORT, Target, find_jobs, leftovers
from commission.record.journal import Journal
from commission.record.replay import replay
from commission.report.review import review
from commission.resources import checklists, samples
from commission.session import Session
from commission.user.signers import KnownSigners
from tests import walks
from tests.campaign.acts import ACTS, finish
from tests.campaign.rows import Row, place, timed, told
from tests.record.examples import (
    FOLDER,
    ONE_OF_EACH_TYPE,
    RECORD_PATH,
    answer,
    disk_with_record,
    now,
)
from tests.record.simulated_disk import SimulatedDisk
from tests.report import small

SITE = Path("/ground/garden.toml")
PHOTO = Path("/camera/box.jpg")


def run(count: int, seed: int) -> list[Row]:
    """About so many cuts in whole walks."""
    with (
        place(),
        patch.object(opening, "hold", lambda *_: Unheld()),  # locks are the system's own
        patch.object(opening, "located", located),
    ):
        return _walks(count, seed)


def located(target: Path, *_: object, **_kept: object) -> Target:
    """What a path stands for on the simulated disk; the program asks the real one."""
    return Target("site" if target == SITE else "job", target)


class WatchedDisk(SimulatedDisk):
    """A disk that is looked at after every call, as it would be found after a cut there."""

    def __init__(self) -> None:
        super().__init__()
        self.look: Callable[[], None] = lambda: None

    def done(self) -> None:
        self.look()


def new_disk(rng: random.Random) -> WatchedDisk:
    """A disk with a site, every checklist and a photo."""
    disk = WatchedDisk()
    smallest = rng.random() < 0.5
    site = small.example("site").encode() if smallest else samples()["small-garden"].read_bytes()
    disk.put(SITE, site)
    disk.put(PHOTO, b"pixels" * 99)
    for path in checklists().values():
        disk.put(path, path.read_bytes())
    return disk


def _walks(count: int, seed: int) -> list[Row]:
    rng = random.Random(seed)
    row = Row("power loss", "cuts after every call of a whole walk, what was not synced gone", seed)
    lucky = Row("power loss", "the same, some of what was not synced there all the same", seed)
    with timed(row):
        while row.times < count:
            _walk(rng, row, lucky, count)
    return [row, lucky]


def _walk(rng: random.Random, row: Row, lucky: Row, count: int) -> None:
    """One walk from a site file to a signed report, cut after every call.

    Once there were enough cuts, what is left of it is gone through, and cut only while it signs.
    """
    disk = new_disk(rng)
    session: Session | None = None
    signing = False

    def look() -> None:
        if row.times >= count and not signing:
            return
        confirmed = session.job.state.entries if session else ()
        signed = session.job.signed if session else False
        for luck in (None, random.Random(rng.random())):
            where = lucky if luck else row
            where.times += 1
            try:
                _found_again(
                    disk.after_power_cut(luck), confirmed, signed, session is not None, where
                )
            except Exception as error:  # the program must not take it for a refusal of its disk
                where.lose(told(error))

    disk.look = look
    session = open_job(SITE, disk=disk, now=walks.clock())
    session.crew.take(Hands(walks.OBSERVER, walks.WRITER, walks.METER))
    steps = list(session.job.statuses.values())
    session.attach(steps[0].step, PHOTO)
    for _ in range(min(len(steps) * 2, 120)):
        if row.times >= count:
            break
        act = rng.choices(ACTS, [one.weight for one in ACTS])[0]
        try:
            act.do(session, rng, f"text {rng.random()}")
        except CommissionError:
            continue
    finish(session)
    signing = True
    session.sign(walks.signoff(), walks.KEY)
    look()
    session.close()


def _found_again(
    disk: SimulatedDisk, confirmed: tuple[Entry, ...], signed: bool, begun: bool, row: Row
) -> None:
    """The disk after a cut: the job, every confirmed entry and the report are there."""
    jobs = find_jobs(SITE, disk)
    if not jobs:
        row.lost += begun  # the whole job
        return
    named = {SITE.name, jobs[0].path.name, *(path.name for path in leftovers(SITE.parent, disk))}
    if set(disk.names(SITE.parent)) != named:
        row.escape(f"beside the job stand {set(disk.names(SITE.parent)) - named}")
    try:
        session = open_job(jobs[0].path, disk=disk, now=walks.clock())
    except CommissionError as error:
        row.lose(f"the job can't be opened: {error}")
        return
    entries = session.job.state.entries
    if entries[: len(confirmed)] != confirmed:
        row.lose(f"of {len(confirmed)} confirmed entries: {len(entries)} are there, or others")
    if session.job.state != replay(entries):
        row.lose("the job is not what its entries amount to")
    _evidence(disk, jobs[0].path, entries, row)
    if session.job.signed:
        found = review(disk.read(jobs[0].path / REPORT), REPORT, KnownSigners())
        if found.state in ("altered", "not readable"):
            row.lose(f"the report is {found.state}")
    elif signed:
        row.lose("the report")
    session.close()


def _evidence(disk: SimulatedDisk, job: Path, entries: tuple[Entry, ...], row: Row) -> None:
    for entry in entries:
        if entry.type == "attachment" and disk.read(job / entry.file) != b"pixels" * 99:
            row.lose(f"{entry.file} is not as it was")


def run_torn(_count: int, seed: int) -> list[Row]:
    """A record cut at every byte of an entry of each kind, always all of them."""
    row = Row("power loss", "a record cut at every byte of an entry of each kind", seed)
    if set(ONE_OF_EACH_TYPE) != set(get_args(EntryType)):
        row.escape(f"kinds not tried: {set(get_args(EntryType)) - set(ONE_OF_EACH_TYPE)}")
    with timed(row):
        earlier = disk_with_record(answer()).read(RECORD_PATH)
        for kind, entry in ONE_OF_EACH_TYPE.items():
            whole = disk_with_record(answer(), entry).read(RECORD_PATH)
            for cut in range(len(earlier), len(whole) + 1):
                row.times += 1
                _cut(earlier, whole, cut, kind, row)
    return [row]


def _cut(earlier: bytes, whole: bytes, cut: int, kind: str, row: Row) -> None:
    disk = SimulatedDisk()
    disk.put(RECORD_PATH, whole[:cut])
    opened = Journal.open(RECORD_PATH, disk, now)
    opened.journal.close()
    types = [entry.type for entry in opened.entries]
    torn = earlier < whole[:cut] < whole
    wanted = ["answer", kind] if cut == len(whole) else ["answer", *["recovery"] * torn]
    if types != wanted:
        row.lose(f"{kind} cut at byte {cut}: {types}")
    elif torn and disk.read(FOLDER / opened.entries[-1].file) != whole[len(earlier) : cut]:
        row.lose(f"{kind} cut at byte {cut}: what was set aside")
