"""The keys of the walk: one table feeds the bindings, the lines at the bottom and the help page."""

from __future__ import annotations

from dataclasses import dataclass

from textual.binding import Binding


@dataclass(frozen=True, slots=True)
class Key:
    """One key: what it is called in Textual, what people read, and what it does."""

    key: str
    shown: str
    action: str
    words: str
    help: str

    @property
    def binding(self) -> Binding:
        """The binding of this key on a screen."""
        return Binding(self.key, self.action, self.words, show=False)


WALK = (
    Key("enter", "Enter", "", "keep",
        "keep what is typed; it is on disk before the screen moves on"),
    Key("pageup", "PgUp", "read(-1)", "", "read the step before; nothing is kept"),
    Key("pagedown", "PgDn", "read(1)", "read", "read the step after; nothing is kept"),
    Key("escape", "Esc", "menu", "menu",
        "menu: skip, note, defect, photo, take back, people, sign"),
    Key("ctrl+n", "Ctrl+N", "next_open", "next open",
        "go to the next step still open, or to be done again"),
    Key("ctrl+l", "Ctrl+L", "steps", "list",
        "the list of all steps: Up, Down, Enter; again: back"),
    Key("ctrl+g", "Ctrl+G", "calculation", "why",
        "why this value is expected: formula, numbers, doubt"),
    Key("ctrl+f", "Ctrl+F", "fault", "fault",
        "find the fault: where it may be, and which test next"),
    Key("ctrl+r", "Ctrl+R", "whole", "text", "the whole text of the step, to scroll through"),
    Key("ctrl+o", "Ctrl+O", "large", "large",
        "this step large, to read at arm's length; again: back"),
    Key("ctrl+t", "Ctrl+T", "app.other_theme", "colours", "colours for sun or for night"),
    Key("ctrl+q", "Ctrl+Q", "app.leave", "quit",
        "quit; open the same site again to go on"),
)  # fmt: skip
_IN_LIST = ["Up Down PgUp PgDn Home End", "Enter to the step", "Esc menu"]
_CTRL = "ctrl+"
_IN_LINES = tuple(key for key in WALK if key.words)
# What is left out where even two lines are too narrow; the help page, in the menu, has all.
_SELDOM = ("ctrl+t", "ctrl+r", "ctrl+o", "ctrl+f", "ctrl+g")
_LEFT_OUT = tuple(_SELDOM[:count] for count in range(len(_SELDOM) + 1))
# What the other screens say; it fits in the least room there may be, `fitted` puts ALWAYS behind.
ALWAYS = "Ctrl: T colours  Q quit"  # these two keys work on all screens
START_KEYS = "Up Down or a number, then Enter  Esc first line"
FORM_KEYS = "Enter next  Up before  PgUp PgDn text  Esc Enter leave"
CHOICE_KEYS = "Arrows pick  Enter next  Shift+Tab up  Esc Enter leave"
MENU_KEYS = "Up Down or a number, then Enter  Esc back"
LONG_MENU_KEYS = "Up Down or a number, Enter  PgUp PgDn text  Esc back"
READING_KEYS = "Up Down PgUp PgDn scroll  Enter Esc back"
BOARD_KEYS = "1-6 Left Right list  Up Down Enter go there  Esc back"
PICTURE_KEYS = "Left fold  Right unfold  Up Down Enter go  Esc back"
PROFILE_KEYS = "1-5 view  Left Right place  Up Down  Enter Esc back"
CALCULATION_KEYS = "Left Right value  Up Down scroll  Enter go  Esc back"
REVIEW_KEYS = "1-6 Left Right list  Up Down Enter all  Esc leave"
EDIT_KEYS = "Up Down Enter change  Tab to the values  Esc menu"
REVIEWS_KEYS = "Up Down Home End move  Enter look into one  Esc leave"
BOUND = tuple(key.binding for key in WALK if key.action and not key.action.startswith("app."))


def fitted(words: str, width: int) -> str:
    """The keys of a screen, and those that work on all: in one line, or in two where it is long."""
    whole = f" {words}  {ALWAYS}"
    return whole if len(whole) <= width else f" {words}\n {ALWAYS}"


def lines(width: int, *, in_list: bool = False, large: bool = False) -> str:
    """The keys in one line; where there is no room Ctrl is said once, then in two lines.

    Where even the second is too long, some are left out of it. `in_list` is the list of steps;
    the `large` step leaves room for one line, above all for the key that leads back.
    """
    if large:
        return _line_of_large(width)
    held = [key for key in _IN_LINES if key.key.startswith(_CTRL)]
    first = " " + "  ".join(_IN_LIST) if in_list else _without_ctrl()
    seconds = [_held([key for key in held if key.key not in left]) for left in _LEFT_OUT]
    spelt = "  ".join([first, *(_said(key, key.shown) for key in held)])
    for whole in (spelt, f"{first} {seconds[0]}"):
        if len(whole) <= width:
            return whole
    second = next((one for one in seconds if len(one) <= width), seconds[-1])
    return f"{first}\n{second}"


def _line_of_large(width: int) -> str:
    first = _without_ctrl()
    whole = f"{first}  Ctrl: N next open  O back  Q quit"
    return whole if len(whole) <= width else f"{first}  Ctrl: O back  Q quit"


def _without_ctrl() -> str:
    alone = (key for key in _IN_LINES if not key.key.startswith(_CTRL))
    return " " + "  ".join(_said(key, key.shown) for key in alone)


def _held(keys: list[Key]) -> str:
    return " Ctrl: " + "  ".join(_said(key, key.key[-1].upper()) for key in keys)


def _said(key: Key, shown: str) -> str:
    both = "PgUp PgDn" if key.key == "pagedown" else shown
    return f"{both} {key.words}"


def help_text() -> str:
    """Every key with what it does."""
    return "\n".join(f"{key.shown:<9}{key.help}" for key in WALK)


def help_page() -> str:
    """The keys, how answers are typed, the marks in the list, and the usual cautions."""
    return f"{help_text()}\n\n{_ANSWERS}"


_ANSWERS = """\
Readings are typed as read: 11.6  11,6  1.2k  0.4 Mohm  OL  >200 M
To test again, type a new reading on the same step; the earlier one stays in the history.
A slip: Esc, and the first line undoes the last answer; it stays in the history too.
Choices: type the number or the beginning of the word, or walk with Up and Down.
Forms: Enter goes to the next line, Up or Shift+Tab to the one before, Esc to Back at the end.
Menus: type a number or walk with Up and Down, then Enter; Esc comes back.
Overviews and drawings: a number is a view, Left and Right another place or view; Enter goes to \
the step, Esc comes back.
The list: + pass or recorded, x fail, ? marginal, - skipped, o not applicable, ~ to be done \
again, blank: still open; > is where you are.

Mains at the controller: isolate, lock off, prove dead; a licensed person works on the supply. \
Local codes and the authority having jurisdiction decide; limits here are defaults.
"""
