"""Spoilt site files, checklists, lists from the field and reports, through the commands themselves.

No traceback, nothing unprintable, none over two seconds of processor time, memory bounded.
"""

from __future__ import annotations

import contextlib
import io
import random
import resource
import shutil
import sys
import time
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from unittest.mock import patch

from commission import cli
from commission.resources import checklists, samples
from commission.user.instruments import remember_instrument
from tests import walks
from tests.campaign.rows import Row, place, timed
from tests.report import small
from tests.report.mutated import MAX_SECONDS, MUTATORS, mutated, spliced

MAX_GROWTH_KB = 300_000  # of the whole process, over all files of a kind
FAULT = "This is a fault of the program"
Commands = tuple[tuple[str, ...], ...]


@dataclass(frozen=True, slots=True)
class Kind:
    """A kind of file: its originals, and the commands that it is given to, in their turn.

    `{file}` is the spoilt file, `{job}` a job, `{sound}` a file of the kind as it was, `{new}` a
    file that is not there yet. Whoever adds a command that reads a file adds a line here.
    """

    name: str
    suffix: str
    originals: Callable[[], list[bytes]]
    commands: Commands


def site_files() -> list[bytes]:
    """Two samples, and the README's smallest site."""
    found = [samples()[name].read_bytes() for name in ("small-garden", "converted-bundle")]
    return [*found, small.example("site").encode()]


def field_lists() -> list[bytes]:
    """A list of every step of the small site, in two ways of writing."""
    with place() as folder:
        session = walks.begin(folder, "small-garden")
        rows = ["step,reading,instrument,observer,time,note"]
        while (step := walks.first_open(session)) is not None:
            text = walks.good_answer(session, step)
            at = f"2031-05-04 {10 + len(rows) // 60}:{len(rows) % 60:02}"
            rows.append(f'{step.id},"{text}",{walks.METER.id},{walks.OBSERVER},{at},"a, note"')
            walks.answer(session, step, text)
        session.close()
    text = "\n".join(rows) + "\n"
    return [text.encode(), text.replace(",", ";").replace("\n", "\r\n").encode("utf-8-sig")]


KINDS: tuple[Kind, ...] = (
    Kind(
        "site files", ".toml", site_files,
        (
            ("check", "{file}"), ("check", "{file}"), ("expect", "{file}"),
            ("expect", "{file}", "--json"), ("size", "{file}"), ("jobs", "{file}"),
            ("print", "{file}", "--output", "{new}"), ("expect", "{file}", "--netlist"),
        ),
    ),
    Kind(
        "checklists", ".toml", lambda: [path.read_bytes() for path in checklists().values()],
        (("check", "{file}"),),
    ),
    Kind(
        "lists from the field", ".csv", field_lists,
        (("enter", "{job}", "{file}", "--by", "Sam Sample"),
         ("enter", "{job}", "{file}", "--by", "Sam Sample", "--yes")),
    ),
    Kind(
        "reports", ".toml", lambda: [small.sound()],
        (
            ("review", "{file}"), ("review", "{file}", "--json"), ("review", "{file}", "--csv"),
            ("check", "{file}"), ("compare", "{sound}", "{file}"), ("report", "{file}"),
            ("signers", "--know", "{file}"),
        ),
    ),
)  # fmt: skip


def spoilt(kind: Kind, rng: random.Random, originals: list[bytes]) -> tuple[str, bytes]:
    """A spoilt file of a kind, and what was done to it; sometimes twice."""
    content, done = rng.choice(originals), []
    for _ in range(rng.choice((1, 1, 2))):
        mutator = rng.choice([one for one in MUTATORS if one is not spliced])
        with contextlib.suppress(ValueError, IndexError):  # nothing left to spoil in that way
            content = mutator(rng, content)
            done.append(mutator.__name__)
    return " ".join(done), content


def run(count: int, seed: int) -> list[Row]:
    """So many spoilt files of each kind."""
    return [row for kind in KINDS for row in run_kind(kind.name, count, seed)]


def run_kind(name: str, count: int, seed: int) -> list[Row]:
    """So many spoilt files of one kind."""
    kind = next(one for one in KINDS if one.name == name)
    rng = random.Random(seed)
    row = Row("input", f"spoilt {kind.name}, given to {len(set(kind.commands))} commands", seed)
    reports = mutated(count, seed) if kind.name == "reports" else None
    originals = kind.originals()
    slowest, before = 0.0, 0
    with timed(row), place() as folder:
        remember_instrument(walks.METER)
        desk = _Desk(folder, kind, originals)
        for number in range(count):
            row.times += 1
            what, content = next(reports) if reports else spoilt(kind, rng, originals)
            seconds = desk.given(kind.commands[number % len(kind.commands)], what, content, row)
            slowest = max(slowest, seconds)
            if number == min(count - 1, 200):
                before = _memory_kb()
        grown = _memory_kb() - before
        if grown > MAX_GROWTH_KB:
            row.escape(f"the process grew by {grown} kB")
    row.measured = f"slowest {slowest:.2f} s, memory +{max(0, grown) / 1000:.0f} MB"
    return [row]


def _memory_kb() -> int:
    """The most memory that this process ever held."""
    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss


class _Desk:
    """A folder in which spoilt files are given to commands."""

    def __init__(self, folder: Path, kind: Kind, originals: list[bytes]) -> None:
        self.folder = folder
        self.path = folder / "in" / f"spoilt{kind.suffix}"
        self.sound = folder / "in" / f"sound{kind.suffix}"
        self.path.parent.mkdir()
        self.sound.write_bytes(originals[0])
        self.job = Path()
        if kind.suffix == ".csv":
            session = walks.begin(folder / "in", "small-garden")
            session.close()
            self.job = session.job.folder
        self.kept = folder / "kept"
        if kind.suffix == ".csv":
            shutil.copytree(self.job, self.kept)

    def given(self, command: tuple[str, ...], what: str, content: bytes, row: Row) -> float:
        """Give a file to a command; returns its processor time."""
        self.path.write_bytes(content)
        new = self.folder / "new.html"
        words = [
            word.format(file=self.path, sound=self.sound, job=self.job, new=new) for word in command
        ]
        code, printed, seconds = ran(words)
        tried = f"{' '.join(command)} after {what} (file {row.times})"
        if code not in (0, 1, 2) or FAULT in printed or "Traceback" in printed:
            row.escape(f"{tried}: exit code {code}: {printed[-300:]}")
        if not printed.replace("\n", "").isprintable():
            row.escape(f"{tried}: something unprintable came out")
        if seconds > MAX_SECONDS:
            row.escape(f"{tried}: {seconds:.1f} s")
        new.unlink(missing_ok=True)
        if self.kept.exists() and code != 2:  # the list was taken in: the job as it was again
            shutil.rmtree(self.job)
            shutil.copytree(self.kept, self.job)
        return seconds


def ran(words: list[str]) -> tuple[int, str, float]:
    """Exit code, all that was printed, and the processor time of a command that hears "yes"."""
    printed = io.StringIO()
    begun = time.process_time()
    with (
        contextlib.redirect_stdout(printed),
        contextlib.redirect_stderr(printed),
        patch.object(sys, "stdin", io.StringIO("yes\n")),
    ):
        code = cli.main(words)
    return code, printed.getvalue(), time.process_time() - begun
