"""A site file of 500 stations on 4 paths edited in a terminal: keys, and the sheet that follows.

    python -m tests.bench_edit

Processor time of a key against a frame of 60 Hz (moving, typing), time from a change until every
changed expected value stands below against half a second, and a change that is taken back while
its values are looked for. Medians of one run; Linux, which tells the time of a thread.
"""

from __future__ import annotations

import statistics
import sys
import tempfile
import time
from pathlib import Path

from commission.authoring.draft import Kinds, usual_supply
from commission.authoring.evenly import Answers, drawn_evenly
from commission.authoring.writing import site_text
from tests.jobs import user_env
from tests.terminal import Terminal

FRAME_MS, SHEET_S = 1000 / 60, 0.5
KEYS, CHANGES = 100, 7
BOXES, PATHS = 125, 4


def main() -> None:
    """Print the ratios."""
    with tempfile.TemporaryDirectory() as folder:
        run(Path(folder))


def run(folder: Path) -> None:
    """Measure with everything in a temporary place."""
    answers = Answers(
        "Bench",
        "US",
        usual_supply("US", 3),
        (PATHS,),
        "12 AWG",
        (BOXES,) * PATHS,
        "12 ft",
        1,
        "",
        "",
    )
    site = folder / "bench.toml"
    site.write_text(site_text(drawn_evenly(answers, Kinds())), encoding="utf-8")
    command = [sys.executable, "-m", "commission", "edit", str(site)]
    terminal = Terminal(command, size=(120, 40), env=user_env(folder))
    terminal.wait_for("no value changed")
    show("moving, CPU of a key", 1000 * keys_s(terminal, ["down"] * KEYS), FRAME_MS, "ms")
    length_form(terminal)
    show("typing, CPU of a key", 1000 * keys_s(terminal, ["1"] * KEYS), FRAME_MS, "ms")
    terminal.press(*["backspace"] * (KEYS + 8))
    terminal.settle()
    terminal.press("13 ft", "enter")
    sheets = [sheet_s(terminal)]
    for n in range(1, CHANGES):
        length_form(terminal)
        terminal.press(*["backspace"] * 8, f"{13 + n} ft", "enter")
        sheets.append(sheet_s(terminal))
    show("a change until all that follows", statistics.median(sheets), SHEET_S, "s ")
    length_form(terminal)
    terminal.press(*["backspace"] * 8, "40 ft", "enter", "enter")
    terminal.settle()
    start = time.perf_counter()
    terminal.press("enter")
    terminal.wait_for("-> 40 ft")
    terminal.press("esc")
    terminal.wait_for("Take back")
    terminal.press("2", "enter")
    terminal.wait_for(f"-> {12 + CHANGES} ft")
    show("a change, and taken back at once", time.perf_counter() - start, SHEET_S, "s ")
    terminal.kill()


def length_form(terminal: Terminal) -> None:
    """Open the form for another length of the cable to a box, with the cursor in the length."""
    terminal.press("esc")
    terminal.wait_for("Go to a station or a box")
    place = next(line for line in terminal.lines if "Go to a station" in line).split()[0]
    terminal.press(place, "enter")
    terminal.wait_for("Number of a station")
    terminal.press("B60", "enter", "enter")
    terminal.wait_for("Esc menu")
    terminal.press("enter")
    terminal.wait_for("Change at B60")
    terminal.press("1", "enter")
    terminal.wait_for("Length, with its unit")
    terminal.press("enter")
    terminal.settle()


def sheet_s(terminal: Terminal) -> float:
    """Keep the form, and wait until the whole sheet has followed."""
    terminal.press("enter")
    terminal.settle()
    start = time.perf_counter()
    terminal.press("enter")
    terminal.wait_for("not written yet")
    terminal.wait_gone("looking for")
    terminal.wait_gone("computing...")
    terminal.wait_for("changed")
    return time.perf_counter() - start


def keys_s(terminal: Terminal, keys: list[str]) -> float:
    """Processor time of the program for each of some keys, in s."""
    terminal.settle()
    before = cpu_s(terminal.pid)
    for key in keys:
        drawn = len(terminal.raw)
        terminal.press(key)
        while len(terminal.raw) == drawn:
            terminal.feed(0.05)
    terminal.settle()
    return (cpu_s(terminal.pid) - before) / len(keys)


def cpu_s(pid: int) -> float:
    """Processor time of all threads of a process so far, in s."""
    tasks = Path(f"/proc/{pid}/task").iterdir()
    return sum(int((task / "schedstat").read_text().split()[0]) for task in tasks) / 1e9


def show(name: str, value: float, wanted: float, unit: str) -> None:
    """Print one ratio."""
    print(f"{name:<34} {value:7.2f} {unit}   ratio {value / wanted:.2f} (wanted: below 1)")


if __name__ == "__main__":
    main()
