"""The parts of the campaign, as data: which, how often in full, how often with the tests."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import partial

from tests.campaign import (
    editing,
    failing,
    fuzz,
    hostile,
    kill,
    mutations,
    other_screens,
    power,
    private,
    races,
    readings,
    screen,
    size,
)
from tests.campaign.rows import Row

Run = Callable[[int, int], list[Row]]


@dataclass(frozen=True, slots=True)
class Part:
    """One part: `run(count, seed)` gives its rows.

    `shares` of a full run are done each in a process of its own, with seeds that follow each other.
    """

    name: str
    run: Run
    full: int
    short: int
    shares: int = 1


# The longest first, so that the processes end at about the same time.
PARTS: tuple[Part, ...] = (
    Part("kill", kill.run, 500, 5, 20),
    Part("screen", screen.run, 3_000, 60, 6),
    Part("races", races.run, 200, 3, 4),
    Part("lists", partial(mutations.run_kind, "lists from the field"), 5_000, 30, 2),
    Part("session", fuzz.run, 17_000, 200, 4),
    Part("hostile", hostile.run, len(hostile.VISIBLE), 1),
    Part("hours", size.run_hours, 2_880, 40),
    Part("power", power.run, 3_000, 60, 2),
    Part("reports", partial(mutations.run_kind, "reports"), 5_000, 40),
    Part("checklists", partial(mutations.run_kind, "checklists"), 5_000, 40),
    Part("torn", power.run_torn, 1, 1),
    Part("failing", failing.run, 2_000, 60),
    Part("sites", partial(mutations.run_kind, "site files"), 5_000, 60),
    Part("editing", editing.run, 10_000, 60),
    Part("station-lists", partial(mutations.run_kind, "lists of stations"), 5_000, 40),
    Part("user-files", partial(mutations.run_kind, "files of the user"), 2_500, 60),
    Part("job-files", partial(mutations.run_kind, "records and drafts"), 5_000, 60),
    Part("other-screens", other_screens.run, 3_000, 60),
    Part("private", private.run, 10, 1),
    Part("readings", readings.run, 100_000, 3_000),
    Part("entries", size.run, 10_000, 1_000),
)
