"""Dialogues: a few lines to fill in, or a list to choose from.

Escape never throws away what was typed: it only moves to the line "Back".
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import ClassVar

from textual.app import ComposeResult
from textual.binding import Binding, BindingType
from textual.containers import VerticalScroll
from textual.content import Content
from textual.widgets import OptionList, Static
from textual.widgets.option_list import Option

from commission.problems import CommissionError, InputRefused
from commission.tui.keys import CHOICE_KEYS, FORM_KEYS, LONG_MENU_KEYS, MENU_KEYS, READING_KEYS
from commission.tui.screens.over import OverScreen
from commission.tui.widgets.key_line import KeyLine
from commission.tui.widgets.pick_input import PickInput
from commission.tui.widgets.title import Title

KEEP, BACK = "keep", "back"
ONE_OF_THEM = "take one of those below, by its number"
_TITLE_LINES = 2  # with the empty one below it
_SETTLED_S = 0.1  # by then a refused form has been laid out, and earlier scrolling is done


@dataclass(frozen=True, slots=True)
class Line:
    """One line of a form.

    An answer is one of its choices, or nothing; `free` where other words may stand too. A line that
    `follows` shows what is so now of the thing that the form's first line names.
    """

    key: str
    label: str
    value: str = ""
    choices: tuple[str, ...] = ()
    hint: str = ""
    secret: bool = False  # shown as dots
    needed: str = ""  # what to say while nothing is written here; "" where it may stay empty
    free: bool = False
    follows: Callable[[str], str] | None = None

    def refuse(self, answer: str) -> None:
        """Raise LineRefused for an answer that can't be meant."""
        if self.needed and not answer:
            raise LineRefused(self.key, self.needed)
        if answer and self.choices and not self.free and answer not in self.choices:
            words = f"'{answer}' is none of those offered: take one by its number"
            raise LineRefused(self.key, words)


class LineRefused(InputRefused):
    """One line of a form that cannot be kept as it stands."""

    def __init__(self, key: str, words: str) -> None:
        super().__init__(words)
        self.key = key


class FormEnd(OptionList):
    """Keep or Back, at the end of a form; Up from the first goes back to the lines."""

    def action_cursor_up(self) -> None:
        """Go up, out of the list at its top."""
        if self.highlighted in (None, 0):
            self.screen.focus_previous()
        else:
            super().action_cursor_up()

    def action_cursor_down(self) -> None:
        """Go down, and stay at the last."""
        if self.highlighted is None or self.highlighted < self.option_count - 1:
            super().action_cursor_down()


class FormScreen(OverScreen[bool]):
    """A form; `keep` gets the lines, and raises CommissionError when it refuses.

    Closes with True once kept, with False when left by "Back". What was typed stays on the form
    until then, so a refusal (a full disk, say) loses nothing; the cursor goes to a refused line.
    """

    AUTO_FOCUS = ""  # `on_mount` does it, without scrolling away what stands above
    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("escape", "to_back", "Back"),
    ]

    def __init__(
        self,
        title: str,
        lines: Sequence[Line],
        keep: Callable[[dict[str, str]], object],
        *,
        about: Content | str = "",
        keep_words: str = "Keep",
    ) -> None:
        super().__init__()
        self._title = title
        self._lines = tuple(lines)
        self._keep = keep
        self._about = about
        self._keep_words = keep_words

    def compose(self) -> ComposeResult:
        with VerticalScroll(id="dialogue", can_focus=False):
            yield Title(self._title)
            if self._about:
                about = self._about
                yield Static(Content(about) if isinstance(about, str) else about)
            yield Static(id="dialogue-problem", classes="problem")
            for line in self._lines:
                yield Static(Content(line.label), classes="label")
                yield PickInput(
                    line.value,
                    choices=line.choices,
                    keys=self._keys(line),
                    offered=True,
                    password=line.secret,
                    id=f"line-{line.key}",
                )
                hint = line.hint
                if line.choices:
                    offered = "   ".join(
                        f"{n} {choice}" for n, choice in enumerate(line.choices, start=1)
                    )
                    hint = f"{hint}  {offered}".strip()
                if hint:
                    yield Static(Content(hint), classes="hint")
                yield Static(id=f"problem-{line.key}", classes="problem")
            yield FormEnd(
                Option(Content(self._keep_words), id=KEEP),
                Option(Content("Back, keep nothing"), id=BACK),
                id="dialogue-end",
            )
        yield KeyLine(FORM_KEYS)

    @property
    def half_typed(self) -> bool:
        """Whether a line holds something else than was offered."""
        return any(line.touched for line in self.query(PickInput))

    def on_descendant_focus(self) -> None:
        """Say what the keys do where the cursor stands now."""
        chooses = isinstance(self.focused, PickInput) and self.focused.choices
        self.query_one(KeyLine).say(CHOICE_KEYS if chooses else FORM_KEYS)

    def on_mount(self) -> None:
        """Start in the first line, with what stands above it as far as there is room."""
        first = self._field(self._lines[0])
        self._follow()
        first.focus(scroll_visible=False)
        self.call_after_refresh(first.scroll_visible, animate=False)

    def _field(self, line: Line) -> PickInput:
        return self.query_one(f"#line-{line.key}", PickInput)

    def on_input_changed(self, event: PickInput.Changed) -> None:
        """What the first line names is another: lines that tell of it follow."""
        if event.input is self._field(self._lines[0]):
            self._follow()

    def _follow(self) -> None:
        """Fill the lines that follow the first; one that was typed into, or emptied, stays."""
        named = self._field(self._lines[0]).meant
        for line in self._lines:
            if line.follows is not None:
                field = self._field(line)
                if not field.touched:
                    field.propose(line.follows(named))

    def _keys(self, line: Line) -> dict[str, Callable[[], None]]:
        """Enter goes on to the next line; Up and Down too where they do not walk choices."""
        keys: dict[str, Callable[[], None]] = {
            "enter": lambda: self._move(1),
            "tab": lambda: self._move(1),
            "shift+tab": lambda: self._move(-1),
            "escape": self.action_to_back,
            "pageup": lambda: self._text.scroll_page_up(animate=False),
            "pagedown": lambda: self._text.scroll_page_down(animate=False),
        }
        if not line.choices:
            keys |= {"up": lambda: self._move(-1), "down": lambda: self._move(1)}
        return keys

    @property
    def _text(self) -> VerticalScroll:
        return self.query_one("#dialogue", VerticalScroll)

    def _move(self, by: int) -> None:
        """Go to the next or previous line, or to the end of the form."""
        self._follow()  # before the next key goes into a line
        if by > 0:
            self.focus_next()
        else:
            self.focus_previous()

    def action_to_back(self) -> None:
        """Stand on "Back"; only Enter there leaves."""
        end = self.query_one("#dialogue-end", OptionList)
        end.highlighted = 1
        self.set_focus(end)  # at once: `focus()` would let the next key go to the line before

    def on_option_list_option_selected(self, event: OptionList.OptionSelected) -> None:
        """Keep, or leave."""
        if not self.is_active:  # a key typed twice keeps or leaves once
            return
        if event.option.id == BACK:
            self.leave(False)
            return
        self._follow()
        values = {line.key: self._field(line).meant for line in self._lines}
        try:
            for line in self._lines:
                line.refuse(values[line.key])
            self._keep(values)
        except CommissionError as error:
            self._refused(error)
        else:
            self.leave(True)

    def _go_to(self, line: PickInput) -> None:
        """Stand in a line, with what is around it in view: now, and once all is laid out anew.

        What the line before the refusal asked to be scrolled to may still come in between.
        """
        self.set_focus(line, scroll_visible=False)
        self._show_line(line)
        self.set_timer(_SETTLED_S, lambda: self._show_line(line))

    def _show_line(self, line: PickInput) -> None:
        """Scroll to a line, unless the cursor has gone on."""
        if self.focused is line:
            text = self._text
            y = line.virtual_region.y - text.size.height // 2
            text.scroll_to(y=y, animate=False, immediate=True)

    def _refused(self, error: CommissionError) -> None:
        """Say why, at the line that it is about, and go there; else above the first line.

        Keep is left either way: Enter once more would only be refused again, unread.
        """
        for static in self.query(".problem").results(Static):
            static.remove_class("said")
        key = error.key if isinstance(error, LineRefused) else ""
        where = f"#problem-{key}" if key else "#dialogue-problem"
        static = self.query_one(where, Static)
        static.update(Content(str(error)))
        static.add_class("said")
        self._go_to(self.query_one(f"#line-{key or self._lines[0].key}", PickInput))


class MenuScreen(OverScreen[str]):
    """A list to choose from; dismisses with the chosen key, "" when left."""

    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("escape", "leave", "Back"),
        Binding("ctrl+f", "take('fault')", show=False),  # the key of the walk, where it is offered
        *(Binding(str(n), f"choose({n})", show=False) for n in range(10)),
        Binding("pageup", "page(-1)", show=False, priority=True),
        Binding("pagedown", "page(1)", show=False, priority=True),
    ]

    def __init__(
        self, title: str, options: Sequence[tuple[str, str]], about: Content | str = ""
    ) -> None:
        super().__init__()
        self._title = title
        self._options = tuple(options)
        self._about = about
        self._number = 0  # of the line that the digits typed so far lead to

    def compose(self) -> ComposeResult:
        with VerticalScroll(id="dialogue", can_focus=False):
            yield Title(self._title)
            if self._about:
                about = self._about
                yield Static(
                    Content(about) if isinstance(about, str) else about, id="dialogue-about"
                )
            digits = len(str(len(self._options)))
            yield OptionList(
                *(
                    Option(Content(f"{n:>{digits}}  {words}"), id=key)
                    for n, (key, words) in enumerate(self._options, start=1)
                ),
                id="dialogue-menu",
                classes="" if self._about else "first",
            )
        yield KeyLine(MENU_KEYS)

    def on_mount(self) -> None:
        """Stand on the first line."""
        menu = self.query_one("#dialogue-menu", OptionList)
        menu.highlighted = 0
        menu.focus()
        self.call_after_refresh(self._fit)

    def on_resize(self) -> None:
        """Another height, and perhaps another need to scroll."""
        self.call_after_refresh(self._fit)

    def tell(self, about: str) -> None:
        """Say something else above the list."""
        self.query_one("#dialogue-about", Static).update(Content(about))
        self.call_after_refresh(self._fit)

    def _fit(self) -> None:
        """Keep the list in view below a text that is too long for the window."""
        if not self._about or not self.is_attached:
            return
        window = self.query_one("#dialogue").size.height
        menu = self.query_one("#dialogue-menu", OptionList)
        text = self.query_one("#dialogue-about").outer_size.height + _TITLE_LINES
        options = menu.virtual_size.height + 1
        long = text + options > window >= 2 * options
        if long and not menu.has_class("below"):  # it had been scrolled to the list
            self.call_after_refresh(self.query_one("#dialogue").scroll_home, animate=False)
        menu.set_class(long, "below")
        self.query_one(KeyLine).say(LONG_MENU_KEYS if long else MENU_KEYS)

    def action_page(self, by: int) -> None:
        """Scroll the text where the list stands below it, else the list."""
        menu, text = self.query_one("#dialogue-menu", OptionList), self.query_one("#dialogue")
        if menu.has_class("below"):
            (text.scroll_page_down if by > 0 else text.scroll_page_up)(animate=False)
        else:
            menu.action_page_down() if by > 0 else menu.action_page_up()  # type: ignore[no-untyped-call]

    def action_choose(self, digit: int) -> None:
        """Move to a line by its number, digit by digit; Enter chooses it."""
        menu = self.query_one("#dialogue-menu", OptionList)
        typed = self._number if menu.highlighted == self._number - 1 else 0
        number = next((n for n in (10 * typed + digit, digit) if 0 < n <= len(self._options)), 0)
        if number:
            menu.highlighted, self._number = number - 1, number

    def action_take(self, key: str) -> None:
        """Choose a line by its key, where the list has it."""
        if key in dict(self._options):
            self.leave(key)

    def action_leave(self) -> None:
        """Nothing is chosen and nothing is lost."""
        self.leave("")

    def on_option_list_option_selected(self, event: OptionList.OptionSelected) -> None:
        """Enter chooses."""
        self.leave(event.option.id or "")


class TextScreen(OverScreen[None]):
    """Something to read, full height; any of the keys shown leaves it."""

    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("escape,enter", "leave", "Back"),
    ]

    def __init__(self, title: str, text: Content) -> None:
        super().__init__()
        self._title = title
        self._text = text

    def compose(self) -> ComposeResult:
        with VerticalScroll(id="reading"):
            yield Title(self._title)
            yield Static(self._text)
        yield KeyLine(READING_KEYS)

    def on_mount(self) -> None:
        """The text takes the scroll keys."""
        self.query_one("#reading", VerticalScroll).focus()

    def action_leave(self) -> None:
        """Back to where it was opened."""
        self.leave(None)
