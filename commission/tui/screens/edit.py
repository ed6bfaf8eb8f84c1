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

from commission.editing.edition import ChangedMeanwhile, Edition, Version
from commission.editing.rows import Row, site_rows
from commission.editing.working_copy import Told, counted
from commission.expected.numbers import Differences
from commission.problems import CommissionError
from commission.tui.keys import EDIT_KEYS
from commission.tui.screens.change_forms import Kind, Kinds, Values
from commission.tui.screens.consequences import Consequences
from commission.tui.screens.form import FormScreen, Line, LineRefused, MenuScreen, TextScreen
from commission.tui.widgets.rows import Line as Drawn
from commission.tui.widgets.rows import Rows

# What can be changed at each kind of line, the usual first.
OFFERED = {
    "path": ("rename", "end", "station"),
    "box": ("length", "cable", "station", "box", "end", "rename", "no-box"),
    "station": ("move", "rename", "no-station", "station"),
}
WORDS = {
    "length": "Another length of the cable that leads here",
    "cable": "Another cable, or another size, to here",
    "station": "A new station",
    "box": "A new box in the middle of the cable that leads here",
    "end": "More cable, with a new box at its end",
    "rename": "Another label; the id stays",
    "move": "Move the station to another box",
    "no-station": "Delete the station",
    "no-box": "Delete the box",
}
_ABOUT = "Every expected value that this changes is shown afterwards; it can be taken back."
_LEAST_TREE = 20  # columns; longer names are cut before the table right of them is
Versions = tuple[Version, Version]  # before and after
Choices = dict[str, tuple[str, Callable[[], None]]]


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
        yield Static(Content(EDIT_KEYS), id="keys")

    def on_mount(self) -> None:
        """Draw, begin to compute, and ask about what an earlier program left."""
        self.query_one("#drawing", Rows).focus()
        self._draw()
        if self._edition.left is not None:
            self.call_after_refresh(self._ask_about_left)

    def on_resize(self) -> None:
        """The columns follow the width."""
        self._draw_rows()

    # What is drawn

    def _draw(self) -> None:
        """Everything anew."""
        edition = self._edition
        changes = counted(len(edition.version.changes))
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
            lines.append(Drawn(str(n), ((name, "plain"), (one.words, number.verdict or "bold"))))
        self.query_one("#changed", Rows).show(lines)

    def _head(self, said: str) -> None:
        """Which changes the list below is about, and how far it is."""
        step = self._edition.version.step if self._edition.unwritten else None
        last = _in_words(step) if step else "no change yet"
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
            one = self._shown.shown[int(event.key)]
            before, after = (n.in_full if n else "not asked" for n in (one.before, one.after))
            words = f"{one.number.where}: {one.number.what}\n\nbefore  {before}\nafter   {after}\n"
            self.app.push_screen(TextScreen("An expected value", Content(words)))
        elif event.key in self._rows:
            self._offer(self._rows[event.key])

    def _offer(self, row: Row) -> None:
        kinds = Kinds(self._edition.version.site, row).all()
        self._choose(
            f"Change at {row.drawn.strip(' │├─')}",
            {key: (WORDS[key], partial(self._ask, key, kinds[key])) for key in OFFERED[row.kind]},
        )

    def _ask(self, key: str, kind: Kind) -> None:
        def keep(values: Values) -> None:
            change = kind.make({key: text.strip() for key, text in values.items()})
            self._edition.change(change)

        def closed(kept: bool | None) -> None:
            if kept:
                self._draw()

        form = FormScreen(WORDS[key], kind.lines(), keep, about=_ABOUT)
        self.app.push_screen(form, closed)

    def action_menu(self) -> None:
        """What can be done with the whole."""
        edition = self._edition
        choices: Choices = {}
        if edition.unwritten:
            words = f"Write {counted(len(edition.version.changes))} into {edition.name}"
            choices["write"] = words, self._write
        if edition.to_take_back:
            words = f"Take back: {_in_words(edition.to_take_back)}"
            choices["undo"] = words, partial(self._move, edition.undo)
        if edition.to_do_again:
            words = f"Do again: {_in_words(edition.to_do_again)}"
            choices["redo"] = words, partial(self._move, edition.redo)
        choices["go"] = "Go to a station or a box", self._ask_where
        choices["changes"] = "All changes since the file, in words", self._tell_changes
        choices["leave"] = "Leave", self._leave
        self._choose("Edit", choices)

    def _choose(self, title: str, choices: Choices, about: str = "") -> None:
        def chosen(key: str | None) -> None:
            if key:
                choices[key][1]()

        rows = [(key, words) for key, (words, _) in choices.items()]
        self.app.push_screen(MenuScreen(title, rows, about), chosen)

    # What the menu does

    def _move(self, how: Callable[[], None]) -> None:
        self._try(how)
        self._draw()

    def _try(self, how: Callable[[], object]) -> bool:
        """Do something that a disk may refuse, and say so where it does."""
        try:
            how()
        except CommissionError as error:
            self.app.push_screen(TextScreen("This was not done", Content(f"{error}\n")))
            return False
        return True

    def _write(self, *, leave: bool = False) -> None:
        try:
            self._edition.write()
        except ChangedMeanwhile as error:
            self._ask_over_newer(str(error), leave=leave)
            return
        except CommissionError as error:
            self.app.push_screen(TextScreen("This was not done", Content(f"{error}\n")))
            return
        self._written(leave=leave)

    def _written(self, beside: object = None, *, leave: bool) -> None:
        self._draw()
        if leave:
            self.app.exit()
        elif beside is not None:
            words = f"What the other program wrote is kept in\n{beside}\n"
            self.app.push_screen(TextScreen("Written", Content(words)))

    def _ask_over_newer(self, said: str, *, leave: bool) -> None:
        def over() -> None:
            done: list[object] = []
            if self._try(lambda: done.append(self._edition.write(over_newer=True))):
                self._written(done[0], leave=leave)

        self._choose(
            "The file is another by now",
            {
                "back": ("Back; what was changed here stays kept", lambda: None),
                "over": ("Write this one; keep the other beside it, under a name of its own", over),
            },
            said,
        )

    def _ask_where(self) -> None:
        def keep(values: Values) -> None:
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
        changes = self._edition.version.changes if self._edition.unwritten else ()
        words = "\n".join(f"{n}  {_in_words(one)}" for n, one in enumerate(changes, 1))
        self.app.push_screen(TextScreen("Since the file", Content(f"{words or 'No change.'}\n")))

    def _leave(self) -> None:
        if self._edition.unwritten:
            self.ask_before_leaving()
        else:
            self.app.exit()

    def ask_before_leaving(self) -> None:
        """What becomes of changes that are not in the file."""

        def drop() -> None:
            if self._try(self._edition.drop):
                self.app.exit()

        name = self._edition.name
        self._choose(
            f"{counted(len(self._edition.version.changes))} not in {name} yet",
            {
                "write": (f"Write into {name}, and leave", partial(self._write, leave=True)),
                "keep": ("Leave; keep them, to be offered when it is edited again", self.app.exit),
                "back": ("Back to the drawing", lambda: None),
                "drop": ("Drop them, and leave the file as it is", drop),
            },
        )

    def _ask_about_left(self) -> None:
        """Changes that an earlier program kept and did not write."""
        left = self._edition.left
        if left is None:
            return
        about = f"{counted(len(left.changes))} kept on {left.kept_at:%Y-%m-%d at %H:%M}:\n"
        about += "\n".join(f"  {_in_words(one)}" for one in left.changes[-8:])
        begin = "Begin from the file; drop them"
        if not self._edition.left_is_of_this_file:
            about += "\nThe file itself was changed by another program since."
            begin = "Begin from the file; put them beside it, as a file of their own"

        def resume() -> None:
            self._try(self._edition.resume)
            self._draw()

        def aside() -> None:
            done: list[object] = []
            if self._try(lambda: done.append(self._edition.put_aside())) and done[0]:
                words = f"They are in\n{done[0]}\n"
                self.app.push_screen(TextScreen("Put beside the file", Content(words)))

        choices: Choices = {"resume": ("Go on with them", resume), "aside": (begin, aside)}

        def chosen(key: str | None) -> None:
            if key:
                choices[key][1]()
            else:
                self._ask_about_left()  # nothing is dropped by a key too many

        rows = [(key, words) for key, (words, _) in choices.items()]
        self.app.push_screen(MenuScreen("Changes that were not written", rows, about), chosen)


def _in_words(told: Told) -> str:
    what, before, after = told
    return f"{what}: {before or 'no label'} -> {after}"


def _drawn(row: Row, tree: int, widths: Sequence[int]) -> Drawn:
    name = set_cell_size(row.drawn, tree - 2) + "  "
    if cell_len(row.drawn) > tree - 2:
        name = set_cell_size(row.drawn, tree - 3) + "…  "
    columns = "".join(
        set_cell_size(text, width) for text, width in zip(row.columns, widths, strict=True)
    )
    style = "head" if row.kind == "path" else "bold" if row.kind == "box" else "plain"
    return Drawn(row.key, ((name, style), (columns, "head" if style == "head" else "plain")))
