"""A site file of 500 stations on 4 paths edited: no key takes more of the processor than a frame.

Processor time of this thread, median, so that other work of the machine counts little;
`python -m tests.bench_edit` measures in a terminal, and how fast the values follow.
"""

from __future__ import annotations

import statistics
import time
from collections.abc import Iterable
from pathlib import Path

from commission.authoring.draft import Kinds, usual_supply
from commission.authoring.evenly import Answers, drawn_evenly
from commission.authoring.writing import site_text
from commission.editing.edition import Edition
from commission.host import Disk
from commission.tui.edit_app import EditApp
from tests.tui.walking import LARGE, Walk, play_in
from tests.walks import clock

FRAME_MS = 1000 / 60
KEYS = 15
ANSWERS = Answers("Large", "US", usual_supply("US", 3), (4,), "12 AWG", (125,) * 4, "12 ft", 1)


async def median_ms(walk: Walk, keys: Iterable[str]) -> float:
    """Processor time of each of some keys with all that is drawn for it, in ms."""
    found = []
    for key in keys:
        start = time.thread_time()
        await walk.press(key)
        found.append(1000 * (time.thread_time() - start))
    return statistics.median(found)


def test_moving_and_typing_fit_a_frame(tmp_path: Path) -> None:
    path = tmp_path / "large.toml"
    path.write_text(site_text(drawn_evenly(ANSWERS, Kinds())), "utf-8")
    edition = Edition(path, Disk(), clock())
    assert len(edition.version.site.station) == 500

    async def scene(walk: Walk) -> None:
        await walk.shows("no value changed")
        assert await median_ms(walk, ["down"] * KEYS) < FRAME_MS
        await walk.menu("Go to a station")
        await walk.shows("Go there")
        assert await median_ms(walk, "B60B60B60B60B60") < FRAME_MS
        await walk.press("escape", "enter")

    try:
        play_in(EditApp(edition), scene, LARGE)
    finally:
        edition.close()
