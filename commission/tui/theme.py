"""Two themes of our own: dark ink on white for sunlight, light ink on black for the night.

A verdict is always a word and a mark; colour only repeats it. Ink and ground are at least 7:1
apart, and stay apart where a terminal brings them down to its 16 colours: so no dark grey is among
them, which becomes the 16 colours' grey, too near to black and to white.
"""

from __future__ import annotations

from textual.theme import Theme

SUN = Theme(
    name="sun",
    primary="#0b3d91",
    secondary="#24282d",
    accent="#0b3d91",
    foreground="#000000",
    background="#ffffff",
    surface="#ffffff",
    panel="#e8ebef",
    success="#004a1b",
    warning="#4f2a00",
    error="#8c0000",
    dark=False,
    text_alpha=1.0,
    variables={
        "pass": "#004a1b",
        "fail": "#8c0000",
        "marginal": "#4f2a00",
        "quiet": "#24282d",
        "bar": "#0b3d91",
        "bar-text": "#ffffff",
        "cursor-row": "#ffd76a",
        "cursor-text": "#000000",
        "caution": "#fff0b3",
        "caution-text": "#000000",
        "input-selection-background": "#b9d0ff",
    },
)

NIGHT = Theme(
    name="night",
    primary="#8fc1ff",
    secondary="#d0d5db",
    accent="#8fc1ff",
    foreground="#ffffff",
    background="#000000",
    surface="#000000",
    panel="#1c2126",
    success="#8ff0b0",
    warning="#ffc85c",
    error="#ffb8b0",
    dark=True,
    text_alpha=1.0,
    variables={
        "pass": "#8ff0b0",
        "fail": "#ffb8b0",
        "marginal": "#ffc85c",
        "quiet": "#d0d5db",
        "bar": "#00332a",
        "bar-text": "#ffffff",
        "cursor-row": "#003080",
        "cursor-text": "#ffffff",
        "caution": "#3a2f00",
        "caution-text": "#ffffff",
        "input-selection-background": "#002f8a",
    },
)

VERDICT_STYLE = {
    "pass": "$pass",
    "recorded": "$pass",
    "fail": "$fail bold",
    "marginal": "$marginal bold",
    "not tested": "$quiet",
    "not applicable": "$quiet",
}
