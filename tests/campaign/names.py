"""Files and folders whose names hold a control character, given to the commands and the screens.

What such a file says is refused; its name is for nobody to refuse, and must never steer a terminal.
"""

from __future__ import annotations

import asyncio
from collections.abc import Iterator
from functools import partial
from pathlib import Path
from typing import Any
from unittest.mock import patch

from commission.commands.review_shown import remarks
from commission.editing.edition import Edition
from commission.host import Disk
from commission.opening import open_job
from commission.problems import CommissionError
from commission.reviewing import Desk
from commission.session import now_local
from commission.text import visible
from commission.tui.app import CommissionApp
from commission.tui.base import BaseApp
from commission.tui.edit_app import EditApp
from commission.tui.review_app import ReviewApp, ReviewsApp
from commission.tui.screens.reviews import Listed
from commission.tui.start_app import StartApp
from commission.user.recent import remember_job
from tests import walks
from tests.campaign.mutations import FAULT, KINDS_FILE, LIST, ran
from tests.campaign.rows import Row, place
from tests.report import small
from tests.tui.golden import screen_text
from tests.tui.walking import Walk

COMMANDS = (
    ("check", "{site}", "{job}", "{report}"), ("expect", "{site}"), ("size", "{site}"),
    ("jobs", "{site}"), ("print", "{site}", "--output", "{new}.html"), ("open", "{site}"),
    ("expect", "{job}"), ("report", "{job}"), ("locate", "{job}"), ("convert", "{job}"),
    ("print", "{job}"), ("enter", "{job}", "{list}", "--by", "Sam Sample"),
    ("review", "{report}"), ("review", "{report}", "--csv"), ("compare", "{report}", "{report}"),
    ("review", "{folder}"), ("report", "{report}"), ("signers", "--know", "{report}"),
    ("print", "{report}"), ("new", "{new}.toml", "--from", "{stations}", "--yes"),
    ("new", "{new}-2.toml", "--from", "{report}", "--yes"), ("edit", "{site}"),
    ("check", "{gone}"), ("open", "{gone}"), ("review", "{gone}"), ("{gone}",),
)  # fmt: skip
# The lines of the start, each chosen; then what follows is looked at, and at a job its menu.
STEPS = tuple([str(number), "enter", "escape", "enter"] for number in range(1, 8))


def through_names(control: str, commands: Row, screens: Row) -> None:
    """A control character in the name of everything that can be named."""
    with place() as top:
        folder = top / f"f{control}e"
        folder.mkdir()
        given = _files(folder, control)
        for command in COMMANDS:
            commands.times += 1
            code, printed, _ = ran([word.format(**given) for word in command])
            shown = printed.replace("\n", "")
            if code not in range(5) or FAULT in printed or not shown.isprintable():
                commands.escape(f"{command} with {control!r}: {code}: {printed[-200:]!r}")
        with patch.object(Path, "cwd", lambda: folder):
            for app in _apps(given):
                asyncio.run(_looked_at(app, screens))


def _files(folder: Path, control: str) -> dict[str, Path]:
    """One of each kind of file, and names of files that are not there."""
    session = walks.begin(folder, "small-garden")
    session.close()
    names = {"site": ".toml", "job": "", "report": ".toml", "list": ".csv", "stations": ".csv"}
    given = {name: folder / f"{name}{control}e{end}" for name, end in names.items()}
    (folder / "small-garden.toml").rename(given["site"])
    session.job.folder.rename(given["job"])
    given["report"].write_bytes(small.sound())
    given["list"].write_text("step,reading,instrument,observer,time,note\n", "utf-8")
    given["stations"].write_text(LIST, "utf-8")
    (folder / f"kinds{control}.toml").write_text(KINDS_FILE, "utf-8")
    return {
        **given,
        "folder": folder,
        "new": folder / f"n{control}",
        "gone": folder / f"g{control}",
    }


def _apps(given: dict[str, Path]) -> Iterator[BaseApp[Any]]:
    """Every program of full screens that shows the name of a file."""
    for job in (given["job"], given["gone"], given["folder"]):
        remember_job(job, now_local())
    yield StartApp()
    session = open_job(given["job"], disk=Disk(), now=now_local)
    yield CommissionApp(session)
    session.close()
    desk = Desk(Disk(), None)
    path, name = given["report"], visible(given["report"].name)
    yield ReviewApp(desk.in_full(path, name, ""))
    one = Listed(
        name, partial(desk.reviewed, path, name, ""), partial(desk.in_full, path, name, "")
    )
    yield ReviewsApp(visible(str(given["folder"])), [one], remarks)
    try:
        edition = Edition(given["site"], Disk(), now_local)
    except CommissionError:
        return
    yield EditApp(edition)
    edition.close()


async def _looked_at(app: BaseApp[Any], row: Row) -> None:
    """Everything that can be chosen first, and what is drawn then."""
    async with app.run_test(size=(120, 40)) as pilot:
        walk = Walk(app, pilot)
        await pilot.pause()
        for keys in STEPS:
            for key in keys:
                if app.return_value is not None or not app.is_running:
                    break
                await walk.press(key)
                for line in screen_text(app).split("\n"):
                    row.times += 1
                    if not line.isprintable():
                        row.escape(f"{type(app).__name__}: {line!r}")
    if app.failure is not None:
        row.escape(f"a screen failed: {app.failure!r}")
