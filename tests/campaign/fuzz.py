"""A state machine of a job: anything that a person may do or type, in any order.

The model is the list of entries: it only grows, what is refused changes nothing, the job is always
what a replay of its entries gives, and opened again from disk it is the same.
"""

from __future__ import annotations

import random
from pathlib import Path
from typing import ClassVar

from hypothesis import HealthCheck, Phase, seed, settings
from hypothesis import strategies as st
from hypothesis.stateful import (
    RuleBasedStateMachine,
    initialize,
    invariant,
    rule,
    run_state_machine_as_test,
)

from commission.crew import Hands
from commission.host import Disk
from commission.opening import open_job, read_job
from commission.practice import begin as practice
from commission.practice.truth import LEVELS
from commission.problems import CommissionError
from commission.record.entry import Entry
from commission.record.replay import replay
from commission.resources import samples
from commission.session import Session
from tests import walks
from tests.campaign.acts import ACTS, SELDOM, Act
from tests.campaign.kill import fresh_site
from tests.campaign.rows import Row, place, timed, told

STEPS = 100  # of one example
AGAIN = 0.05  # how often a job is opened again before something is done
TEXTS = st.one_of(
    st.sampled_from(["", " ", "yes", "no", "1", "OL", "12,5", "3 4 ohm", "[red]x[/]", "a[/]b",
                     "\x1b[2J", "\u202e", "x" * 3000, "=1+1", "<script>", "'\"\\", "\N{ROCKET}"]),
    st.text(max_size=30),
    st.text("0123456789.,+-eE<>OLkMohmVA %", max_size=12),
)  # fmt: skip
PICKED = st.sampled_from([act for act in (*ACTS, *SELDOM) for _ in range(act.weight)])


class Machine(RuleBasedStateMachine):
    """One job on the disk of this machine, and the model of it."""

    row: ClassVar[Row]

    @initialize(state=st.integers(0, 2**32))
    def begin(self, state: int) -> None:
        """Begin a job of any kind."""
        self.rng = random.Random(state)
        self._place = place()
        session = begun(self._place.__enter__(), self.rng)
        session.crew.take(Hands(walks.OBSERVER, walks.WRITER, walks.METER))
        self.session: Session = session
        self.model: tuple[Entry, ...] = ()
        self.opened()

    def opened(self) -> None:
        """The job is open now, for the first time or again."""

    @invariant()
    def entries_only_grow(self) -> None:
        """What was there is there, and the job is what its entries amount to."""
        state = self.session.job.state
        assert state.entries[: len(self.model)] == self.model
        assert len(state.entries) == len(self.model) or state == replay(state.entries)
        self.model = state.entries

    def reopened(self) -> None:
        """Close the job, and open it from disk: it is the same."""
        state, folder = self.session.job.state, self.session.job.folder
        self.session.close()
        self.session = open_job(folder, disk=Disk(), now=walks.clock())
        assert self.session.job.state == state
        self.opened()

    def teardown(self) -> None:
        """What is on disk is the same."""
        self.session.close()
        try:
            assert read_job(self.session.job.folder, Disk()).state == self.session.job.state
        finally:
            self._place.__exit__(None, None, None)


def begun(folder: Path, rng: random.Random) -> Session:
    """A job begun: at a small site, at an old bundle, or a practice."""
    kind = rng.random()
    if kind < 0.2:
        level = rng.choice(tuple(LEVELS))
        numbers = rng.randint(1, 2), level, rng.randrange(1000)
        return practice.begin(*numbers, disk=Disk(), now=walks.clock(), folder=folder / "practice")
    site = fresh_site(folder, rng)
    if kind < 0.35:
        site.write_bytes(samples()["converted-bundle"].read_bytes())
    return open_job(site, disk=Disk(), now=walks.clock())


class JobMachine(Machine):
    """A job through the session."""

    @rule(act=PICKED, text=TEXTS, state=st.integers(0, 2**32))
    def do(self, act: Act, text: str, state: int) -> None:
        """Do something; it is kept, or refused in words and nothing has changed."""
        self.row.times += 1
        rng = random.Random(state)
        if rng.random() < AGAIN:
            self.reopened()
        try:
            act.do(self.session, rng, text)
        except CommissionError as refused:
            said = str(refused)
            if not said or not said.replace("\n", "").isprintable():
                raise AssertionError(f"{act.name} was refused with {said!r}") from None


def run(count: int, state: int) -> list[Row]:
    """So many steps through the session."""
    row = Row("input", "steps of a state machine through the session", state)
    played(JobMachine, row, count, STEPS)
    return [row]


def played(machine: type[RuleBasedStateMachine], row: Row, count: int, steps: int) -> None:
    """Run a machine for so many steps; what it finds is told, not made shorter."""
    with timed(row):
        while row.times < count:
            wanted = settings(
                max_examples=max(1, (count - row.times) // steps),
                stateful_step_count=steps,
                deadline=None,
                database=None,
                phases=[Phase.generate],
                suppress_health_check=list(HealthCheck),
                print_blob=False,
            )
            case = seed(row.seed + row.times)(type(machine.__name__, (machine,), {"row": row}))
            try:
                run_state_machine_as_test(case, settings=wanted)
            except Exception as error:
                row.escape(told(error))
                return
