"""A site file edited: the drawing above, what each change does to the expected values below."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from functools import partial
from typing import ClassVar

from rich.cells import cell_len, set_cell_size
from textual.app import ComposeResult
from textual.binding import Binding, BindingType
from textual.containers import Vertical
from textual.content import Content
from textual.message import Message
from textual.screen import Screen
from textual.widgets import Static
from textual.worker import get_current_worker

from commission.editing.edition import Edition, Version
from commission.editing.rows import Row, site_rows
from commission.expected.numbers import Differences
from commission.expected.sheet import Spot
from commission.site.changes.words import Told
from commission.text import counted
from commission.tui.changes.forms import ChangeForm, change_forms
from commission.tui.keys import EDIT_KEYS
from commission.tui.screens.consequences import Consequences
from commission.tui.screens.edited_file import Choices, EditedFile, choose, in_words
from commission.tui.screens.form import FormScreen, Line, LineRefused, TextScreen
from commission.tui.widgets.key_line import KeyLine
from commission.tui.widgets.rows import Line as Drawn
from commission.tui.widgets.rows import Rows, cut

# What can be changed at each kind of line, the usual first.
OFFERED = {
    "path": ("path-label", "end", "station"),
    "box": ("length", "cable", "station", "box", "end", "words", "no-box"),
    "station": ("parts", "move", "swap", "no-station", "station"),
}
WORDS = {
    "length": "Another length of the cable that leads here",
    "cable": "Another cable, or another size, to here",
    "station": "A new station",
    "box": "A new box in the middle of the cable that leads here",
    "end": "More cable, with a new box at its end",
    "words": "Another label, or where the box lies",
    "path-label": "Another label of the path",
    "parts": "Address, decoder, solenoids, number, label",
    "move": "Move the station to another box",
    "swap": "Its address swapped with another station's",
    "no-station": "Delete the station",
    "no-box": "Delete the box",
}
_ABOUT = "Every expected value that this changes is shown afterwards; it can be taken back."
_COMMENTS = "Comments in its lines of the file go with it, and are told."
_MORE_ABOUT = {
    "no-station": f"\n{_COMMENTS}",
    "no-box": f"\n{_COMMENTS} Where two cables become one by it, it counts as measured in the "
    "weaker of both ways.",
}
_LEAST_TREE = 20  # columns; longer names are cut before the table right of them is
Versions = tuple[Version, Version]  # before and after


class EditScreen(Screen[None]):
    """Draws an edition; keeps nothing of its own but the cursor and what is being looked at."""

    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("escape", "menu", "Menu", show=False),
        Binding("1", "view(False)", show=False),
        Binding("2", "view(True)", show=False),
        Binding("tab,shift+tab", "other", show=False),
    ]

    class Found(Message):
        """What differs between two versions, as far as it is known."""

        def __init__(self, wanted: Versions, found: Differences, said: str) -> None:
            super().__init__()
            self.wanted, self.found, self.said = wanted, found, said

    def __init__(self, edition: Edition) -> None:
        super().__init__()
        self._edition = edition
        self.file = EditedFile(self, edition, self._draw)
        self._wanted: Versions = (edition.written, edition.version)
        self._rows: dict[str, Row] = {}
        self._found = Consequences()
        self._since_file = False
        self._shown = Differences()

    def compose(self) -> ComposeResult:
        yield Static(id="where")
        with Vertical(id="editing"):
            yield Rows(id="drawing")
            yield Static(id="changed-head")
            yield Rows(id="changed")
        yield KeyLine(EDIT_KEYS)

    def on_mount(self) -> None:
        """Draw, begin to compute, and ask about what an earlier program left."""
        self.query_one("#drawing", Rows).focus()
        self._draw()
        self.call_after_refresh(self.file.ask_about_left)

    def on_resize(self) -> None:
        """The columns follow the width."""
        self._draw_rows()

    # What is drawn

    def _draw(self) -> None:
        """Everything anew."""
        edition = self._edition
        changes = counted(len(edition.unwritten_changes), "change")
        unwritten = f"{changes} not written yet" if edition.unwritten else "as it is on disk"
        where = f" Edit {edition.name} | {edition.version.site.site.name} | {unwritten}"
        self.query_one("#where", Static).update(Content(where))
        self._draw_rows()
        self._look()

    def _draw_rows(self) -> None:
        rows = site_rows(self._edition.version.site)
        self._rows = {row.key: row for row in rows}
        widths = [max(cell_len(row.columns[n]) for row in rows) + 2 for n in range(3)]
        longest = max(cell_len(row.drawn) for row in rows) + 2
        tree = max(_LEAST_TREE, min(longest, self.size.width - sum(widths) - 2))
        lines = (_drawn(row, tree, widths) for row in rows)
        self.query_one("#drawing", Rows).show(lines)

    def _look(self) -> None:
        """Compute, aside, what is another than before."""
        before = self._edition.written if self._since_file else self._edition.before
        after = self._edition.version
        self._head("computing...")
        self._found.forget_all_but(self._edition.written, self._edition.before, after)
        self._wanted = wanted = (before, after)

        def work() -> None:
            worker = get_current_worker()
            for found, said in self._found.of(before, after, lambda: worker.is_cancelled):
                self.post_message(self.Found(wanted, found, said))

        # It saves nothing: a search that is given up for a later one loses only its own time.
        self.run_worker(work, thread=True, exclusive=True)

    def on_edit_screen_found(self, event: Found) -> None:
        """Draw what is known so far, unless something else is asked for by now."""
        if event.wanted != self._wanted:
            return
        found = self._shown = event.found
        self._head(event.said)
        where = max((len(one.number.where) for one in found.shown), default=0) + 2
        what = max((len(one.number.what) for one in found.shown), default=0) + 2
        lines = []
        for n, one in enumerate(found.shown):
            number = one.number
            name = f"{number.where:<{where}}{number.what:<{what}}"
            words = cut(one.words, self.size.width - cell_len(name) - 3)  # mark and scrollbar
            lines.append(Drawn(str(n), ((name, "plain"), (words, number.verdict or "bold"))))
        self.query_one("#changed", Rows).show(lines)

    def _head(self, said: str) -> None:
        """Which changes the list below is about, and how far it is."""
        step = self._edition.version.step
        last = in_words(step) if step else "no change yet"
        parts: list[tuple[str, str] | str] = []
        for n, (name, chosen) in enumerate(
            (("last change", not self._since_file), ("all since the file", self._since_file)), 1
        ):
            parts.append((f"[{n} {name}]", "bold") if chosen else f" {n} {name} ")
        head = Content.assemble(*parts, f"  {said}\n", (last, "bold"))
        self.query_one("#changed-head", Static).update(head)

    # Keys

    def action_other(self) -> None:
        """From the drawing to what changes, and back."""
        drawing, changed = (self.query_one(name, Rows) for name in ("#drawing", "#changed"))
        self.set_focus(drawing if changed.has_focus else changed)  # before the next key

    def action_view(self, since_file: bool) -> None:
        """Show what the last change does, or all since the file."""
        self._since_file = since_file
        self._look()

    def on_rows_chosen(self, event: Rows.Chosen) -> None:
        """Offer what can be changed there, or show a value before and after in full."""
        if not self.is_current:  # a key typed twice
            return
        if event.rows.id == "changed":
            if int(event.key) >= len(self._shown.shown):
                return  # another list stands there by now
            one = self._shown.shown[int(event.key)]
            before, after = (n.with_range if n else "not asked" for n in (one.before, one.after))
            words = f"{one.number.where}: {one.number.what}\n\nbefore  {before}\nafter   {after}\n"
            self.app.push_screen(TextScreen("An expected value", Content(words)))
        elif event.key in self._rows:
            self._offer(self._rows[event.key])

    def _offer(self, row: Row) -> None:
        at = Spot(path=row.path, box=row.box, station=row.station)
        forms = change_forms(self._edition.version.site, at)
        choose(
            self.app,
            f"Change at {row.drawn.strip(' │├─')}",
            {key: (WORDS[key], partial(self._ask, key, forms[key])) for key in OFFERED[row.kind]},
        )

    def _ask(self, key: str, asked: ChangeForm) -> None:
        def keep(values: dict[str, str]) -> None:
            self._edition.change(asked.change(values))

        def closed(kept: bool | None) -> None:
            if kept:
                self._draw()

        about = _ABOUT + _MORE_ABOUT.get(key, "")
        form = FormScreen(WORDS[key], asked.lines(), keep, about=about)
        self.app.push_screen(form, closed)

    def action_menu(self) -> None:
        """What can be done with the whole."""
        edition = self._edition
        changes = len(edition.unwritten_changes)  # none of a text that was kept of a lost file
        count = counted(changes, "change") if changes else "all of it"
        write = f"Write {count} into {edition.name}" if edition.unwritten else "Write: nothing yet"
        back, again = edition.to_take_back, edition.to_do_again
        choices: Choices = {  # each always has the same number
            "write": (write, self.file.write if edition.unwritten else _nothing),
            "undo": (f"Take back: {_or_nothing(back)}", partial(self._move, edition.undo)),
            "redo": (f"Do again: {_or_nothing(again)}", partial(self._move, edition.redo)),
            "go": ("Go to a station or a box", self._ask_where),
            "changes": ("All changes since the file, in words", self._tell_changes),
            "leave": ("Leave", self.file.leave),
        }
        choose(self.app, "Edit", choices)

    # What the menu does

    def _move(self, how: Callable[[], None]) -> None:
        self.file.done(how)
        self._draw()

    def _ask_where(self) -> None:
        def keep(values: dict[str, str]) -> None:
            wanted = values["place"].strip().casefold()
            numbers = {str(s.number): s.id for s in self._edition.version.site.station}
            names = {f"station/{numbers.get(wanted, '')}", *self._keys_named(wanted)}
            found = next((key for key in self._rows if key in names), None)
            if found is None:
                raise LineRefused("place", "there is no such station, box or label")
            self.query_one("#drawing", Rows).go_to(found)

        line = Line("place", "Number of a station, id of a box, or a label", needed="write which")
        self.app.push_screen(FormScreen("Go to", [line], keep, keep_words="Go there"))

    def _keys_named(self, wanted: str) -> set[str]:
        """Lines with that id or label."""
        site = self._edition.version.site
        named = {f"station/{s.id}" for s in site.station if s.label.casefold() == wanted}
        for path in site.path:
            labels = {box.id: box.label.casefold() for box in path.box}
            named |= {
                f"{path.id}/{s.to_box}"
                for s in path.segment
                if wanted in (s.to_box.casefold(), labels.get(s.to_box))
            }
        return named

    def _tell_changes(self) -> None:
        changes = enumerate(self._edition.unwritten_changes, 1)
        words = "\n".join(f"{n}  {in_words(one)}" for n, one in changes)
        self.app.push_screen(TextScreen("Since the file", Content(f"{words or 'No change.'}\n")))


def _nothing() -> None:
    """What a line of the menu does that says so."""


def _or_nothing(told: Told | None) -> str:
    return in_words(told) if told else "nothing yet"


def _drawn(row: Row, tree: int, widths: Sequence[int]) -> Drawn:
    name = set_cell_size(cut(row.drawn, tree - 2), tree)
    columns = "".join(
        set_cell_size(text, width) for text, width in zip(row.columns, widths, strict=True)
    )
    style = "head" if row.kind == "path" else "bold" if row.kind == "box" else "plain"
    return Drawn(row.key, ((name, style), (columns, "head" if style == "head" else "plain")))
