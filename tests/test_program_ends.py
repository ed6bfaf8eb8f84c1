"""The real program in a real terminal, ended, stopped, crowded and fed with hostile text."""

from __future__ import annotations

import operator
import os
import signal
import sys
import time
from collections.abc import Callable, Iterator
from functools import partial
from pathlib import Path

import pytest

from commission.host import Disk
from commission.opening import read_job
from commission.resources import samples
from commission.user.crash_log import LOG
from tests.jobs import make_job, user_env
from tests.terminal import Terminal
from tests.walks import OBSERVER, WRITER

SAMPLE = "small-garden"
ENTERED = b"\x1b[?1049h"  # the alternate screen (xterm control sequences)
# What a terminal is asked for when a full-screen program leaves it:
# leave the alternate screen, show the cursor, and no more reports of the mouse or of pastes.
RESTORED = (b"\x1b[?1049l", b"\x1b[?25h", b"\x1b[?1000l", b"\x1b[?1003l", b"\x1b[?2004l")
SECRET = "secret-4711"
OTHERWISE = """
import sys, threading
from commission import cli
from commission.session import Session
from commission.tui import last_resort

last_resort.PATIENCE_S = {patience_s}

def instead(self, step, text):
    {does}

Session.{of} = instead
sys.exit(cli.main(sys.argv[1:]))
"""


def otherwise(does: str, of: str = "preview", patience_s: float = 0.5) -> str:
    """The program with another doing of a method of its session."""
    return OTHERWISE.format(does=does, of=of, patience_s=patience_s)


class Opened:
    """A job standing at its first loop, and terminals that open it."""

    def __init__(self, folder: Path) -> None:
        self.env = user_env(folder)
        self.folder, self.title, _, self.steps = make_job(folder, SAMPLE)
        self.terminals: list[Terminal] = []

    def run(self, *command: str) -> Terminal:
        """Run Python with these arguments in a terminal of its own."""
        terminal = Terminal([sys.executable, *command], env=self.env)
        self.terminals.append(terminal)
        return terminal

    def open(self) -> Terminal:
        """Open the job, and wait until the walk stands there."""
        terminal = self.run("-m", "commission", "open", str(self.folder))
        terminal.wait_for(self.title)
        terminal.wait_for("quit")
        return terminal

    def kept(self) -> list[str]:
        """The text of every entry on disk."""
        return [entry.text for entry in read_job(self.folder, Disk()).state.entries]


@pytest.fixture
def opened(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[Opened]:
    """A job to open; whatever still runs in the end is ended."""
    monkeypatch.setenv("COMMISSION_HOME", str(tmp_path / "user"))
    job = Opened(tmp_path)
    yield job
    for terminal in job.terminals:
        if not terminal.ended:
            terminal.kill()


def until(condition: Callable[[], bool], terminal: Terminal, limit_s: float = 10.0) -> None:
    """Read from the terminal until a condition holds."""
    end = time.monotonic() + limit_s
    while not condition():
        terminal.feed(0.01)
        assert time.monotonic() < end, terminal.text


@pytest.mark.parametrize("number", [signal.SIGTERM, signal.SIGHUP])
def test_a_signal_restores_the_terminal_and_the_half_typed_entry_is_offered_again(
    opened: Opened, number: signal.Signals
) -> None:
    before = opened.kept()
    terminal = opened.open()
    terminal.press("2.2")
    terminal.wait_for("+ pass")
    place = len(terminal.raw)
    assert terminal.kill(number) == 128 + number
    last = bytes(terminal.raw[place:])
    for sequence in RESTORED:
        assert sequence in last
    again = opened.open()
    again.wait_for("+ pass")
    again.press("2", "enter")
    again.wait_for(f"entry {len(before) + 1}")
    assert opened.kept() == [*before, "2.22"]


def test_a_signal_while_the_screen_is_being_set_up_ends_the_program_and_loses_no_draft(
    opened: Opened,
) -> None:
    opened.open().press("2.2")
    opened.terminals[0].wait_for("+ pass")
    opened.terminals[0].kill(signal.SIGTERM)
    for wait_s in (0.0, 0.03, 0.06):
        early = opened.run("-m", "commission", "open", str(opened.folder))
        until(partial(operator.contains, early.raw, ENTERED), early)
        time.sleep(wait_s)
        assert early.kill(signal.SIGTERM) == 128 + signal.SIGTERM
        for sequence in RESTORED:
            assert sequence in early.raw
    opened.open().wait_for("+ pass")


def test_a_half_typed_retest_of_an_earlier_step_is_offered_again_too(opened: Opened) -> None:
    terminal = opened.open()
    terminal.press("pgup", "1 and more")
    terminal.wait_for("1 and more")
    place = next(line for line in terminal.lines if "step " in line)
    terminal.kill(signal.SIGTERM)
    again = opened.run("-m", "commission", "open", str(opened.folder))
    again.wait_for("1 and more")
    assert place in again.text


def test_a_half_typed_entry_is_not_offered_after_a_later_answer(opened: Opened) -> None:
    before = opened.kept()
    opened.open().press("2.2")
    opened.terminals[0].wait_for("+ pass")
    opened.terminals[0].kill(signal.SIGTERM)
    again = opened.open()
    again.wait_for("+ pass")
    again.press("2", "enter")
    again.wait_for(f"entry {len(before) + 1}")
    again.kill()
    last = opened.run("-m", "commission", "open", str(opened.folder))
    last.wait_for("leads changed over")
    assert "+ pass" not in last.text


def test_a_terminal_that_is_closed_loses_nothing(opened: Opened) -> None:
    before = opened.kept()
    terminal = opened.open()
    terminal.press("2.22", "enter")
    terminal.wait_for(f"entry {len(before) + 1}")
    terminal.press("2.2")
    terminal.wait_for("2.2")
    pid = terminal.pid
    os.close(terminal._fd)  # the window is gone: the kernel sends SIGHUP
    terminal.ended = True
    os.waitpid(pid, 0)
    assert opened.kept() == [*before, "2.22"]
    again = opened.run("-m", "commission", "open", str(opened.folder))
    again.wait_for("leads changed over")


def test_a_stopped_program_ends_when_its_terminal_is_closed(opened: Opened) -> None:
    """The kernel lets it go on (SIGCONT) with the hang-up: nothing is there to draw on."""
    terminal = opened.open()
    terminal.press("2.2")
    terminal.wait_for("2.2")
    os.kill(terminal.pid, signal.SIGSTOP)
    os.close(terminal._fd)
    terminal.ended = True
    ends_at = time.monotonic() + 20
    while (ended := os.waitpid(terminal.pid, os.WNOHANG)) == (0, 0):
        if time.monotonic() > ends_at:
            os.kill(terminal.pid, signal.SIGKILL)
            os.waitpid(terminal.pid, 0)
            pytest.fail("it did not end")
        time.sleep(0.05)
    assert os.waitstatus_to_exitcode(ended[1]) == 128 + signal.SIGHUP


def test_stopping_and_going_on_draws_everything_anew(opened: Opened) -> None:
    terminal = opened.open()
    terminal.press("2.2")
    terminal.wait_for("+ pass")
    place = len(terminal.raw)
    terminal.press("ctrl+z")
    until(lambda: os.waitpid(terminal.pid, os.WNOHANG | os.WUNTRACED)[0] != 0, terminal)
    until(lambda: RESTORED[0] in terminal.raw[place:], terminal)
    terminal.screen.reset()
    os.kill(terminal.pid, signal.SIGCONT)
    terminal.wait_for(opened.title)
    terminal.wait_for("+ pass")
    terminal.press("2")
    terminal.wait_for("2.22")
    terminal.press("ctrl+q")
    assert terminal.wait_end() == 0


def test_a_second_program_is_refused_with_who_and_since_when(opened: Opened) -> None:
    first = opened.open()
    second = opened.run("-m", "commission", "open", str(opened.folder))
    assert second.wait_end() == 3
    said = " ".join(second.text.split())
    assert "is open in another program" in said
    assert " since 20" in said
    assert "close it there first" in said
    first.press("2.22", "enter")
    first.wait_for("Saved on disk")


def test_keys_sent_in_one_burst_never_mix_entries(opened: Opened) -> None:
    before = opened.kept()
    terminal = opened.open()
    terminal.press("2.22\r2.23\r1\r")
    terminal.wait_for(f"entry {len(before) + 3}")
    assert opened.kept() == [*before, "2.22", "2.23", "yes"]


def test_a_burst_after_a_fail_keeps_one_entry_only(opened: Opened) -> None:
    before = opened.kept()
    terminal = opened.open()
    terminal.press("11.6\r2\r")
    terminal.wait_for("FAIL")
    terminal.press("ctrl+q")
    assert terminal.wait_end() == 0
    assert opened.kept() == [*before, "11.6"]


@pytest.mark.parametrize(
    "text", ["\u202egnp.exe", "\u009b31mred", "a\u2028b", "\u200b1"], ids=ascii
)
def test_steering_characters_pasted_never_reach_the_terminal(opened: Opened, text: str) -> None:
    terminal = opened.open()
    terminal.press("esc")
    terminal.wait_for("Add a note")
    terminal.press("3", "enter")
    terminal.wait_for("Keep")
    terminal.press(f"\x1b[200~begin{text}end\x1b[201~")
    terminal.wait_for("begin")
    hidden = next(c for c in text if not c.isprintable())
    terminal.wait_for("begin" + text[0] if text[0].isprintable() else f"<U+{ord(hidden):04X}>")
    terminal.press("enter", "enter")
    terminal.wait_gone("Back, keep nothing")
    assert hidden.encode() not in terminal.raw
    terminal.press("ctrl+q")
    assert terminal.wait_end() == 0
    assert all(kept.isprintable() for kept in opened.kept())


@pytest.mark.parametrize("code", ["001b", "202e", "009b"])
def test_steering_characters_of_a_site_file_never_reach_the_terminal(
    opened: Opened, tmp_path: Path, code: str
) -> None:
    site = tmp_path / "hostile.toml"
    text = samples()[SAMPLE].read_text("utf-8")
    name = next(line for line in text.splitlines() if line.startswith("name = "))
    site.write_text(text.replace(name, f'name = "a\\u{code}[2Jb"'), encoding="utf-8")
    terminal = opened.run("-m", "commission", "open", str(site))
    assert terminal.wait_end() == 2
    assert f"U+{code.upper()}" in terminal.text
    assert chr(int(code, 16)).encode() not in terminal.raw


def test_a_fault_of_the_program_restores_the_terminal_and_prints_no_data(opened: Opened) -> None:
    before = opened.kept()
    failing = otherwise(f"customer = '{SECRET}'; raise RuntimeError('too long')")
    terminal = opened.run("-c", failing, "open", str(opened.folder))
    terminal.wait_for(opened.title)
    terminal.press("2")
    assert terminal.wait_end() == 2
    said = " ".join(terminal.text.split())
    assert "This is a fault of the program, not yours" in said
    for secret in (SECRET, OBSERVER, WRITER, "Traceback"):
        assert secret not in said
    for sequence in RESTORED:
        assert sequence in terminal.raw
    assert opened.kept() == before


@pytest.mark.parametrize("number", [signal.SIGTERM, signal.SIGHUP])
@pytest.mark.parametrize("stay", ["while True: pass", "threading.Event().wait()"])
def test_a_program_that_is_stuck_ends_all_the_same_and_lets_its_job_go(
    opened: Opened, stay: str, number: signal.Signals
) -> None:
    before = opened.kept()
    terminal = opened.run("-c", otherwise(stay), "open", str(opened.folder))
    terminal.wait_for(opened.title)
    terminal.press("2")
    terminal.settle()
    assert terminal.kill(number) == 128 + number
    assert terminal.is_as_before
    for sequence in RESTORED:
        assert sequence in terminal.raw
    assert opened.kept() == before
    written = (Path(opened.env["COMMISSION_HOME"]) / LOG).read_text("utf-8")
    assert " instead\n" in written
    assert written.endswith(f"  it had not ended 0.5 s after {number.name}\n")
    opened.open()  # nobody holds it


def test_a_draft_that_cannot_be_kept_is_no_reason_to_stay(opened: Opened) -> None:
    failing = otherwise("raise RuntimeError('no')", of="keep_draft", patience_s=60)
    terminal = opened.run("-c", failing, "open", str(opened.folder))
    terminal.wait_for(opened.title)
    terminal.press("2")
    terminal.settle()
    assert terminal.kill(signal.SIGTERM) == 128 + signal.SIGTERM
    assert terminal.is_as_before


def test_a_stop_is_no_part_of_the_time_that_an_end_may_take(opened: Opened) -> None:
    late = otherwise("pass", of="nothing")  # only less patient
    terminal = opened.run("-c", late, "open", str(opened.folder))
    terminal.wait_for(opened.title)
    terminal.press("2.2")
    terminal.wait_for("+ pass")
    os.kill(terminal.pid, signal.SIGSTOP)
    os.kill(terminal.pid, signal.SIGTERM)
    time.sleep(1.0)
    os.kill(terminal.pid, signal.SIGCONT)
    assert terminal.wait_end() == 128 + signal.SIGTERM
    opened.open().wait_for("+ pass")


def test_a_terminal_that_takes_nothing_keeps_no_stuck_program_and_is_left_as_it_was(
    opened: Opened,
) -> None:
    """Whoever has it next, the shell as a rule, may still wait for it."""
    stuck = otherwise("sys.__stderr__.write('x' * 10**6)")
    look = "import fcntl, os; print('waits', not fcntl.fcntl(2, fcntl.F_GETFL) & os.O_NONBLOCK)"
    both = '"$0" -c "$1" open "$2"; "$0" -c "$3"'
    shell = ["sh", "-c", both, sys.executable, stuck, str(opened.folder), look]
    terminal = Terminal(shell, env=opened.env)
    opened.terminals.append(terminal)
    terminal.wait_for(opened.title)
    (child,) = Path(f"/proc/{terminal.pid}/task/{terminal.pid}/children").read_text().split()
    terminal.press("2")
    time.sleep(0.5)  # nobody reads: its own words fill the line
    os.kill(int(child), signal.SIGTERM)
    end = time.monotonic() + 20
    while Path(f"/proc/{child}").exists():
        assert time.monotonic() < end
        time.sleep(0.05)
    until(lambda: b"waits True" in terminal.raw, terminal)


def test_a_signal_in_the_form_of_a_new_site_ends_all_and_not_only_the_form(
    opened: Opened, tmp_path: Path
) -> None:
    env = user_env(tmp_path / "somebody else")
    terminal = Terminal([sys.executable, "-m", "commission"], env=env, cwd=tmp_path)
    opened.terminals.append(terminal)
    terminal.wait_for("Draw up the site file")
    terminal.press("2", "enter")
    terminal.wait_for("a form asks")
    terminal.press("enter", "enter", "enter")
    terminal.wait_for("Boxes on each path")
    begun = time.monotonic()
    assert terminal.kill(signal.SIGTERM) == 128 + signal.SIGTERM
    assert time.monotonic() - begun < 4
    assert terminal.is_as_before
