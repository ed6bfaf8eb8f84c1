"""What every screen over the walk does when it is left."""

from __future__ import annotations

from typing import TypeVar

from textual.screen import ModalScreen

T = TypeVar("T")


class OverScreen(ModalScreen[T]):
    """A screen over another. A key typed twice leaves it once, and never what stands beneath."""

    @property
    def half_typed(self) -> bool:
        """Whether something was typed here that goes when the program ends now."""
        return False

    def leave(self, result: T) -> None:
        """Go, with what was chosen or kept; nothing where it has gone already."""
        if self.is_active:
            self.dismiss(result)
