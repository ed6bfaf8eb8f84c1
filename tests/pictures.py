"""Pictures of the main screens for the README, made from the small sample.

    python -m tests.pictures

The program runs in this process with a clock of its own, so that the same code gives the same
pictures. They are SVG that asks for nothing from outside: the fonts are the reader's own.
"""

from __future__ import annotations

import asyncio
import os
import re
import tempfile
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from textual.pilot import Pilot
from textual.widgets import OptionList

from commission.editing.edition import Edition
from commission.host import Disk
from commission.session import Session
from commission.tui.app import CommissionApp
from commission.tui.base import BaseApp
from commission.tui.edit_app import EditApp
from commission.tui.start_app import StartApp
from commission.user.folder import VARIABLE
from commission.user.recent import remember_job
from tests.tui.walking import Walk
from tests.walks import begin, clock, first, walk_to_the_end, walk_until

FOLDER = Path(__file__).with_suffix("")
SAMPLE = "small-garden"
WIDE, SMALL = (112, 30), (80, 24)
BRIDGED = ("1", "enter")
FAILED = (*BRIDGED, *"11.6", "enter")
WAIT = "wait: "  # until these words stand on the screen
MENU = "menu: "  # the line of the menu that holds these words


@dataclass(frozen=True, slots=True)
class Picture:
    """A screen of a size after some keys.

    The walk begins at the bridge of the first end, with everything before it in order; `whole`: at
    the end of a job in which everything was. `of` names another program: "start", where that job
    is the recent one, or "edit", at the job's site file.
    """

    size: tuple[int, int]
    keys: tuple[str, ...]
    whole: bool = False
    of: str = "walk"


EDITED = (
    *(["down"] * 9), "enter", "wait: Change at", "1", "enter", "wait: Length", "enter",
    *(["backspace"] * 6), *"260 ft", "enter", "enter", "enter", "wait: changed",
)  # fmt: skip
PICTURES = {
    "start": Picture(SMALL, (), of="start"),
    "edit": Picture(SMALL, EDITED, of="edit"),
    "walk": Picture(WIDE, (*BRIDGED, *"2.24")),
    "fail": Picture(SMALL, FAILED),
    "calculation": Picture(WIDE, (*BRIDGED, "ctrl+g")),
    "large": Picture(SMALL, (*BRIDGED, "ctrl+o", *"11.6")),
    "overview": Picture(SMALL, (*FAILED, "escape", f"{MENU}What is done, failed, open")),
    "paths": Picture(SMALL, (*FAILED, "escape", f"{MENU}The paths as a picture")),
    "profile": Picture(SMALL, (f"{MENU}The profile", "1"), whole=True),
}
_FROM_OUTSIDE = re.compile(r"<!--.*?-->\s*|@font-face\s*\{[^}]*\}\s*", re.DOTALL)


def draw(name: str, folder: Path) -> str:
    """One picture as SVG; its job is made in `folder`."""
    session = begin(folder, SAMPLE)
    try:
        stand_before_loop(session)
        if PICTURES[name].whole:
            walk_to_the_end(session)
        return asyncio.run(_program(session, PICTURES[name]))
    finally:
        session.close()


def stand_before_loop(session: Session) -> None:
    """Answer everything before the step that comes before the first loop."""
    loop = first(session, lambda step: step.item.compare == "loop-resistance")
    ids = list(session.job.statuses)
    walk_until(session, session.job.plan.by_id[ids[ids.index(loop.id) - 1]])


async def _program(session: Session, picture: Picture) -> str:
    """The picture of a program at a job, or at what lies beside it."""
    if picture.of == "start":
        remember_job(session.job.folder, clock()())
        return await _drawn(StartApp(), picture)
    if picture.of == "edit":
        site = session.job.folder.parent / f"{SAMPLE}.toml"
        edition = Edition(site, Disk(), clock())
        try:
            return await _drawn(EditApp(edition), picture)
        finally:
            edition.close()
    return await _drawn(CommissionApp(session), picture)


async def _drawn(app: BaseApp[Any], picture: Picture) -> str:
    async with app.run_test(size=picture.size) as pilot:
        await pilot.pause()
        for key in picture.keys:
            if key.startswith(MENU):
                await pilot.press("escape")
                await _choose(app, pilot, key.removeprefix(MENU))
            elif key.startswith(WAIT):
                await Walk(app, pilot).shows(key.removeprefix(WAIT))
            else:
                await pilot.press(key)
            await pilot.pause()
        return self_contained(app.export_screenshot(title="commission"))


async def _choose(app: BaseApp[Any], pilot: Pilot[Any], words: str) -> None:
    await pilot.pause()
    menu = app.screen.query_one("#dialogue-menu", OptionList)
    lines = [str(option.prompt) for option in menu.options]
    menu.highlighted = next(place for place, line in enumerate(lines) if words in line)
    await pilot.press("enter")


def self_contained(svg: str) -> str:
    """The picture without fonts and credits that lie elsewhere, its blanks kept by every viewer."""
    svg = _FROM_OUTSIDE.sub("", svg).replace("Fira Code, monospace", "monospace")
    return svg.replace("<svg ", '<svg xml:space="preserve" ', 1)


def main() -> None:
    """Draw every picture into `tests/pictures/`."""
    FOLDER.mkdir(exist_ok=True)
    for name in PICTURES:
        with tempfile.TemporaryDirectory() as folder:
            os.environ[VARIABLE] = str(Path(folder) / "user")
            svg = draw(name, Path(folder))
        (FOLDER / f"{name}.svg").write_text(svg, encoding="utf-8", newline="\n")
        print(f"{name}.svg")


if __name__ == "__main__":
    main()
