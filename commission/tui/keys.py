"""The keys of the walk: one table feeds the bindings, the line at the bottom and the help page."""

from __future__ import annotations

from dataclasses import dataclass

from textual.binding import Binding


@dataclass(frozen=True, slots=True)
class Key:
    """One key: what it is called in Textual, what people read, and what it does."""

    key: str
    shown: str
    short: str
    action: str
    words: str
    help: str

    @property
    def binding(self) -> Binding:
        """The binding of this key on a screen."""
        return Binding(self.key, self.action, self.words, show=False)


WALK = (
    Key("enter", "Enter", "Enter", "", "keep",
        "keep what is typed; it is on disk before the screen moves on"),
    Key("pageup", "PgUp", "PgUp", "read(-1)", "", "read the step before; nothing is kept"),
    Key("pagedown", "PgDn", "PgDn", "read(1)", "read", "read the step after; nothing is kept"),
    Key("ctrl+n", "Ctrl+N", "^N", "next_open", "next open", "go to the next step still open"),
    Key("escape", "Esc", "Esc", "menu", "menu",
        "menu: skip, note, defect, photo, take back, people, sign"),
    Key("ctrl+l", "Ctrl+L", "^L", "steps", "list",
        "the list of all steps: Up, Down, Enter; again: back"),
    Key("ctrl+g", "Ctrl+G", "^G", "calculation", "why",
        "why this value is expected: formula, numbers, doubt"),
    Key("ctrl+r", "Ctrl+R", "^R", "whole", "", "the whole text of the step, to scroll through"),
    Key("ctrl+t", "Ctrl+T", "^T", "app.other_theme", "", "colours for sun or for night"),
    Key("ctrl+q", "Ctrl+Q", "^Q", "app.leave", "quit",
        "quit; open the same site again to go on"),
)  # fmt: skip
BOUND = tuple(key.binding for key in WALK if key.action and not key.action.startswith("app."))


def line(width: int) -> str:
    """The keys in one line, in the short writing where there is no room."""
    parts: list[str] = []
    for key in WALK:
        if not key.words and not key.key.startswith("page"):
            continue
        parts.append(f"{key.shown} {key.words}  " if key.words else f"{key.shown} ")
    whole = " " + "".join(parts).rstrip()
    if len(whole) <= width:
        return whole
    short = whole
    for key in WALK:
        short = short.replace(key.shown, key.short)
    return short


def help_text() -> str:
    """Every key with what it does."""
    return "\n".join(f"{key.shown:<9}{key.help}" for key in WALK)
