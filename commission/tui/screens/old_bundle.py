"""An old bundle in the walk: which conductors carry the path, and the site file with them."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING

from textual.content import Content

from commission.tui.screens.form import FormScreen, Line, MenuScreen, TextScreen

if TYPE_CHECKING:
    from commission.tui.screens.walk import WalkScreen


def bundle_options(walk: WalkScreen) -> dict[str, tuple[str, Callable[[], None]]]:
    """The line that a menu has more where an old bundle is described."""
    if not any(path.conductor for path in walk.job.site.path):
        return {}
    return {"bundle": ("The old bundle: pairs, and the site file with them", lambda: _show(walk))}


def _show(walk: WalkScreen) -> None:
    rows = [("read", "Read what was found in each section"), ("write", "Write the site file")]
    doing = {"read": _read, "write": _write}

    def chosen(key: str | None) -> None:
        if key:
            doing[key](walk)
        else:
            walk.entry.focus()

    walk.app.push_screen(MenuScreen("The old bundle", rows), chosen)


def _read(walk: WalkScreen) -> None:
    from commission.survey.sections import surveyed
    from commission.survey.told import lines

    job = walk.job
    told = "\n".join(lines(job, list(surveyed(job.site, job.state.latest))))
    walk.app.push_screen(TextScreen("The old bundle", Content(told)))


def _write(walk: WalkScreen) -> None:
    """Ask for the new file's name, and write it."""
    folder = walk.job.folder.absolute()
    proposed = folder.with_name(f"{folder.name}-pairs.toml")
    written: list[Path] = []

    def closed(kept: bool | None) -> None:
        if kept:
            walk.say(f"Written: {written[-1]}", "$quiet")
        walk.entry.focus()

    form = FormScreen(
        "The site file with its pairs",
        [Line("file", "New file", str(proposed), needed="name a file that is not there yet")],
        lambda values: written.append(walk.session.write_pairs(values["file"])),
        about="This job goes on as it began. On the new file begin the job that commissions the "
        "path: commission open FILE --job converted.",
        keep_words="Write",
    )
    walk.app.push_screen(form, closed)
