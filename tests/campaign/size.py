"""Ten thousand entries in one record, and a day of walking: time linear, memory flat.

Time is compared with itself, a quarter of the record against all of it, so that any machine may do
it.
"""

from __future__ import annotations

import asyncio
import gc
import random
import resource
import time
from collections.abc import Callable
from pathlib import Path
from typing import NamedTuple

from commission.crew import Hands
from commission.host import Disk
from commission.opening import open_job
from commission.problems import CommissionError
from commission.session import Session
from commission.tui.app import CommissionApp
from commission.tui.screens.form import FormScreen
from tests import walks
from tests.campaign.acts import finish
from tests.campaign.kill import fresh_site
from tests.campaign.rows import Row, place, timed
from tests.tui.walking import Walk

# Of four times as much: opening and signing would be 4 if linear, 16 if quadratic; an answer costs
# the same however many there are, and 4 times as much where each looks at all of them.
MAX_RATIO = {"open": 6.0, "append": 2.0, "sign": 6.0}
LEAST_S = 0.02  # below this a machine at work tells nothing
MAX_CACHED_BYTES = 60_000_000  # from the first act to half of them: caches fill
MAX_GROWTH_BYTES = 6_000_000  # in the second half, when they are full
ENTRY_BYTES = 5_000  # an entry is kept, in the record and in every picture of the job
ACT_S = 10  # one act every ten seconds


def run(count: int, seed: int) -> list[Row]:
    """A record of so many entries."""
    row = Row("size", "entries in one record: open, append and sign", seed)
    with timed(row), place() as folder:
        quarter, whole = folder / "quarter", folder / "whole"
        for part, entries in ((quarter, count // 4), (whole, count)):
            part.mkdir()
            _grown(part, entries, random.Random(seed))
        times = {
            words: [_best(act, part) for part in (quarter, whole)]
            for words, act in (("open", _open), ("append", _append), ("sign", _sign))
        }
        row.times = count
    for words, (small, large) in times.items():
        if large > max(MAX_RATIO[words] * small, LEAST_S):
            row.escape(f"{words} takes {small:.3f} s, and {large:.3f} s for four times as much")
    row.measured = ", ".join(
        f"{words} {small * 1e3:.0f} to {large * 1e3:.0f} ms"
        for words, (small, large) in times.items()
    )
    return [row]


def _grown(folder: Path, entries: int, rng: random.Random) -> None:
    """A job with so many entries, all steps gone through and many retested."""
    session = walks.begin(folder, "small-garden")
    finish(session)
    steps = [status.step for status in session.job.statuses.values()]
    while len(session.job.state.entries) < entries:
        step = rng.choice(steps)
        try:
            walks.answer(session, step, walks.good_answer(session, step))
        except CommissionError:
            session.note(step, "looked at again")
    session.close()


def _job(folder: Path) -> Path:
    return next(path for path in folder.iterdir() if path.is_dir())


def _best(act: Callable[[Path], float], folder: Path) -> float:
    """The best of three, in seconds of processor time."""
    gc.collect()
    return min(act(folder) for _ in range(3))


def _opened(folder: Path) -> Session:
    return open_job(_job(folder), disk=Disk(), now=walks.clock())


def _open(folder: Path) -> float:
    begun = time.process_time()
    session = _opened(folder)
    _ = session.job.statuses
    seconds = time.process_time() - begun
    session.close()
    return seconds


def _append(folder: Path) -> float:
    """A hundred answers and what a screen asks for after each."""
    session = _opened(folder)
    steps = [status.step for status in session.job.statuses.values()]
    begun = time.process_time()
    for step in steps[:100]:
        try:
            walks.answer(session, step, walks.good_answer(session, step))
        except CommissionError:
            session.note(step, "looked at again")
        _ = session.job.statuses
    seconds = time.process_time() - begun
    session.close()
    return seconds


def _sign(folder: Path) -> float:
    session = _opened(folder)
    finish(session)
    begun = time.process_time()
    session.sign(walks.signoff(), walks.KEY)
    seconds = time.process_time() - begun
    (session.job.folder / "report.toml").unlink()
    session.close()
    return seconds


def run_hours(count: int, seed: int) -> list[Row]:
    """So many acts at the screen, one every ten seconds of a simulated clock."""
    row = Row("size", "acts at the screen, one every 10 s of a simulated clock", seed)
    with timed(row), place() as folder:
        session = open_job(fresh_site(folder, random.Random(0)), disk=Disk(), now=walks.clock())
        session.crew.take(Hands(walks.OBSERVER, walks.WRITER, walks.METER))
        first, half, last = asyncio.run(_hours(session, count, random.Random(seed)))
        row.times = count
    for words, before, after, limit in (
        ("first", first, half, MAX_CACHED_BYTES),
        ("second", half, last, MAX_GROWTH_BYTES),
    ):
        new = after.entries - before.entries
        if after.memory_bytes - before.memory_bytes > limit + ENTRY_BYTES * new:
            row.escape(f"memory grew in the {words} half: {before} to {after}")
    row.measured = (
        f"{count * ACT_S / 3600:.1f} h; {first.memory_bytes / 1e6:.1f} MB at first, "
        f"{half.memory_bytes / 1e6:.1f} MB at half, {last.memory_bytes / 1e6:.1f} MB at the end, "
        f"{last.entries - half.entries} new entries after half"
    )
    return [row]


class Held(NamedTuple):
    """What a walk holds at one instant."""

    memory_bytes: int
    entries: int


async def _hours(session: Session, count: int, rng: random.Random) -> tuple[Held, Held, Held]:
    """What is held before the first act, after half of them and at the end."""
    app = CommissionApp(session)

    def held() -> Held:
        return Held(memory_bytes(), len(session.job.state.entries))

    try:
        async with app.run_test(size=(80, 24)) as pilot:
            walk = Walk(app, pilot)
            await pilot.pause()
            await _everything_once(walk)
            first = half = held()
            for number in range(count):
                await _act(walk, rng)
                if number == count // 2:
                    half = held()
            return first, half, held()
    finally:
        session.close()


def memory_bytes() -> int:
    """What this process holds in memory now; the most that it ever held where nothing tells."""
    gc.collect()
    try:
        pages = int(Path("/proc/self/statm").read_text("ascii").split()[1])
    except OSError:
        return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
    return pages * resource.getpagesize()


async def _everything_once(walk: Walk) -> None:
    """Open everything that there is, so that it is loaded."""
    for down in range(20):
        await walk.home()
        await walk.press("escape", *["down"] * down, "enter")
    for key in ("ctrl+g", "ctrl+r", "ctrl+l", "ctrl+l"):
        await walk.home()
        await walk.press(key)


async def _go_on(walk: Walk, rng: random.Random) -> None:
    """Read the first step that is open; where the order forbids that, any that it allows."""
    job, step = walk.session.job, walks.first_open(walk.session)
    if step is None or job.reasons_against(step):
        steps = [one.step for one in job.statuses.values() if not job.reasons_against(one.step)]
        step = rng.choice(steps) if steps else None
    if step is not None:
        walk.walk.show_step(step.id)
        await walk.press()


async def _act(walk: Walk, rng: random.Random) -> None:
    """What somebody does in ten seconds: answer, retest, read about, open and leave a dialogue."""
    await walk.home()
    screen = walk.walk
    what = rng.random()
    if what < 0.6 and not screen.entry.disabled:
        if walk.session.job.reasons_against(screen.status.step):
            await _go_on(walk, rng)
        screen.entry.value = walks.good_answer(walk.session, screen.status.step)
        screen.entry.focus()
        await walk.press("enter")
        if isinstance(walk.app.screen, FormScreen) and walk.app.screen.query("#line-photo"):
            await walk.finish(photo="12")
    elif what < 0.8:
        await walk.press(rng.choice(("pageup", "pagedown", "ctrl+n")))
    elif what < 0.9:
        await walk.press("escape", *["down"] * rng.randrange(14), "enter")
    else:
        await walk.press(rng.choice(("ctrl+g", "ctrl+r", "ctrl+l", "ctrl+t")))
