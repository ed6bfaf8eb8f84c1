"""How long the program takes to start and to answer keys, against a bare Textual program.

    python -m tests.bench_start

Everything is measured in one run in a pseudo-terminal, medians of 20; only the ratios count.
"""

from __future__ import annotations

import statistics
import sys
import tempfile
import time
from collections.abc import Callable
from pathlib import Path

from tests.terminal import Terminal

ROUNDS = 20
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
    BINDINGS = [Binding("pagedown", "move", "on", priority=True)]
    def compose(self):
        yield OptionList(*(f"step {n}" for n in range(COUNT)))
        yield Static("step 0", id="card")
        yield Input(id="entry")
        yield Static("", id="verdict")
        yield Footer()
    def on_mount(self):
        self.at = 0
        self.query_one(Input).focus()
    def action_move(self):
        self.at += 1
        self.query_one(OptionList).highlighted = self.at
        self.query_one("#card", Static).update(f"step {self.at}")
    def on_input_changed(self, event):
        self.query_one("#verdict", Static).update(f"typed {event.value}")
    def on_input_submitted(self, event):
        self.action_move()
        event.input.value = ""
Bare().run()
"""


def median_ms(measure: Callable[[], float]) -> float:
    """Median of ROUNDS measurements, in ms."""
    return 1000 * statistics.median(measure() for _ in range(ROUNDS))


def start_s(command: list[str], words: str, env: dict[str, str]) -> float:
    """Seconds from starting a program until words stand on its screen."""
    terminal = Terminal(command, size=(120, 40), env=env)
    try:
        return terminal.wait_for(words)
    finally:
        terminal.kill()


def key_s(terminal: Terminal, key: str, changed: Callable[[], bool]) -> float:
    """Seconds from sending a key until the screen has changed as expected."""
    begin = time.perf_counter()
    terminal.press(key)
    while not changed():
        if not terminal.feed(0.002) or time.perf_counter() - begin > 5:
            raise AssertionError(f"{key!r} changed nothing:\n{terminal.text}")
    return time.perf_counter() - begin


def key_medians(terminal: Terminal, keys: list[tuple[str, str]]) -> dict[str, float]:
    """Median ms of each named key, the screen's text being the sign of the change."""
    found: dict[str, list[float]] = {name: [] for name, _ in keys}
    for _ in range(ROUNDS):
        for name, key in keys:
            while terminal.feed(0.03) and terminal.raw and terminal.raw.clear() is None:
                before = terminal.text
                if not terminal.raw:
                    break
            before = terminal.text
            found[name].append(key_s(terminal, key, lambda seen=before: terminal.text != seen))
    return {name: 1000 * statistics.median(times) for name, times in found.items()}


def main() -> None:
    """Print the ratios."""
    with tempfile.TemporaryDirectory() as folder:
        run(Path(folder))


def run(folder: Path) -> None:
    """Measure everything with the user's folder and the job in a temporary place."""
    from tests.jobs import make_job, user_env

    env = user_env(folder)
    job, title, expected, count = make_job(folder, "sixty-boxes")
    python = sys.executable
    ours = [python, "-m", "commission", "open", str(job)]
    hello = median_ms(lambda: start_s([python, "-c", HELLO], "hello world", env))

    def our_start() -> float:
        terminal = Terminal(ours, size=(120, 40), env=env)
        try:
            return max(terminal.wait_for(title), terminal.wait_for(expected))
        finally:
            terminal.kill()

    start = median_ms(our_start)
    print(f"start to title and range    {start:7.0f} ms   hello {hello:7.0f} ms   "
          f"ratio {start / hello:.2f}   (wanted: at most 2.0)")  # fmt: skip

    bare = Terminal([python, "-c", BARE.replace("COUNT", str(count))], size=(120, 40), env=env)
    bare.wait_for("step 1")
    keys = [("moving", "pgdn"), ("typing", "1"), ("confirming", "enter")]
    control = key_medians(bare, keys)
    bare.kill()
    walk = Terminal(ours, size=(120, 40), env=env)
    walk.wait_for(title)
    measured = key_medians(walk, keys)
    walk.kill()
    for name, _key in keys:
        ratio = measured[name] / control[name]
        print(f"{name:<27} {measured[name]:7.1f} ms   bare  {control[name]:7.1f} ms   "
              f"ratio {ratio:.2f}   (wanted: at most 1.5)")  # fmt: skip


if __name__ == "__main__":
    main()
