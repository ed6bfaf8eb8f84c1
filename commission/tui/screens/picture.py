"""A path as a picture: its boxes as a tree, where one stands, and what was found where."""

from __future__ import annotations

from collections.abc import Iterator
from typing import ClassVar

from textual.app import ComposeResult
from textual.binding import Binding, BindingType
from textual.containers import Vertical
from textual.content import Content
from textual.widgets import Static

from commission.job import Job
from commission.picture import OPEN, BoxRow, Found, path_picture
from commission.site.schema import ROOT
from commission.tui.keys import PICTURE_KEYS
from commission.tui.screens.over import OverScreen
from commission.tui.widgets.columns import Columns
from commission.tui.widgets.key_line import KeyLine
from commission.tui.widgets.rows import Line, Rows
from commission.tui.widgets.title import Title
from commission.verdict.judge import FAIL, MARGINAL, MARKS, PASS

LEGEND = "+ pass  x fail  ? marginal  - skipped  · open  ... folded  here: where you are"
Part = tuple[str, str]  # text and its style


class PictureScreen(OverScreen[str]):
    """Draws the paths one after the other; dismisses with the box to go to, as "PATH/BOX"."""

    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("escape", "leave", "Back"),
        Binding("left", "fold(True)", "Fold"),
        Binding("right", "fold(False)", "Unfold"),
    ]

    def __init__(self, job: Job, path: str, box: str) -> None:
        """`path` and `box` are where the walk stands; "" where it stands at no box."""
        super().__init__()
        self._job = job
        self._here = f"{path}/{box}"
        self._folded: dict[str, set[str]] = {one.id: set() for one in job.site.path}

    def compose(self) -> ComposeResult:
        with Vertical(classes="board"):
            yield Title("The paths as a picture")
            yield Columns(id="picture-rows")
            yield Static(Content(LEGEND), classes="hint")
        yield KeyLine(PICTURE_KEYS)

    def on_mount(self) -> None:
        """Stand where the walk stands, else at the first box."""
        self._draw(self._here)
        self.query_one(Columns).focus()

    def _draw(self, cursor: str) -> None:
        self.query_one(Columns).show(self._lines(), cursor)

    def _lines(self) -> Iterator[Line]:
        for path in self._job.site.path:
            title = f"Path {path.id}" + (f"  {path.label}" if path.label else "")
            yield Line("", ((f" {title}", "head"),))
            drawn = path_picture(self._job, path.id, self._folded[path.id])
            width = max((len(row.branch) + len(row.box) for row in drawn[1:]), default=0) + 2
            for row in drawn:
                place = f"{path.id}/{row.box if row.branch or row.length else ROOT}"
                yield Line(place, tuple(self._parts(row, place, width)))

    def _parts(self, row: BoxRow, place: str, width: int) -> Iterator[Part]:
        yield f" {row.branch}", "plain"
        yield _styled(row.mark, row.verdict)
        yield f" {row.box}".ljust(width - len(row.branch)), "bold"
        if row.length:
            yield f"{row.length:>8}  {row.cable:<14}", "plain"
        for found in (*row.stations, *([row.end] if row.end else [])):
            yield "  ", "plain"
            yield _styled(_found(found), found.verdict)
        if place == self._here:
            yield "  here", "bold"
        if row.hidden:
            yield f"  ... {row.hidden} boxes", "plain"

    def action_fold(self, fold: bool) -> None:
        """Fold away what a box feeds, or draw it again."""
        place = self.query_one(Columns).key
        path, _, box = place.partition("/")
        change = self._folded[path].add if fold else self._folded[path].discard
        change(box)
        self._draw(place)

    def action_leave(self) -> None:
        """Back to where it was opened."""
        self.leave("")

    def on_rows_chosen(self, event: Rows.Chosen) -> None:
        """Go to a box in the walk."""
        self.leave(event.key)


def _styled(words: str, verdict: str) -> Part:
    return words, verdict if verdict in (PASS, FAIL, MARGINAL) else "plain"


def _found(found: Found) -> str:
    """A station or an end with its mark; nothing behind what is still open."""
    if found.verdict in (OPEN, ""):
        return found.words
    blank = "" if found.words.isdigit() else " "
    return f"{found.words}{blank}{MARKS[found.verdict]}"


def step_at(job: Job, place: str) -> str:
    """The step to stand at for a place "PATH/BOX": its first to do, else its first; "" for none."""
    path, _, box = place.partition("/")
    boxes = {s.id: s.box for s in job.site.station}
    there = [
        status
        for status in job.statuses.values()
        if status.step.target.path == path
        and (
            boxes.get(status.step.target.station, status.step.target.box) == box
            or (box == ROOT and status.step.target.scope == "path")
        )
    ]
    to_do = [status for status in there if status.to_do]
    return next((status.step.id for status in (*to_do, *there)), "")
