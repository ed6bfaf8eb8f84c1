"""How long the program takes to start and to answer keys, against a bare Textual program.

    python -m tests.bench_start

Everything is measured in one run in a pseudo-terminal, medians of 20; only the ratios count.
"""

from __future__ import annotations

import os
import statistics
import sys
import tempfile
import time
from pathlib import Path

from tests.jobs import make_job, user_env
from tests.terminal import Terminal
from tests.walks import begin

ROUNDS = 20
KEYS = {"typing": "1", "confirming": "enter", "moving": "pgup"}
HELLO = """
from textual.app import App
from textual.widgets import Static
class Hello(App):
    def compose(self):
        yield Static("hello world")
Hello().run()
"""
# The control: a list as long as the walk's, an input and a footer, nothing behind them.
BARE = """
from textual.app import App
from textual.binding import Binding
from textual.widgets import Footer, Input, OptionList, Static
class Bare(App):
    BINDINGS = [Binding("pageup", "move(-1)", "back", priority=True)]
    def compose(self):
        yield OptionList(*(f"step {n}" for n in range(COUNT)))
        yield Static("step 0", id="card")
        yield Input(id="entry")
        yield Static("", id="verdict")
        yield Footer()
    def on_mount(self):
        self.at = 0
        self.query_one(Input).focus()
    def action_move(self, by):
        self.at += by
        self.query_one(OptionList).highlighted = self.at
        self.query_one("#card", Static).update(f"step {self.at}")
    def on_input_changed(self, event):
        self.query_one("#verdict", Static).update(f"typed {event.value}")
    def on_input_submitted(self, event):
        event.input.value = ""
        self.action_move(1)
Bare().run()
"""


def start_s(command: list[str], words: str, env: dict[str, str]) -> float:
    """Seconds from starting a program until words stand on its screen."""
    terminal = Terminal(command, size=(120, 40), env=env)
    try:
        return terminal.wait_for(words)
    finally:
        terminal.kill()


def key_s(terminal: Terminal, key: str, before: str) -> float:
    """Seconds from sending a key until the screen has changed as expected."""
    begin = time.perf_counter()
    terminal.press(key)
    while terminal.text == before:
        if not terminal.feed(0.002) or time.perf_counter() - begin > 5:
            raise AssertionError(f"{key!r} changed nothing:\n{terminal.text}")
    return time.perf_counter() - begin


def key_medians(terminal: Terminal) -> dict[str, float]:
    """Median ms of typing, confirming and moving back, again and again on one step."""
    found: dict[str, list[float]] = {name: [] for name in KEYS}
    for _ in range(ROUNDS):
        for name, key in KEYS.items():
            terminal.settle(0.1)
            before = terminal.text
            found[name].append(key_s(terminal, key, before))
    return {name: 1000 * statistics.median(times) for name, times in found.items()}


def main() -> None:
    """Print the ratios."""
    with tempfile.TemporaryDirectory() as folder:
        run(Path(folder))


def run(folder: Path) -> None:
    """Measure everything with the user's folder and the job in a temporary place."""
    env = user_env(folder)
    os.environ.update(env)
    job, title, expected, count = make_job(folder, "sixty-boxes")
    python = sys.executable
    ours = [python, "-m", "commission", "open"]
    hello = [python, "-c", HELLO]

    def our_start() -> float:
        terminal = Terminal([*ours, str(job)], size=(120, 40), env=env)
        try:
            return max(terminal.wait_for(title), terminal.wait_for(expected))
        finally:
            terminal.kill()

    our_start(), start_s(hello, "hello world", env)  # compiled files are written once
    pairs = [(our_start(), start_s(hello, "hello world", env)) for _ in range(ROUNDS)]
    ours_s, hello_s = (statistics.median(one) for one in zip(*pairs, strict=True))
    show("start to title and range", 1000 * ours_s, 1000 * hello_s, 2.0)

    bare = Terminal([python, "-c", BARE.replace("COUNT", str(count))], size=(120, 40), env=env)
    bare.wait_for("step 1")
    control = key_medians(bare)
    bare.kill()
    session = begin(folder, "small-garden")  # its first steps take any text
    other = session.job.folder
    session.close()
    walk = Terminal([*ours, str(other)], size=(120, 40), env=env)
    walk.wait_for("Who enters the readings here")
    walk.press("Sam Sample", "enter", "enter", "enter", "enter")
    walk.wait_for("step 1 of")
    measured = key_medians(walk)
    walk.kill()
    for name in KEYS:
        show(name, measured[name], control[name], 1.5)


def show(name: str, ours_ms: float, bare_ms: float, wanted: float) -> None:
    """Print one ratio."""
    print(
        f"{name:<26} {ours_ms:7.1f} ms   bare {bare_ms:7.1f} ms   "
        f"ratio {ours_ms / bare_ms:.2f}   (wanted: at most {wanted})"
    )


if __name__ == "__main__":
    main()
