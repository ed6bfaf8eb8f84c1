"""A short form of every part of the campaign, from a new random state each time.

`COMMISSION_SEED` brings back the state that a failure told.
"""

from __future__ import annotations

import os
import random

import pytest

from commission.cli import parser
from tests.campaign.parts import PARTS, Part
from tests.campaign.private import COMMANDS
from tests.campaign.rows import Row, merged, table


@pytest.mark.parametrize("part", PARTS, ids=lambda part: part.name)
def test_nothing_is_lost_and_nothing_escapes(part: Part) -> None:
    seed = int(os.environ.get("COMMISSION_SEED", "0")) or random.SystemRandom().randrange(10**6)
    rows = part.run(part.short, seed)
    assert rows
    assert all(row.holds for row in rows), f"COMMISSION_SEED={seed}\n{table(rows)}"


def test_every_command_is_tried_with_the_network_denied() -> None:
    known = next(action.choices for action in parser()._actions if action.dest == "command")
    assert known is not None
    assert {command[0] for command in COMMANDS} - {"nonsense"} == set(known)


def test_shares_are_put_together() -> None:
    one, other = Row("kill", "ends", 7, times=3), Row("kill", "ends", 8, times=2)
    other.lose("an answer")
    (whole,) = merged([one, other])
    assert (whole.times, whole.lost, whole.seed, whole.holds) == (5, 1, 7, False)
    assert "lost: an answer" in table([whole])
