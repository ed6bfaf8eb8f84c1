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
from functools import partial
from pathlib import Path
from unittest.mock import patch

from commission import cli
from commission.host import Disk
from commission.opening import open_job, read_job
from commission.problems import CommissionError
from commission.record import drafts
from commission.resources import checklists, samples
from commission.session import SEVERITIES, Session
from commission.site.changes.kinds import AddBox
from commission.starting import at_hand
from commission.user.at_work import AtWork, last_at_work, remember_at_work
from commission.user.instruments import load_instruments, remember_instrument
from commission.user.people import Person, load_people, remember_person
from commission.user.recent import recent_jobs, remember_job
from commission.user.seen_reports import load_seen
from commission.user.signers import load_signers
from tests import walks
from tests.campaign.rows import Row, place, timed, told
from tests.report import small
from tests.report.mutated import MAX_SECONDS, MUTATORS, mutated, spliced

MAX_GROWTH_KB = 24_000  # of the whole process, from file 200 to the last: 5 kB for each of 5,000
FAULT = "This is a fault of the program"
Commands = tuple[tuple[str, ...], ...]


@dataclass(frozen=True, slots=True)
class Kind:
    """A kind of file: its originals, and the commands that it is given to, in their turn.

    `{file}` is the spoilt file, `{job}` a job, `{site}` a site, `{sound}` a file of the kind as it
    was, `{new}` a file that is not there yet. Files that have a place of their own, as those of the
    user, are spoilt there: `places` holds it for each original, below the folder of the trial.
    Whoever adds a command that reads a file adds a line here.
    """

    name: str
    suffix: str
    originals: Callable[[], list[bytes]]
    commands: Commands
    places: tuple[str, ...] = ()


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


def station_lists() -> list[bytes]:
    """An estimator's list, in two ways of writing."""
    text = LIST + "".join(f"{n},B{n},{40 * n},14 AWG,Bed {n}\n" for n in range(3, 12))
    return [text.encode(), text.replace(",", ";").replace("\n", "\r\n").encode("utf-8-sig")]


def job_files() -> dict[str, bytes]:
    """What a job keeps, by name: of one where somebody did a little of everything."""
    with place() as folder:
        session = worked(folder)
        session.keep_draft(next(iter(session.job.statuses)), "half typed")
        job = session.job.folder
        session.close()
        return {name: (job / name).read_bytes() for name in JOB_FILES}


def worked(folder: Path) -> Session:
    """A job with entries of many kinds."""
    session = walks.begin(folder, "small-garden")
    steps = [status.step for status in session.job.statuses.values()]
    walks.walk_until(session, walks.first(session, lambda step: step.item.answer == "measure"))
    session.note(steps[0], "looked at")
    session.raise_defect(steps[1], SEVERITIES[0], "B1", "cracked", "replace it")
    session.close_defect("D1", "replaced")
    session.change_site(steps[2], AddBox("A", "B1", "B9", "20 ft", "20 ft"), "found it")
    session.change_drawing(steps[2], "lid", "green", "black", "as found")
    session.skip(steps[3], "not now")
    session.withdraw(len(session.job.state.entries), "it was a slip")
    return session


def user_files() -> dict[str, bytes]:
    """What the program keeps for its user, and the one file that the user writes; by name."""
    with place() as folder:
        remember_instrument(walks.METER)
        remember_person(Person("Sam Sample", "installer", "Example Irrigation", "L-1"))
        remember_at_work(AtWork("Sam Sample", "Pat Example", walks.METER.id))
        remember_job(folder / "work", walks.START)
        report = folder / "report.toml"
        report.write_bytes(small.sound())
        for words in (["review", str(report)], ["signers", "--know", str(report)]):
            ran(words)
        kinds = KINDS_FILE.encode()
        return {
            name: kinds if name == "kinds.toml" else (folder / "user" / name).read_bytes()
            for name in USER_FILES
        }


def look_at(job: Path) -> None:
    """Read what only the screens read: the user's files, and a job as it is opened."""
    reads: list[Callable[[], object]] = [
        load_instruments, load_people, last_at_work, recent_jobs, load_signers, load_seen,
        lambda: at_hand(job, Disk()), lambda: read_job(job, Disk()),
        lambda: drafts.read(Disk(), job, 0),
    ]  # fmt: skip
    for read in reads:
        try:
            read()
        except CommissionError as refused:
            print(refused)


def begin_with(checklist: Path, site: Path, folder: Path) -> None:
    """Begin a job with a checklist of one's own, and read it as it is opened again."""
    folder.mkdir()
    try:
        own = Path(shutil.copy(site, folder))
        session = open_job(own, checklist=checklist, disk=Disk(), now=walks.clock())
        session.close()
        read_job(session.job.folder, Disk())
    except CommissionError as refused:
        print(refused)
    finally:
        shutil.rmtree(folder)


LOOK, BEGIN = ("look",), ("begin",)
LIST = "station,box,distance (ft),cable,area\n1,B1,120,14 AWG,Lawn\n2,B2,260,14 AWG,Roses\n"
KINDS_FILE = """\
[solenoid_kind.own-valve]
inrush_current = "0.30 A"
holding_current = "0.18 A"
[decoder_kind.own]
standby_current = "3 mA"
[cable_kind.own]
conductor = "14 AWG"
"""
USER_FILES = (
    "kinds.toml", "instruments.toml", "people.toml", "known-signers.toml", "at-work.toml",
    "recent.toml", "seen-reports.toml",
)  # fmt: skip
JOB_FILES = ("record.toml", "unfinished.toml", "site.toml", "checklist.toml")

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
        (("check", "{file}"), BEGIN),
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
            ("signers", "--know", "{file}"), ("new", "{new}", "--from", "{file}", "--yes"),
            ("print", "{file}", "--output", "{new}"), LOOK,
        ),
    ),
    Kind(
        "lists of stations", ".csv", station_lists,
        (("new", "{new}", "--from", "{file}", "--yes"),
         ("new", "{new}", "--from", "{file}", "--yes", "--units", "SI", "--cable", "2.5 mm²")),
    ),
    Kind(
        "files of the user", ".toml", lambda: list(user_files().values()),
        (
            LOOK, ("new", "{new}", "--from", "{list}", "--yes", "--cable", "own"), ("signers",),
            ("review", "{report}"), ("enter", "{job}", "{empty}", "--by", "Sam Sample"), LOOK,
        ),
        tuple(f"user/{name}" for name in USER_FILES),
    ),
    Kind(
        "records and drafts", ".toml", lambda: list(job_files().values()),
        (
            ("check", "{job}"), ("report", "{job}"), ("locate", "{job}"), ("jobs", "{site}"),
            ("expect", "{job}"), ("convert", "{job}"), ("print", "{job}", "--output", "{new}"),
            LOOK,
        ),
        tuple(f"job/{name}" for name in JOB_FILES),
    ),
)  # fmt: skip


def spoilt(rng: random.Random, content: bytes) -> tuple[str, bytes]:
    """A file spoilt, and what was done to it; sometimes twice."""
    done = []
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
    before = 0
    with timed(row), place() as folder:
        remember_instrument(walks.METER)
        desk = _Desk(folder, kind, originals)
        for number in range(count):
            row.times += 1
            which = rng.randrange(len(originals))
            what, content = next(reports) if reports else spoilt(rng, originals[which])
            command = rng.choice(kind.commands)
            seconds = desk.given(command, which, what, content, row)
            row.slowest_s = max(row.slowest_s, seconds)
            if number == min(count - 1, 200):
                before = _memory_kb()
        grown = _memory_kb() - before
        if grown > MAX_GROWTH_KB:
            row.escape(f"the process grew by {grown} kB")
    row.measured = f"memory +{max(0, grown) / 1000:.0f} MB"
    return [row]


def _memory_kb() -> int:
    """The most memory that this process ever held."""
    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss


class _Desk:
    """A folder in which spoilt files are given to commands."""

    def __init__(self, folder: Path, kind: Kind, originals: list[bytes]) -> None:
        self.folder, self.kind, self.originals = folder, kind, originals
        inside = folder / "in"
        inside.mkdir()
        session = worked(inside)
        session.close()
        self.job, self.kept = session.job.folder, folder / "kept"
        shutil.copytree(self.job, self.kept)
        self.given_words: dict[str, Path] = {
            "file": inside / f"spoilt{kind.suffix}", "sound": inside / f"sound{kind.suffix}",
            "list": inside / "list.csv", "empty": inside / "empty.csv", "job": self.job,
            "site": next(inside.glob("*.toml")), "report": inside / "report.toml",
            "new": folder / "new.html",
        }  # fmt: skip
        self.given_words["sound"].write_bytes(originals[0])
        self.given_words["list"].write_text(LIST, "utf-8")
        self.given_words["empty"].write_text(
            "step,reading,instrument,observer,time,note\n", "utf-8"
        )
        self.given_words["report"].write_bytes(small.sound())
        for name, content in zip(kind.places, originals, strict=bool(kind.places)):
            self._place(name).write_bytes(content)

    def _place(self, name: str) -> Path:
        top, _, rest = name.partition("/")
        return self.job / rest if top == "job" else self.folder / name

    def _done(self, command: tuple[str, ...], words: list[str]) -> tuple[int, str, float]:
        if command == LOOK:
            return in_place_of_a_command(partial(look_at, self.job))
        if command == BEGIN:
            known = self.given_words
            begin = partial(begin_with, known["file"], known["site"], self.folder / "begun")
            return in_place_of_a_command(begin)
        return ran(words)

    def given(
        self, command: tuple[str, ...], which: int, what: str, content: bytes, row: Row
    ) -> float:
        """Give a file to a command; returns its processor time."""
        places = self.kind.places
        path = self._place(places[which]) if places else self.given_words["file"]
        path.write_bytes(content)
        words = [word.format(**self.given_words) for word in command]
        code, printed, seconds = self._done(command, words)
        tried = f"{' '.join(command)} after {what} in {path.name} (file {row.times})"
        if code not in (0, 1, 2) or FAULT in printed or "Traceback" in printed:
            row.escape(f"{tried}: exit code {code}: {printed[-300:]}")
        if not printed.replace("\n", "").isprintable():
            row.escape(f"{tried}: something unprintable came out")
        if seconds > MAX_SECONDS:
            row.escape(f"{tried}: {seconds:.1f} s")
        self.given_words["new"].unlink(missing_ok=True)
        if places:
            path.write_bytes(self.originals[which])
        elif command[0] == "enter" and code != 2:  # taken in: the job as it was again
            shutil.rmtree(self.job)
            shutil.copytree(self.kept, self.job)
        return seconds


def in_place_of_a_command(do: Callable[[], None]) -> tuple[int, str, float]:
    """The same as of a command, of what only the screens do."""
    printed = io.StringIO()
    begun = time.process_time()
    with contextlib.redirect_stdout(printed):
        try:
            do()
        except Exception as error:
            print(f"Traceback: {told(error)}")
    return 0, printed.getvalue(), time.process_time() - begun


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
