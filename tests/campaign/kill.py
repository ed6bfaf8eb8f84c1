"""The real program in a terminal, walked by random keys and ended by signals at random instants.

After each restart every confirmed answer is there, once, in order; the record parses with plain
tomllib; the screen is the one that a replay of the record gives; and a program that could still
act has left the terminal as it found it.
"""

from __future__ import annotations

import asyncio
import hashlib
import random
import shutil
import signal
import sys
import time
import tomllib
from collections import Counter
from collections.abc import Iterator
from pathlib import Path
from typing import Any

from commission.host import Disk
from commission.job import Job
from commission.opening import open_job
from commission.report.review import review
from commission.resources import samples
from commission.session import now_local
from commission.tui.app import CommissionApp
from commission.user.crash_log import LOG
from commission.user.instruments import remember_instrument
from commission.user.signers import KnownSigners
from tests.campaign.moves import Player, any_move
from tests.campaign.rows import Row, place
from tests.jobs import user_env
from tests.report import small
from tests.terminal import Terminal
from tests.test_program_ends import ENTERED, RESTORED
from tests.tui.golden import screen_text
from tests.walks import METER, OBSERVER, WRITER

SIGNALS = (signal.SIGKILL, signal.SIGKILL, signal.SIGTERM, signal.SIGHUP)
SIZES = ((80, 24), (120, 40))
LONGEST_S = 15.0
LONGEST_END_S = 4.0  # less than what the program itself allows an end: none may need that
ENDS_PER_JOB = 25
PEOPLE = "Who enters the readings here"


# What an entry counts as, by its type; retests and changes of the site itself are told apart.
COUNTED = {
    "answer": "answers", "retest": "retests", "skip": "skipped", "not-applicable": "not applicable",
    "note": "notes", "defect": "defects", "withdrawal": "taken back", "attachment": "photos",
    "change": "changes noted", "redrawn": "changes of the site", "signed": "reports signed",
}  # fmt: skip
SCREENS, CONFIRMED = "screens compared", "confirmations looked for"


def run(count: int, seed: int) -> list[Row]:
    """So many ends, in as many jobs as that takes."""
    rng = random.Random(seed)
    row = Row("kill", "ends by SIGKILL, SIGTERM, SIGHUP in walks by random keys", seed)
    row.counts = {SCREENS: 0, CONFIRMED: 0}
    found = dict.fromkeys(COUNTED, 0)
    while row.times < count:
        with place() as folder:
            remember_instrument(METER)
            walk = _Walk(folder, rng, row)
            walk.go(min(ENDS_PER_JOB, count - row.times))
            for kind in (*_kinds(walk.kept), *["signed"] * walk.signed):
                found[kind] += 1
    row.counts |= {COUNTED[kind]: number for kind, number in found.items()}
    return [row]


def _kinds(entries: list[dict[str, Any]]) -> Iterator[str]:
    """What each entry counts as."""
    answered: set[str] = set()
    for entry in entries:
        kind = entry["type"]
        if kind == "answer" and entry["step"] in answered:
            kind = "retest"
        elif kind == "answer":
            answered.add(entry["step"])
        elif "redraws" in entry:
            kind = "redrawn"
        if kind in COUNTED:
            yield kind


def fresh_site(folder: Path, rng: random.Random) -> Path:
    """A small site, sometimes the smallest that there can be."""
    site = folder / "work" / "garden.toml"
    site.parent.mkdir()
    if rng.random() < 0.4:
        site.write_text(small.example("site"), "utf-8")
    else:
        site.write_bytes(samples()["small-garden"].read_bytes())
    return site


Sent = tuple[str, str]  # type and text of the entry that it should leave


class _Walk:
    """One job, opened and ended again and again."""

    def __init__(self, folder: Path, rng: random.Random, row: Row) -> None:
        self.folder, self.rng, self.row = folder, rng, row
        self.site = fresh_site(folder, rng)
        self.camera = folder / "camera"
        self.camera.mkdir()
        self.size = rng.choice(SIZES)
        self.kept: list[dict[str, Any]] = []  # the record as it stood after the last end
        self.due: list[
            tuple[int, int, list[Sent]]
        ] = []  # confirmed: between numbers, what was sent
        self.sent: list[Sent] = []  # the last two: the screen may say a moment later that it saved
        self.times: Counter[Sent] = Counter()  # how often each was sent in this job
        self.highest = 0  # the highest number that the screen called saved
        self.signed = self.starting = False
        self.job: Job | None = None

    def go(self, ends: int) -> None:
        """End the program so often; after each end look what is left."""
        wanted = ""
        for _ in range(ends):
            terminal = self._start()
            if not self._shows(terminal, wanted):
                self.row.lose(f"the screen after a restart is not the replayed one:\n{wanted}\n"
                              f"but\n{terminal.text}")  # fmt: skip
            self._play(terminal)
            self._end(terminal)
            self.row.times += 1
            wanted = self._look()
            if self.signed:
                return

    def _start(self) -> Terminal:
        command = [sys.executable, "-m", "commission", "open", str(self.site)]
        return Terminal(command, size=self.size, env=user_env(self.folder))

    def _shows(self, terminal: Terminal, wanted: str) -> bool:
        if self.rng.random() < 0.15:  # it may be ended while it starts
            self.starting = True
            return True
        self.starting = False
        self.row.counts[SCREENS] += bool(wanted)
        try:
            terminal.wait_for(wanted or PEOPLE, LONGEST_S)
        except AssertionError:
            return False
        return True

    def _play(self, terminal: Terminal) -> None:
        """Some moves, each confirmed on the screen; the last one is not waited for."""
        player = Player(terminal, self.job, self.rng, self.camera)
        if self.starting:
            terminal.feed(self.rng.uniform(0, 0.2))
            if self.rng.random() < 0.5:
                while ENTERED not in terminal.raw and terminal.feed(0.01):
                    pass
            return
        if PEOPLE in terminal.text:
            terminal.press(WRITER, "enter", OBSERVER, "enter", METER.id, "enter", "enter")
            player.settle()
        for _ in range(self.rng.randrange(9)):
            if not player.home():
                return
            player.awaited = None
            any_move(self.rng)(player)
            if player.awaited is not None:
                self.sent = [*self.sent[-1:], player.awaited]
            self._count(player)
            if not player.settle():
                return
            self._confirm(player)
        if player.home():
            player.awaited = None
            any_move(self.rng)(player)
            self._count(player)
        terminal.feed(self.rng.choice((0.0, self.rng.uniform(0, 0.03))))

    def _count(self, player: Player) -> None:
        if player.awaited is not None:
            self.times[player.awaited] += 1

    def _confirm(self, player: Player) -> None:
        number = player.saved
        if number > self.highest:
            if player.awaited is not None:
                self.due.append((self.highest, number, self.sent))
            self.highest = number

    def _end(self, terminal: Terminal) -> None:
        number = self.rng.choice(SIGNALS)
        if terminal.ended:
            return
        begun = time.monotonic()
        code = terminal.kill(number)
        seconds = time.monotonic() - begun
        self.row.slowest_s = max(self.row.slowest_s, seconds)
        if seconds > LONGEST_END_S:
            self.row.escape(f"{seconds:.1f} s until the end by {number.name}; {self._log()}")
        if number == signal.SIGKILL or ENTERED not in terminal.raw:
            if code not in (-number, 128 + number):
                self.row.escape(f"it ended by itself with {code} before {number.name}")
            return
        since = terminal.raw.rindex(ENTERED)
        missing = [one for one in RESTORED if one not in terminal.raw[since:]]
        if code != 128 + number or missing or not terminal.is_as_before:
            modes = "its modes" if terminal.is_as_before else "other modes"
            self.row.lose(
                f"the terminal after {number.name}: exit code {code}, {modes}, without {missing}"
            )

    def _log(self) -> str:
        """Where the program was stuck, if it could say so."""
        log = self.folder / "user" / LOG
        return log.read_text("utf-8") if log.exists() else "no log"

    def _look(self) -> str:
        """What stands on disk now, and the screen that a replay of it gives."""
        folders = [path for path in self.site.parent.iterdir() if (path / "record.toml").exists()]
        if not folders:
            if self.highest:
                self.row.lose("the whole job")
            return ""
        copy = self.folder / "copy"
        shutil.rmtree(copy, ignore_errors=True)
        shutil.copytree(self.site.parent, copy)
        session = open_job(copy / folders[0].name, disk=Disk(), now=now_local)
        self.job = session.job
        self._compare(copy / folders[0].name)
        return asyncio.run(_drawn(CommissionApp(session), self.size))

    def _compare(self, job: Path) -> None:
        """Every entry that was there before, and every one confirmed since: once and in order."""
        entries = tomllib.loads((job / "record.toml").read_text("utf-8")).get("entry", [])
        if [entry["number"] for entry in entries] != list(range(1, len(entries) + 1)):
            self.row.lose("the numbers of the entries are not in order")
        if entries[: len(self.kept)] != self.kept:
            self.row.lose("an entry is not as it was after the last end")
        if len(entries) < self.highest:
            self.row.lose(f"entry {self.highest} was confirmed, {len(entries)} are there")
        self.row.counts[CONFIRMED] += len(self.due)
        for after, until, sent in self.due:
            if not any(_stands_there(entries, after, until, one, self.times[one]) for one in sent):
                there = [(e["type"], e.get("text", "")) for e in entries[after:until]]
                words = f"entries {after + 1} to {until}, {there}, are none of {sent}, once"
                self.row.lose(words)
        for entry in entries:
            if entry["type"] == "attachment":
                self._find_photo(job / entry["file"], entry)
        self.kept, self.due, self.highest = entries, [], max(self.highest, len(entries))
        report = job / "report.toml"
        if report.exists():
            self.signed = True
            found = review(report.read_bytes(), "report.toml", KnownSigners())
            if found.state in ("altered", "not readable"):
                self.row.lose(f"the report is {found.state}")

    def _find_photo(self, copied: Path, entry: dict[str, Any]) -> None:
        """A photo is there, whole, and what its entry says."""
        taken = self.camera / entry["text"]
        content = copied.read_bytes() if copied.exists() else b""
        digest = hashlib.sha256(content).hexdigest()
        if content != taken.read_bytes() or digest != entry["file_sha256"]:
            self.row.lose(f"{entry['file']} is not the photo that was copied")


def _stands_there(
    entries: list[dict[str, Any]], after: int, until: int, sent: Sent, times: int
) -> bool:
    """Whether what was sent stands between two numbers, and nowhere more often than it was sent."""
    kind, text = sent
    same = [
        one
        for one in entries
        if one["type"] == kind and text in one["text"]
        and not (kind == "withdrawal" and "written_with" in one)  # what goes with it says the same
    ]  # fmt: skip
    inside = [one for one in same if after < one["number"] <= until]
    return bool(inside) and (not text or len(same) <= times)


async def _drawn(app: CommissionApp, size: tuple[int, int]) -> str:
    """The first screen of a walk once it stands still; the job is closed after it."""
    try:
        async with app.run_test(size=size) as pilot:
            seen = ""
            while not seen.strip() or screen_text(app) != seen:
                seen = screen_text(app)
                await pilot.pause()
                await pilot.pause()
        return seen.rstrip("\n")
    finally:
        app.session.close()
