"""A disk that refuses, a folder that goes away, a record changed by another hand, a jumping clock.

Each refusal is told in words and changes nothing; the same call works once the disk does.
"""

from __future__ import annotations

import errno
import os
import random
import shutil
import subprocess
import time
import tomllib
from collections.abc import Callable, Iterator
from contextlib import contextmanager, nullcontext
from datetime import datetime, timedelta, timezone
from functools import partial
from pathlib import Path
from unittest.mock import patch

from commission import opening
from commission.crew import Hands
from commission.host import Disk
from commission.opening import Unheld, open_job, read_job
from commission.problems import CommissionError, CouldNotWrite
from commission.report.review import review
from commission.session import Session, now_local
from commission.user.signers import KnownSigners
from tests import walks
from tests.campaign.acts import ACTS, Act, finish
from tests.campaign.kill import fresh_site
from tests.campaign.mutations import FAULT, ran
from tests.campaign.power import SITE, located, new_disk
from tests.campaign.rows import Row, place, timed
from tests.report import small

FAILURES = (errno.ENOSPC, errno.EIO, errno.EROFS, errno.EACCES, errno.EFBIG, errno.ENOENT)
# Calls that fail together, of an act that is written into the record, and of one that makes a file.
OF_THE_RECORD = (("write",), ("sync",), ("write", "truncate"), ("sync", "truncate"))
OF_A_FILE = (("create",), ("write",), ("sync",), ("replace",), ("sync_directory",))
PHOTO = tuple(act for act in ACTS if act.name == "photo")


def run(times: int, seed: int) -> list[Row]:
    """About so many refusals of a simulated disk, and a share of that for every other trial."""
    rng = random.Random(seed)
    rows = []
    with (
        patch.object(opening, "hold", lambda *_: Unheld()),
        patch.object(opening, "located", located),
    ):
        rows.append(_refusals(times, rng, seed))
    for words, trial in TRIALS:
        row = Row("failing disk", words, seed)
        with timed(row):
            for _ in range(max(1, times // 100)):
                with place() as folder:
                    trial(folder, rng, row)
        rows.append(row)
    return rows


def begun(session: Session) -> Session:
    """A session with somebody at work."""
    session.crew.take(Hands(walks.OBSERVER, walks.WRITER, walks.METER))
    return session


def acted(
    session: Session,
    rng: random.Random,
    begins: Callable[[], None] = lambda: None,
    acts: tuple[Act, ...] = ACTS,
) -> Act:
    """Something that was done and kept; `begins` is called before each try."""
    while True:
        begins()
        act = rng.choices(acts, [one.weight for one in acts])[0]
        before = session.job.state.entries
        try:
            act.do(session, rng, f"text {rng.random()}")
        except CouldNotWrite:
            raise
        except CommissionError:
            continue
        if session.job.state.entries != before:
            return act


def _refusals(times: int, rng: random.Random, seed: int) -> Row:
    """Every kind of call fails in its turn during walks; then the same act is done again."""
    row = Row("failing disk", "ENOSPC, EIO, EROFS ... at any call, fsync too; then once more", seed)
    refused = 0
    with timed(row):
        while row.times < times:
            with place():
                refused += _refused_walk(min(60, times - row.times), rng, row)
    row.counts = {"refused": refused}
    if refused < row.times / 8:
        row.escape(f"only {refused} of {row.times} were refused by the disk")
    return row


def _refused_walk(acts: int, rng: random.Random, row: Row) -> int:
    """So many acts, each with a call that fails; returns how many of them were refused."""
    disk = new_disk(rng)
    session = begun(open_job(SITE, disk=disk, now=walks.clock()))
    refusals = 0
    for _ in range(acts):
        if rng.random() < 0.2:
            failing, kinds = _Failing(rng, OF_A_FILE), PHOTO
        else:
            failing, kinds = _Failing(rng, OF_THE_RECORD), ACTS
        disk.fails = failing
        act = partial(acted, session, rng, failing.forget, kinds)
        refusals += _is_refused(act, failing, session, row)
        disk.fails = lambda called, number: 0
        acted(session, rng)
    finish(session)
    for call in OF_A_FILE:
        disk.fails = failing = _Failing(rng, (call,), spared=0)
        sign = partial(session.sign, walks.signoff(), walks.KEY)
        if not _is_refused(sign, failing, session, row) or session.job.signed:
            row.escape(f"signed, and {call} failed")
            return refusals
        refusals += 1
    disk.fails = lambda called, number: 0
    _same_on(disk, session, row)
    return refusals


def _is_refused(act: Callable[[], object], failing: _Failing, session: Session, row: Row) -> bool:
    """Try something while calls fail; whether it was refused, which changes nothing."""
    row.times += 1
    before = session.job.state
    try:
        act()
        if failing.failed:
            row.escape(f"{failing.calls} failed in what was kept all the same")
    except CouldNotWrite as refused:
        if session.job.state is not before:
            row.lose("a refused write changed the job")
        if "retry" not in str(refused) and "To go on" not in str(refused):
            row.escape(f"refused without a remedy: {refused}")
        return True
    return False


class _Failing:
    """Fails some calls, after none or one of them, and from then on."""

    def __init__(
        self, rng: random.Random, of: tuple[tuple[str, ...], ...], spared: int | None = None
    ) -> None:
        self.calls, self._failure = rng.choice(of), rng.choice(FAILURES)
        self._spared = rng.randrange(2) if spared is None else spared
        self.failed = 0  # how often, in the act at hand

    def __call__(self, call: str, _number: int) -> int:
        if call not in self.calls:
            return 0
        if self._spared:
            self._spared -= 1
            return 0
        self.failed += 1
        return self._failure

    def forget(self) -> None:
        """Another act begins."""
        self.failed = 0


def _same_on(disk: Disk, session: Session, row: Row) -> None:
    """Sign, and find everything again on the disk."""
    finish(session)
    session.sign(walks.signoff(), walks.KEY)
    entries = session.job.state.entries
    session.close()
    folder = session.job.folder
    table = tomllib.loads(disk.read(folder / "record.toml").decode("utf-8"))["entry"]
    if [one["number"] for one in table] != list(range(1, len(entries) + 1)):
        row.lose("the entries on disk are not those that were confirmed")
    if read_job(folder, disk).state.entries != entries:
        row.lose("the entries on disk are not as they were confirmed")
    found = review(disk.read(folder / "report.toml"), "report.toml", KnownSigners())
    if found.state in ("altered", "not readable"):
        row.lose(f"the report is {found.state}")


# On the disk of this machine


def _opened(folder: Path, rng: random.Random, now: Callable[[], datetime] = now_local) -> Session:
    session = begun(open_job(fresh_site(folder, rng), disk=Disk(), now=now))
    acted(session, rng)
    return session


def _refused(session: Session, rng: random.Random, row: Row, words: str) -> None:
    """The next act is refused in these words, and changes nothing."""
    row.times += 1
    before = session.job.state
    try:
        acted(session, rng)
        row.escape(f"it was kept, where it should be said that {words!r}")
    except CouldNotWrite as refused:
        if words not in str(refused) or session.job.state is not before:
            row.escape(f"{refused}, where it should be said that {words!r}")


def removed(folder: Path, rng: random.Random, row: Row) -> None:
    """The job's folder goes away, and comes back."""
    session = _opened(folder, rng)
    elsewhere = folder / "elsewhere"
    session.job.folder.rename(elsewhere)
    _refused(session, rng, row, "the folder is gone")
    elsewhere.rename(session.job.folder)
    acted(session, rng)
    _same_on(Disk(), session, row)


def replaced(folder: Path, rng: random.Random, row: Row) -> None:
    """The record is replaced under the program by a copy, or one with more in it."""
    session = _opened(folder, rng)
    record = session.job.folder / "record.toml"
    content = record.read_bytes() + rng.choice((b"", b"# more\n"))
    copy = folder / "copy"
    copy.write_bytes(content)
    copy.replace(record)
    _refused(session, rng, row, "replaced it while this job was open")
    session.close()
    if record.read_bytes() != content:
        row.lose("what another program had written")


def truncated(folder: Path, rng: random.Random, row: Row) -> None:
    """Another hand cuts the record, or adds to it, in its place."""
    session = _opened(folder, rng)
    record = session.job.folder / "record.toml"
    content = record.read_bytes()
    content = rng.choice((b"", content[: len(content) // 2], content + b"# more\n"))
    record.write_bytes(content)
    _refused(session, rng, row, "changed it while this job was open")
    session.close()
    if record.read_bytes() != content:
        row.lose("what another program had written")


@contextmanager
def _as_nobody() -> Iterator[None]:
    """As a user who may not write everywhere: root may."""
    root = os.geteuid() == 0
    if root:
        os.seteuid(65534)
    try:
        yield
    finally:
        if root:
            os.seteuid(0)


def read_only(folder: Path, rng: random.Random, row: Row) -> None:
    """The folder becomes read-only: what needs a new file is refused, and works again later."""
    row.times += 1
    folder.chmod(0o755)
    session = _opened(folder, rng)
    finish(session)
    parts = (session.job.folder.parent, session.job.folder)
    for part in parts:
        part.chmod(0o555)
    try:
        with _as_nobody():
            session.sign(walks.signoff(), walks.KEY)
            row.escape("signed in a read-only folder")
    except CouldNotWrite as refused:
        if "read-only" not in str(refused) or session.job.signed:
            row.escape(f"{refused}, where it should be said that it is read-only")
    for part in parts:
        part.chmod(0o755)
    _same_on(Disk(), session, row)


def closed(folder: Path, rng: random.Random, row: Row) -> None:
    """The folder may no longer be entered: all is refused in words, and works again later."""
    folder.chmod(0o755)
    session = _opened(folder, rng)
    finish(session)
    session.job.folder.chmod(0)
    with _as_nobody():
        _refused(session, rng, row, "read-only")
        row.times += 1
        try:
            session.sign(walks.signoff(), walks.KEY)
            row.escape("signed in a folder that may not be entered")
        except CouldNotWrite as refused:
            if "To go on" not in str(refused) or session.job.signed:
                row.escape(f"refused without a remedy: {refused}")
    session.job.folder.chmod(0o755)
    _same_on(Disk(), session, row)


UNREADABLE = (
    ("check", "{site}"), ("check", "{job}"), ("expect", "{job}"), ("jobs", "{site}"),
    ("report", "{job}"), ("locate", "{job}"), ("print", "{job}", "--output", "{out}.html"),
    ("enter", "{job}", "{site}", "--by", "Sam Sample"), ("review", "{report}"),
    ("compare", "{job}", "{report}"), ("new", "{site}-new.toml", "--from", "{report}", "--yes"),
    ("convert", "{job}"), ("signers", "--know", "{report}"), ("open", "{job}"),
)  # fmt: skip


def unreadable(folder: Path, rng: random.Random, row: Row) -> None:
    """Files that may not be read are given to the commands: refused in words."""
    folder.chmod(0o755)
    session = _opened(folder, rng)
    session.close()
    job, place = session.job.folder, session.job.folder.parent
    report = place / "report.toml"
    report.write_bytes(small.sound())
    given = {"site": place / "garden.toml", "job": job, "report": report, "out": folder / "out"}
    for closes in (None, job, place):  # first with everything open: what they need is loaded then
        if closes is not None:
            closes.chmod(0)
        for command in UNREADABLE:
            row.times += 1
            words = [word.format(**given) for word in command]
            with _as_nobody() if closes else nullcontext():
                code, printed, _ = ran(words)
            if code not in range(5) or FAULT in printed:
                row.escape(f"{' '.join(command)}, {closes} closed: {code}: {printed[-300:]}")
        if closes is not None:
            closes.chmod(0o755)


def full(folder: Path, rng: random.Random, row: Row) -> None:
    """A file system of 4 MB in memory runs full in the middle of a walk."""
    mounted = folder / "small"
    mounted.mkdir()
    mounting = ["mount", "-t", "tmpfs", "-o", "size=4m", "campaign", str(mounted)]
    if subprocess.run(mounting, capture_output=True, check=False).returncode:
        row.measured = "the system lets no file system be mounted: not tried"
        row.times += 1
        return
    try:
        session = _opened(mounted, rng)
        filler = mounted / "filler"
        for _ in range(3):
            with filler.open("ab", buffering=0) as file:
                _fill(file.fileno())
            before = len(session.job.state.entries)
            while len(session.job.state.entries) < before + 60:
                try:
                    acted(session, rng)  # what is left of the last block is still written to
                except CouldNotWrite:
                    break
            _refused_or_kept(session, rng, row)
            filler.unlink()
            acted(session, rng)
        _same_on(Disk(), session, row)
    finally:
        subprocess.run(["umount", "-l", str(mounted)], check=True)


def _fill(descriptor: int) -> None:
    try:
        while True:
            os.write(descriptor, bytes(4096))
    except OSError:
        return


def _refused_or_kept(session: Session, rng: random.Random, row: Row) -> None:
    row.times += 1
    before = session.job.state
    try:
        acted(session, rng)
    except CouldNotWrite as refused:
        if "disk is full" not in str(refused) or session.job.state is not before:
            row.escape(f"{refused}, where the disk is full")


def clock(folder: Path, rng: random.Random, row: Row) -> None:
    """The clock jumps years back and forward, and the time zone changes."""
    zones = [timezone(timedelta(minutes=15 * n)) for n in range(-48, 57)]

    def now() -> datetime:
        jump = timedelta(days=rng.choice((0, 0, 0, 1, -1, 400, -9000, 9000)), seconds=rng.random())
        return (walks.START + jump).astimezone(rng.choice(zones)).replace(microsecond=0)

    session = _opened(folder, rng, now)
    for _ in range(40):
        row.times += 1
        acted(session, rng)
    _same_on(Disk(), session, row)


def zone(folder: Path, rng: random.Random, row: Row) -> None:
    """The machine's own clock is taken to other time zones while a job is open."""
    with patch.dict(os.environ):
        try:
            session = _opened(folder, rng)
            for name in ("EST5EDT", "UTC0", "XYZ-14", "EST5EDT,M3.2.0,M11.1.0", "NZST-12NZDT"):
                os.environ["TZ"] = name
                time.tzset()
                row.times += 1
                acted(session, rng)
            _same_on(Disk(), session, row)
        finally:
            os.environ.pop("TZ", None)
            time.tzset()
    shutil.rmtree(folder / "work")


TRIALS: tuple[tuple[str, Callable[[Path, random.Random, Row], None]], ...] = (
    ("the folder removed and put back", removed),
    ("the record replaced under the program", replaced),
    ("the record changed under the program", truncated),
    ("the folder made read-only", read_only),
    ("the folder closed to the program", closed),
    ("files that may not be read, given to the commands", unreadable),
    ("a file system of 4 MB that runs full", full),
    ("a clock that jumps by years and zones at every look", clock),
    ("another time zone of the machine", zone),
)
