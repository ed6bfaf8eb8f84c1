"""The real program on a job: its folders, its environment, and a walk by keys."""

from __future__ import annotations

import sys
from pathlib import Path

from commission.host import Disk
from commission.job import Job
from commission.opening import read_job
from tests.terminal import Terminal
from tests.walks import METER, OBSERVER, WRITER, begin, first_open, good_answer, walk_until


def user_env(folder: Path) -> dict[str, str]:
    """Environment of a program whose user's folder lies in a temporary place."""
    return {"COMMISSION_HOME": str(folder / "user"), "PYTHONDONTWRITEBYTECODE": ""}


def make_job(folder: Path, sample: str) -> tuple[Path, str, str, int]:
    """A job standing at its first loop; its folder, that title and range, the number of steps."""
    from commission.tui.widgets.step_card import expected_words

    session = begin(folder, sample)
    goal = next(s for s in session.job.plan.steps if s.item.compare == "loop-resistance")
    walk_until(session, goal)
    job = session.job
    words = expected_words(job, job.statuses[goal.id])
    session.close()
    return job.folder, goal.title, words, len(job.statuses)


class Program:
    """The program in a terminal, and the same job in this process to know what comes next.

    The mirror is a session of its own in another folder; it is answered alike, so that the walk
    always knows which step has to stand on the screen and how many entries must be on disk.
    """

    def __init__(self, folder: Path, sample: str, size: tuple[int, int] = (80, 24)) -> None:
        for place in ("program", "mirror"):
            (folder / place).mkdir(parents=True)
        self.folder = folder
        self.env = user_env(folder)
        self.size = size
        self.mirror = begin(folder / "mirror", sample)
        self.site = folder / "program" / f"{sample}.toml"
        self.site.write_bytes((folder / "mirror" / f"{sample}.toml").read_bytes())
        self.terminal: Terminal | None = None

    def start(self) -> Terminal:
        """Start the program on the site; it makes the job or goes on with it."""
        command = [sys.executable, "-m", "commission", "open", str(self.site)]
        self.terminal = Terminal(command, size=self.size, env=self.env)
        return self.terminal

    def close(self) -> None:
        """End what still runs."""
        self.mirror.close()
        if self.terminal is not None and not self.terminal.ended:
            self.terminal.kill()

    def name_people(self) -> None:
        """Fill in the form of people and instrument that a new job begins with."""
        terminal = self.running
        terminal.wait_for("Who enters the readings here")
        terminal.press(WRITER, "enter", OBSERVER, "enter", METER.id, "enter")
        terminal.press("enter")
        terminal.wait_for("step 1 of")

    @property
    def running(self) -> Terminal:
        """The terminal of the program that runs."""
        assert self.terminal is not None
        return self.terminal

    def await_step(self) -> str:
        """Wait until the mirror's next open step stands on the screen; returns its id."""
        step = first_open(self.mirror)
        assert step is not None
        job = self.mirror.job
        place = list(job.statuses).index(step.id) + 1
        self.running.wait_for(f"step {place} of {len(job.statuses)} ")
        self.running.wait_for(step.title)
        return step.id

    def answer_next(self, text: str = "") -> str:
        """Answer the step on the screen by keys, and the mirror's alike; returns the text."""
        step_id = self.await_step()
        step = self.mirror.job.plan.by_id[step_id]
        text = text or good_answer(self.mirror, step)
        photo = "photo 12" if step.item.hidden_later else ""
        self.running.press(text, "enter")
        if photo:
            self.running.wait_for("This will be hidden later")
            self.running.press("enter", photo, "enter", "enter", "enter")
        self.mirror.answer(step, text, photo=photo, confirmed=True)
        self.running.wait_for(f"entry {len(self.mirror.job.state.entries)}")
        return text

    def job_on_disk(self) -> Job:
        """The program's job as it stands on disk."""
        folders = [path for path in self.site.parent.iterdir() if path.is_dir()]
        assert len(folders) == 1
        return read_job(folders[0], Disk())
