"""A path as a picture: its boxes as a tree, where one stands, and what was found where."""

from __future__ import annotations

from typing import ClassVar

from textual.app import ComposeResult
from textual.binding import Binding, BindingType
from textual.containers import Vertical
from textual.content import Content
from textual.widgets import OptionList, Static
from textual.widgets.option_list import Option

from commission.job import Job
from commission.picture import OPEN, BoxRow, Found, path_picture
from commission.site.schema import ROOT
from commission.tui.keys import PICTURE_KEYS
from commission.tui.screens.over import OverScreen
from commission.tui.theme import VERDICT_STYLE
from commission.tui.widgets.title import Title
from commission.verdict.judge import MARKS

LEGEND = "+ pass  x fail  ? marginal  - skipped  · still open   > where you are"


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
            yield OptionList(id="picture-rows")
            yield Static(Content(LEGEND), classes="hint")
            yield Static(Content(PICTURE_KEYS), classes="hint")

    def on_mount(self) -> None:
        """Stand where the walk stands, else at the first box."""
        self._draw(self._here)
        self.query_one(OptionList).focus()

    def _draw(self, cursor: str) -> None:
        rows = self.query_one(OptionList)
        rows.clear_options()
        for path in self._job.site.path:
            title = f"Path {path.id}" + (f"  {path.label}" if path.label else "")
            rows.add_option(Option(Content.styled(title, "bold"), disabled=True))
            drawn = path_picture(self._job, path.id, self._folded[path.id])
            width = max((len(row.branch) + len(row.box) for row in drawn[1:]), default=0) + 2
            for row in drawn:
                place = f"{path.id}/{row.box if row.branch or row.length else ROOT}"
                rows.add_option(Option(self._line(row, place, width), id=place))
        places = [option.id for option in rows.options]
        rows.highlighted = places.index(cursor) if cursor in places else 1

    def _line(self, row: BoxRow, place: str, width: int) -> Content:
        here = ">" if place == self._here else " "
        parts: list[tuple[str, str] | str] = [
            f"{here} {row.branch}",
            _styled(row.mark, row.verdict),
        ]
        parts.append((f" {row.box}".ljust(width - len(row.branch)), "bold"))
        if row.length:
            parts.append(f"{row.length:>8}  {row.cable:<14}")
        for found in (*row.stations, *([row.end] if row.end else [])):
            parts += ["  ", _styled(_found(found), found.verdict)]
        if row.hidden:
            parts.append((f"  ... {row.hidden} boxes folded away", "$quiet"))
        return Content.assemble(*parts)

    def action_fold(self, fold: bool) -> None:
        """Fold away what a box feeds, or draw it again."""
        rows = self.query_one(OptionList)
        if rows.highlighted is None:
            return
        place = rows.get_option_at_index(rows.highlighted).id or ""
        path, _, box = place.partition("/")
        change = self._folded[path].add if fold else self._folded[path].discard
        change(box)
        self._draw(place)

    def action_leave(self) -> None:
        """Back to where it was opened."""
        self.leave("")

    def on_option_list_option_selected(self, event: OptionList.OptionSelected) -> None:
        """Go to a box in the walk."""
        self.leave(event.option.id or "")


def _styled(words: str, verdict: str) -> tuple[str, str]:
    return words, VERDICT_STYLE.get(verdict, "")


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
    to_do = [
        status for status in there if status.state == "open" or status.again or status.second_look
    ]
    return next((status.step.id for status in (*to_do, *there)), "")
