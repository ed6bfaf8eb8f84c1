"""What widgets tell their screen."""

from __future__ import annotations

from dataclasses import dataclass

from textual.message import Message


@dataclass
class StepHighlighted(Message):
    """The list's cursor stands on another step."""

    step_id: str


@dataclass
class StepEntered(Message):
    """Enter was pressed in the list: go to that step's entry."""

    step_id: str
