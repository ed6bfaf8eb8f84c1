"""A short form of every part of the campaign, from a new random state each time.

The last lines of every run tell the state; `COMMISSION_SEED` brings it back.
"""

from __future__ import annotations

import os
import re
import subprocess
import sys
from itertools import pairwise
from pathlib import Path

import pytest

from commission.cli import parser
from tests.campaign.__main__ import shares, spread
from tests.campaign.parts import PARTS, Part
from tests.campaign.private import COMMANDS
from tests.campaign.rows import Row, merged, table
from tests.conftest import SEED

ROOT = Path(__file__).parents[2]


@pytest.mark.parametrize("part", PARTS, ids=lambda part: part.name)
def test_nothing_is_lost_and_nothing_escapes(part: Part) -> None:
    seed = int(os.environ[SEED])
    rows = part.run(part.short, seed)
    assert rows
    assert all(row.holds for row in rows), f"{SEED}={seed}\n{table(rows)}"


def test_the_random_state_is_new_and_told_also_where_all_holds() -> None:
    command = [sys.executable, "-m", "pytest", "tests/test_text.py"]
    unset = {key: value for key, value in os.environ.items() if key != SEED}
    told = []
    for env in (unset, {**unset, SEED: "77"}):
        run = subprocess.run(command, env=env, capture_output=True, text=True, check=True, cwd=ROOT)
        found = re.search(rf"^random state of the campaign: {SEED}=([0-9]+)$", run.stdout, re.M)
        assert found is not None, run.stdout
        told.append(found[1])
    assert told[0] != os.environ[SEED]  # it would be, once in a million
    assert told[1] == "77"


def test_every_command_is_tried_with_the_network_denied() -> None:
    known = next(action.choices for action in parser()._actions if action.dest == "command")
    assert known is not None
    assert {command[0] for command in COMMANDS} - {"nonsense"} == set(known)


def test_shares_that_wait_are_spread_over_those_that_compute() -> None:
    wanted = list(shares(7, [], 1))
    order = spread(wanted)
    assert sorted(order, key=wanted.index) == wanted
    places = [place for place, share in enumerate(order) if share.part == "kill"]
    apart = [later - earlier for earlier, later in pairwise(places)]
    assert max(apart) <= 2 * len(order) / len(places)


def test_shares_are_put_together() -> None:
    one, other = Row("kill", "ends", 7, times=3), Row("kill", "ends", 8, times=2)
    other.lose("an answer")
    (whole,) = merged([one, other])
    assert (whole.times, whole.lost, whole.seed, whole.holds) == (5, 1, 7, False)
    assert "lost: an answer" in table([whole])
