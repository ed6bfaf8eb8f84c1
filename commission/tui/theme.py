"""Two themes of our own: dark ink on white for sunlight, light ink on black for the night.

A verdict is always a word and a mark; colour only repeats it.
"""

from __future__ import annotations

from textual.theme import Theme

SUN = Theme(
    name="sun",
    primary="#0b3d91",
    secondary="#30343a",
    accent="#0b3d91",
    foreground="#000000",
    background="#ffffff",
    surface="#ffffff",
    panel="#e8ebef",
    success="#00531f",
    warning="#6b3a00",
    error="#9b0000",
    dark=False,
    text_alpha=1.0,
    variables={
        "pass": "#00531f",
        "fail": "#9b0000",
        "marginal": "#6b3a00",
        "quiet": "#3d4248",
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
    secondary="#c9d1d9",
    accent="#8fc1ff",
    foreground="#ffffff",
    background="#000000",
    surface="#000000",
    panel="#1c2126",
    success="#7fe0a0",
    warning="#ffc85c",
    error="#ffa8a0",
    dark=True,
    text_alpha=1.0,
    variables={
        "pass": "#7fe0a0",
        "fail": "#ffa8a0",
        "marginal": "#ffc85c",
        "quiet": "#c2c8cf",
        "bar": "#16324f",
        "bar-text": "#ffffff",
        "cursor-row": "#ffd76a",
        "cursor-text": "#000000",
        "caution": "#3a2f00",
        "caution-text": "#ffffff",
        "input-selection-background": "#234a80",
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
