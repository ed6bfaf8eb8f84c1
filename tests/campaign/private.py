"""Private files have private modes, nothing is written elsewhere, nothing is sent anywhere.

Every command runs with the network denied, in a home, a folder for temporary files and a working
folder that must stay as they are, with a umask that keeps nothing from anybody.
"""

from __future__ import annotations

import json
import os
import random
import re
import signal
import stat
import subprocess
import sys
from collections.abc import Callable, Iterator
from pathlib import Path

from commission.record.drafts import NAME as DRAFT
from commission.record.evidence import EVIDENCE
from commission.record.folder import REPORT
from commission.record.journal import RECORD
from commission.user.crash_log import LOG, log_failure
from commission.user.instruments import remember_instrument
from commission.user.signing_key import FILE as KEY
from tests import walks
from tests.campaign.kill import PEOPLE, fresh_site
from tests.campaign.moves import MENU, MOVES, Player
from tests.campaign.rows import Row, place, timed
from tests.jobs import user_env
from tests.report import small
from tests.terminal import Terminal

ROOT = Path(__file__).resolve().parents[2]
# Where a program may write besides its own folders: to nothing, and to its terminal.
DEVICES = ("/dev/null", "/dev/tty", "/dev/pts/", "/dev/ptmx")
# What a job's folder beside its site file is called, and what it is while it is made.
JOB = re.compile(r"(small-garden|garden)-new-\d{4}-\d\d-\d\d-\d+|\.being-made-.+")
OUTPUT = "page"
# What must have been made, so that its mode is known.
MADE = (RECORD, DRAFT, EVIDENCE, REPORT, KEY, LOG)
PHOTO = next(move for move in MENU if move.entry == "attachment")
# Every command, with words that stand for a site, a job, a report and files named for output.
# Whoever adds a command adds a line here; tests/campaign/test_campaign.py compares.
COMMANDS: tuple[tuple[str, ...], ...] = (
    ("samples",),
    ("schema", "site"),
    ("schema", "checklist"),
    ("new", "{output}-new.toml", "--from", "{report}", "--yes"),
    ("edit", "{site}"),
    ("expect", "{site}"),
    ("expect", "{site}", "--json"),
    ("expect", "{job}", "--netlist"),
    ("expect", "two-paths"),
    ("size",),
    ("size", "{site}", "--json"),
    ("check", "{site}", "{job}", "{report}"),
    ("jobs", "{site}"),
    ("report", "{job}"),
    ("locate", "{job}"),
    ("locate", "{job}", "--json"),
    ("print", "{site}", "--output", "{output}-1.html"),
    ("print", "{job}", "--output", "{output}-2.html"),
    ("enter", "{job}", "{list}", "--by", "Sam Sample"),
    ("review", "{report}"),
    ("review", "{report}", "--json"),
    ("review", "{report}", "--csv"),
    ("compare", "{report}", "{report}"),
    ("signers", "--know", "{report}"),
    ("signers",),
    ("open", "{site}"),
    ("practice",),
    ("convert", "{job}"),
    ("tablet", "nowhere.toml"),
    ("nonsense",),
)


def run(count: int, seed: int) -> list[Row]:
    """Every command once, some of them when one walk is asked for, and walks in the terminal."""
    sent = Row("private", "commands and walks with the network denied: nothing is sent", seed)
    written = Row(
        "private", "writes, each in the job's folder, the user's, or a named output", seed
    )
    modes = Row("private", "files and folders made, private under a umask of 0", seed)
    rng = random.Random(seed)
    before = os.umask(0)
    try:
        with timed(sent):
            for number in range(count):
                with place() as folder:
                    commands = COMMANDS if count > 1 else tuple(rng.sample(COMMANDS, 8))
                    watched = _Watched(folder, rng, sent, written, modes)
                    watched.all(commands if number == 0 else ())
    finally:
        os.umask(before)
    return [sent, written, modes]


class _Watched:
    """One folder with everything that a program could write to, and what it wrote."""

    def __init__(
        self, folder: Path, rng: random.Random, sent: Row, written: Row, modes: Row
    ) -> None:
        self.folder, self.rng = folder, rng
        self.sent, self.written, self.modes = sent, written, modes
        for name in ("home", "temporary", "here", "out", "camera"):
            (folder / name).mkdir(mode=0o700)
        remember_instrument(walks.METER)
        self.site = fresh_site(folder, rng)
        session = walks.begin(self.site.parent, "small-garden")
        walks.walk_until(session, walks.first(session, lambda one: one.item.answer == "measure"))
        session.close()
        self.job = session.job.folder
        self.report, self.list = folder / "here" / "report.toml", folder / "here" / "list.csv"
        self.report.write_bytes(small.sound())
        self.list.write_text("step,reading,instrument,observer,time,note\n", "utf-8")
        self.log = folder / "written"
        self.env = {
            **user_env(folder), "HOME": str(folder / "home"), "TMPDIR": str(folder / "temporary"),
            "PYTHONPATH": str(ROOT), "PYTHONDONTWRITEBYTECODE": "1",
            **{f"XDG_{name}_HOME": f"{folder}/home/{name}" for name in ("DATA", "CONFIG", "CACHE")},
        }  # fmt: skip
        self.still = dict(self._files("home", "temporary", "here"))

    def all(self, commands: tuple[tuple[str, ...], ...]) -> None:
        """Run commands and a walk, then look at what was written and made."""
        for command in commands:
            self._command(command)
        log_failure(ValueError("as if the program had failed"))
        self._walk(self.site, self._some_moves, signal.SIGTERM)
        self._walk(self.job, self._signed, signal.SIGKILL)
        for _ in range(3):  # a machine at work may have missed a key
            if {DRAFT, EVIDENCE} & self._missing():
                self._walk(self.site, self._photo_and_half, signal.SIGTERM)
            if REPORT in self._missing():
                self._walk(self.job, self._signed, signal.SIGKILL)
        self._look()

    def _words(self, command: tuple[str, ...]) -> list[str]:
        given = {
            "site": self.site, "job": self.job, "report": self.report, "list": self.list,
            "output": self.folder / "out" / OUTPUT,
        }  # fmt: skip
        return [word.format(**given) for word in command]

    def _command(self, command: tuple[str, ...]) -> None:
        self.sent.times += 1
        run = subprocess.run(
            [sys.executable, "-m", "tests.campaign.watched", str(self.log), *self._words(command)],
            env={**os.environ, **self.env},
            cwd=self.folder / "here",
            capture_output=True,
            text=True,
            stdin=subprocess.DEVNULL,
            check=False,
        )
        if run.returncode not in (0, 1, 2) or "Traceback" in run.stderr:
            self.sent.escape(f"{' '.join(command)}: {run.returncode}: {run.stderr[-300:]}")

    def _walk(self, target: Path, play: Callable[[Player], None], end: signal.Signals) -> None:
        """A walk in a terminal, watched alike."""
        self.sent.times += 1
        watched = ["-m", "tests.campaign.watched", str(self.log), "open", str(target)]
        terminal = Terminal([sys.executable, *watched], env=self.env, cwd=self.folder / "here")
        player = Player(terminal, None, self.rng, self.folder / "camera")
        terminal.wait_for("quit", 20.0)
        if PEOPLE in terminal.text:
            names = (walks.WRITER, "enter", walks.OBSERVER, "enter", walks.METER.id)
            terminal.press(*names, "enter", "enter")
        player.settle()
        play(player)
        if not terminal.ended:
            terminal.kill(end)

    def _some_moves(self, player: Player) -> None:
        """Random moves, a photo, and something half typed."""
        moves = [move for move, _ in MOVES if move is not Player.sign]
        for move in self.rng.choices(moves, k=12):
            if player.home():
                move(player)
                player.settle()
        self._photo_and_half(player)

    def _photo_and_half(self, player: Player) -> None:
        if player.home():
            player.menu(PHOTO)
            player.settle()
        if player.home():
            player.half()
            player.settle()

    def _signed(self, player: Player) -> None:
        """The report, signed as it stands."""
        if player.home():
            player.sign()
            player.settle()

    def _look(self) -> None:
        for line in self.log.read_text("utf-8").splitlines():
            event, *paths = json.loads(line)
            if not paths:
                self.sent.escape(f"{event} was called")
            for path in map(Path, paths):
                self.written.times += 1
                if not self._is_allowed(path):
                    self.written.escape(f"{event} {path}")
        if dict(self._files("home", "temporary", "here")) != self.still:
            self.written.escape(
                "something was made in the home, for a while, or in the folder here"
            )
        self._look_at_modes()

    def _made(self) -> list[Path]:
        """The user's folder, every job's, and all that lies in them."""
        jobs = [path for path in self.site.parent.iterdir() if path.is_dir()]
        tops = (self.folder / "user", *jobs)
        return [path for top in tops for path in (top, *top.rglob("*"))]

    def _missing(self) -> set[str]:
        """What was not made yet; the empty folder for evidence, which every job has, is not it."""
        made = self._made()
        photos = {EVIDENCE for path in made if path.parent.name == EVIDENCE}
        return {*MADE} - photos - {path.name for path in made if path.name != EVIDENCE}

    def _look_at_modes(self) -> None:
        for path in self._made():
            self.modes.times += 1
            if stat.S_IMODE(path.stat().st_mode) & 0o077:
                self.modes.escape(f"{path}: {stat.S_IMODE(path.stat().st_mode):o}")
        if missing := self._missing():
            self.modes.escape(f"nobody knows the modes of {missing}: they were not made")

    def _is_allowed(self, path: Path) -> bool:
        """Whether a file may be written: of a job, of the user, named for output, a device."""
        if path.is_relative_to(self.site.parent):
            return JOB.fullmatch(path.relative_to(self.site.parent).parts[0]) is not None
        if path.parent == self.folder / "out":
            return any(f"{OUTPUT}{end}" in path.name for end in ("-1.html", "-2.html", "-new.toml"))
        return path.is_relative_to(self.folder / "user") or str(path).startswith(DEVICES)

    def _files(self, *names: str) -> Iterator[tuple[str, bytes]]:
        """Every file below some folders, with its content."""
        for name in names:
            for path in (self.folder / name).rglob("*"):
                yield str(path), path.read_bytes() if path.is_file() else b""
