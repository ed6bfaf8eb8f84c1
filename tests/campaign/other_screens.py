"""The screens that need no job: the start, a new site by its form, a site file edited, reviews.

They are driven by random keys, texts and sizes.

Whoever adds a program of full screens adds a line to `APPS`.
"""

from __future__ import annotations

import asyncio
import random
from collections.abc import Callable
from pathlib import Path
from typing import Any
from unittest.mock import patch

from textual import events

from commission.authoring.catalogue import own_kinds
from commission.authoring.station_list import parse
from commission.editing.edition import Edition
from commission.host import Disk
from commission.report.review import review_in_full
from commission.resources import samples
from commission.site.changes.kinds import Rename
from commission.tui.base import BaseApp
from commission.tui.edit_app import EditApp
from commission.tui.new_answers import Evenly
from commission.tui.new_app import NewApp
from commission.tui.new_listed import Listed, Offered
from commission.tui.review_app import ReviewApp
from commission.tui.screens.form import FormScreen
from commission.tui.start_app import StartApp
from commission.tui.widgets.pick_input import PickInput
from commission.user.recent import remember_job
from commission.user.signers import KnownSigners
from tests import walks
from tests.campaign.rows import Row, place, timed, told
from tests.report import small
from tests.tui.golden import screen_text
from tests.tui.walking import Walk

KEYS = (
    "up", "down", "left", "right", "home", "end", "pageup", "pagedown", "tab", "shift+tab",
    "enter", "enter", "escape", "backspace", "delete", "ctrl+t", "ctrl+u", "1", "2", "7", "y",
)  # fmt: skip
TEXTS = (
    "", "7", "120", "9999999", "-1", "14 AWG", "2.5 mm²", "ft", "m", "yes", "a site", "[red]x[/]",
    "a[/]b", "\x1b[2J", "\u202e", "x" * 3000, "../../x", "\N{ROCKET}", "<script>", "1e400",
)  # fmt: skip
SIZES = ((80, 24), (120, 40), (60, 16), (40, 10))
STEPS = 40  # in one program


def start(folder: Path, rng: random.Random) -> BaseApp[Any]:
    """The start, with recent jobs: one as it should be, one gone, one that is no job."""
    session = walks.begin(folder, "small-garden")
    session.close()
    for job in (session.job.folder, folder / "gone", folder):
        remember_job(job, walks.START)
    return StartApp(rng.choice(("", "what was said before [/] [red]x")))


def new(folder: Path, _rng: random.Random) -> BaseApp[Any]:
    """A new site by its form."""
    return NewApp(folder / "new.toml", Evenly(own_kinds(folder / "kinds.toml")), Disk())


def listed(folder: Path, rng: random.Random) -> BaseApp[Any]:
    """A new site from a list, with a cable missing or not."""
    cable = rng.choice(("14 AWG", ""))
    text = f"zone,terminals,run,box,distance,wire\n1,1,A,A1,9 m,{cable}\n2,2,B,B1,9 m,14 AWG\n"
    stations = parse(text.encode("utf-8"), "list.csv")
    questions = Listed(stations, own_kinds(folder / "kinds.toml"), Offered("a [red]site", "SI"))
    return NewApp(folder / "new.toml", questions, Disk())


def review(_folder: Path, rng: random.Random) -> BaseApp[Any]:
    """A report reviewed: sound, or spoilt."""
    content = small.sound()
    if rng.random() < 0.5:
        at = rng.randrange(len(content))
        content = content[:at] + bytes([content[at] ^ 1]) + content[at + 1 :]
    return ReviewApp(review_in_full(content, "report.toml", KnownSigners()))


def edit(folder: Path, rng: random.Random) -> BaseApp[Any]:
    """A site file edited, with changes of an earlier program or without."""
    site = folder / "edited.toml"
    site.write_bytes(samples()[rng.choice(("small-garden", "converted-bundle"))].read_bytes())
    for earlier in range(2):
        edition = Edition(site, Disk(), walks.clock())
        if earlier or rng.random() < 0.5:
            break
        edition.change(Rename("path", edition.version.site.path[0].id, "[red]x[/]"))
        edition.close()
    return EditApp(edition)


APPS: tuple[Callable[[Path, random.Random], BaseApp[Any]], ...] = (start, new, listed, review, edit)


def run(count: int, seed: int) -> list[Row]:
    """So many steps at these screens."""
    rng = random.Random(seed)
    row = Row("input", "steps at the start, a new site's form, reviews, an edited site", seed)
    played = 0
    with timed(row):
        while row.times < count:
            with place() as folder, patch.object(Path, "cwd", lambda: folder):
                work = folder / "work"
                work.mkdir()
                app = APPS[played % len(APPS)](work, rng)
                played += 1
                asyncio.run(_played(app, min(STEPS, count - row.times), rng, row))
    return [row]


async def _played(app: BaseApp[Any], steps: int, rng: random.Random, row: Row) -> None:
    """Random keys, texts and sizes at one program, until it ends."""
    done: list[object] = []
    try:
        async with app.run_test(size=rng.choice(SIZES)) as pilot:
            walk = Walk(app, pilot)
            await pilot.pause()
            for _ in range(steps):
                if not app.is_running or app.return_value is not None:
                    break
                row.times += 1
                done.append(await _step(walk, rng))
                shown = screen_text(app).replace("\n", "")
                if not shown.isprintable():
                    row.escape(f"{type(app).__name__}: {shown!r} after {done}")
    except Exception as error:
        row.escape(f"{type(app).__name__}: {told(error)} after {done}")
    if app.failure is not None:
        row.escape(f"{type(app).__name__}: {told(app.failure)} after {done}")


async def _step(walk: Walk, rng: random.Random) -> object:
    """One thing that somebody does, and what it was."""
    what = rng.random()
    if what < 0.6:
        keys = rng.choices(KEYS, k=rng.randint(1, 4))
        await walk.press(*keys)
        return keys
    text = rng.choice(TEXTS)
    screen = walk.app.screen
    if isinstance(screen, FormScreen) and what < 0.85:
        for line in screen.query(PickInput):
            if rng.random() < 0.5:
                line.value = rng.choice((*line.choices, text[:60]))
        screen.query_one("#dialogue-end").focus()
        await walk.press("home", "enter")
        return "filled", text
    if what < 0.95:
        if walk.app.focused is not None:
            walk.app.focused.post_message(events.Paste(text))
        await walk.press("enter")
        return "pasted", text
    size = rng.choice(SIZES)
    await walk.pilot.resize_terminal(*size)
    return size
