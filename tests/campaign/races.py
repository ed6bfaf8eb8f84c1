"""Two programs go for one job at the same moment: one writes, the other is refused in words.

The winner is then killed, so that every race but the first begins with a lock left by a crash.
"""

from __future__ import annotations

import random
import signal
import sys
import tomllib
from pathlib import Path

from tests.campaign.rows import Row, place
from tests.jobs import make_job, user_env
from tests.terminal import Terminal

HELD = "is open in another program"
LONGEST_S = 15.0
REFUSED = 3  # the exit code


def run(count: int, seed: int) -> list[Row]:
    """So many races for one job."""
    rng = random.Random(seed)
    row = Row("two at once", "two programs race for one job; the winner is killed", seed)
    with place() as folder:
        job, title, _, _ = make_job(folder, "small-garden")
        before = entries(job)
        for number in range(count):
            row.times += 1
            _race(job, title, folder, rng, row)
            after = entries(job)
            if after[: len(before)] != before or len(after) > len(before) + 1:
                row.lose(f"race {number}: the record is not what stood there, and one entry")
            before = after
    row.measured = f"{len(before)} entries in the record"
    return [row]


def entries(job: Path) -> list[dict[str, object]]:
    """The entries of a job, with plain tomllib."""
    found = tomllib.loads((job / "record.toml").read_text("utf-8"))["entry"]
    assert isinstance(found, list)
    return found


def _race(job: Path, title: str, folder: Path, rng: random.Random, row: Row) -> None:
    command = [sys.executable, "-m", "commission", "open", str(job)]
    racers = []
    for _ in range(2):
        racers.append(Terminal(command, env=user_env(folder)))
        racers[0].feed(rng.choice((0.0, 0.0, rng.uniform(0, 0.4))))
    try:
        states = [_settled(racer, title) for racer in racers]
        if states.count("writes") != 1:
            row.escape(f"{states.count('writes')} of two programs write: {states}")
        if states.count("refused") != 1:
            row.escape(f"{states.count('refused')} of two programs are refused: {states}")
        for racer, state in zip(racers, states, strict=True):
            if state == "writes":
                racer.press(f"{rng.uniform(1, 3):.6f}", "enter")
                racer.feed(rng.uniform(0, 0.2))
    finally:
        for racer in racers:
            if not racer.ended:
                racer.kill(signal.SIGKILL)


def _settled(racer: Terminal, title: str) -> str:
    """What became of a racer: "writes" once its walk stands there, "refused" once it said so."""
    try:
        racer.wait_for("quit", LONGEST_S)
    except AssertionError:
        code = racer.wait_end()
        return "refused" if code == REFUSED and HELD in " ".join(racer.text.split()) else racer.text
    return "writes" if title in racer.text or "step " in racer.text else racer.text
