"""One program per job, told who holds it; a program that ends, however, lets go."""

from __future__ import annotations

import os
import signal
import stat
import subprocess
import sys
import tomllib
from pathlib import Path

import pytest

from commission.problems import EXIT_HELD, CouldNotWrite, HeldByAnother
from commission.record.lock import hold
from tests.record.examples import NOON, now

PROGRAM = """
import sys
from datetime import datetime
from pathlib import Path
from commission.problems import HeldByAnother
from commission.record.lock import hold

print("ready", flush=True)
sys.stdin.readline()
try:
    lock = hold(Path(sys.argv[1]), lambda: datetime.now().astimezone())
except HeldByAnother as refused:
    print("refused", refused, flush=True)
else:
    print("held", flush=True)
sys.stdin.readline()
"""


class Other:
    """Another program that goes for the lock when told to."""

    def __init__(self, folder: Path) -> None:
        self.process = subprocess.Popen(
            [sys.executable, "-c", PROGRAM, str(folder)],
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            cwd=Path(__file__).parents[2],
            text=True,
        )

    def said(self) -> str:
        assert self.process.stdout is not None
        return self.process.stdout.readline().strip()

    def go(self) -> None:
        assert self.process.stdin is not None
        self.process.stdin.write("\n")
        self.process.stdin.flush()

    def end(self, how: int) -> None:
        self.process.send_signal(how)
        self.process.communicate()


def test_of_several_programs_exactly_one_holds_the_job(tmp_path: Path) -> None:
    others = [Other(tmp_path) for _ in range(5)]
    assert [other.said() for other in others] == ["ready"] * 5
    for other in others:
        other.go()
    answers = [other.said() for other in others]
    assert answers.count("held") == 1
    user = tomllib.loads((tmp_path / "lock").read_text(encoding="utf-8"))["who"]
    refused = [answer for answer in answers if answer != "held"]
    assert all(f"is open in another program: {user} on " in answer for answer in refused)
    for other in others:
        other.end(signal.SIGKILL)
    hold(tmp_path, now).release()


def test_the_second_is_told_who_and_since_when(tmp_path: Path) -> None:
    lock = hold(tmp_path, now)
    written = tomllib.loads((tmp_path / "lock").read_text(encoding="utf-8"))
    assert list(written) == ["kind", "format", "who", "host", "pid", "since"]
    assert (written["pid"], written["since"]) == (os.getpid(), NOON)
    other = Other(tmp_path)
    other.said()
    other.go()
    words = other.said()
    other.end(signal.SIGTERM)
    assert words.startswith(f"refused {tmp_path.name} is open in another program: ")
    assert f"{written['who']} on {written['host']}, since 2026-05-04 12:00:00 -0600" in words
    lock.release()
    assert (tmp_path / "lock").read_bytes() == b""


def test_the_same_program_can_t_hold_a_job_twice(tmp_path: Path) -> None:
    lock = hold(tmp_path, now)
    with pytest.raises(HeldByAnother) as refused:
        hold(tmp_path, now)
    assert refused.value.exit_code == EXIT_HELD
    lock.release()
    hold(tmp_path, now).release()


def test_a_lock_left_by_a_crash_locks_nobody_out(tmp_path: Path) -> None:
    other = Other(tmp_path)
    other.said()
    other.go()
    assert other.said() == "held"
    other.end(signal.SIGKILL)
    assert b"pid = " in (tmp_path / "lock").read_bytes()
    lock = hold(tmp_path, now)
    assert f"pid = {os.getpid()}".encode() in (tmp_path / "lock").read_bytes()
    lock.release()


def test_what_others_wrote_into_the_lock_steers_no_terminal(tmp_path: Path) -> None:
    lock = hold(tmp_path, now)
    forged = 'who = "\\u001b[2J"\nhost = "h"\nsince = 2026-05-04T12:00:00Z\n'
    (tmp_path / "lock").write_text(forged, encoding="utf-8")
    with pytest.raises(HeldByAnother, match=r"<U\+001B>\[2J on h") as refused:
        hold(tmp_path, now)
    assert "\x1b" not in str(refused.value)
    (tmp_path / "lock").write_bytes(b"\xff")
    with pytest.raises(HeldByAnother, match="close it there first"):
        hold(tmp_path, now)
    lock.release()


def test_the_lock_is_private_and_needs_its_folder(tmp_path: Path) -> None:
    hold(tmp_path, now).release()
    assert stat.S_IMODE((tmp_path / "lock").stat().st_mode) == 0o600
    with pytest.raises(CouldNotWrite, match="the job was not opened: the folder is gone"):
        hold(tmp_path / "gone", now)


def test_a_holder_that_cannot_be_read_is_still_one(tmp_path: Path) -> None:
    held = hold(tmp_path, now)
    held.told_in.write_bytes(b"a = " + b"[" * 3000)  # nested too deeply to be read
    with pytest.raises(HeldByAnother, match="is open in another program; close it there first"):
        hold(tmp_path, now)
    held.release()
