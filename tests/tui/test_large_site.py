"""A site with many mixed boxes, far below every minimum: no key waits for a search."""

from __future__ import annotations

import random
import time
from pathlib import Path
from typing import Any

import pytest

from commission.commands.say import patience
from commission.electrical import worst_set
from commission.host import Disk
from commission.opening import open_job
from commission.resources import samples
from tests.tui.walking import Walk, play
from tests.walks import clock

BOXES = 40  # on each of two paths


def site_text() -> str:
    """The sample of two paths with long rows of boxes instead of its own, mixed kinds in them."""
    sample = samples()["two-paths"].read_text("utf-8")
    rng = random.Random(7)
    kinds = ("rotor", "spray", "drip")
    parts = [sample.split("# The trunk of path A")[0]]
    stations, number = [], 0
    for path in "AB":
        parts.append(f'[[path]]\nid = "{path}"\noutput = "1"\ncable = "branch-14"\n')
        for i in range(1, BOXES + 1):
            number += 1
            above = "output" if i == 1 else f"{path}{i - 1}"
            parts.append(
                f'[[path.segment]]\nfrom = "{above}"\nto = "{path}{i}"\n'
                f'length = "{rng.randint(250, 500)} ft"\n[[path.box]]\nid = "{path}{i}"\n'
            )
            stations.append(
                f'[[station]]\nid = "S{number}"\nnumber = {number}\naddress = {number}\n'
                f'path = "{path}"\nbox = "{path}{i}"\ndecoder = "single"\n'
                f'solenoid = [{{ id = "V{number}", kind = "{rng.choice(kinds)}" }}]\n'
            )
    return "".join([*parts, *stations])


def test_keys_wait_for_no_search(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """The long search is over before the first picture; a path's own ends at the first set too low.

    Sets that were computed are counted, not seconds.
    """
    searched: list[int] = []
    search = worst_set.find_worst_set

    def counted(*args: Any, **kwargs: Any) -> worst_set.WorstSet | None:
        found = search(*args, **kwargs)
        searched.append(found.examined if found else 0)
        return found

    monkeypatch.setattr(worst_set, "find_worst_set", counted)
    monkeypatch.setenv("COMMISSION_HOME", str(tmp_path / "user"))
    site = tmp_path / "long.toml"
    site.write_text(site_text(), "utf-8")
    session = open_job(site, kind="new", disk=Disk(), now=clock())
    before = list(searched)
    assert len(before) == 1
    assert before[0] > 2_000

    async def scene(walk: Walk) -> None:
        seen = set()
        slowest_s = 0.0
        await walk.press("escape")
        for status in session.job.statuses.values():
            step = status.step
            if step.item.compare and step.item.compare not in seen:
                seen.add(step.item.compare)
                start = time.perf_counter()
                walk.walk.show_step(step.id)
                await walk.press("1", "backspace")
                slowest_s = max(slowest_s, time.perf_counter() - start)
        assert {"loop-resistance", "together-voltage", "station-voltage"} <= seen
        assert slowest_s < 1.0  # a hundredth of it on a quiet machine

    play(session, scene)
    later = searched[len(before) :]
    assert later  # the paths' own
    assert max(later) < 300


def test_a_long_search_before_the_first_picture_is_said(
    capsys: pytest.CaptureFixture[str],
) -> None:
    with patience("Looking for the worst set of stations", after_s=0.01):
        time.sleep(0.2)
    assert "Looking for the worst set" in capsys.readouterr().err
    with patience("Looking for the worst set of stations", after_s=5.0):
        pass
    assert capsys.readouterr().err == ""
