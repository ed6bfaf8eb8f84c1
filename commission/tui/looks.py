"""What can be looked at from the walk; nothing here keeps anything."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING

from textual.content import Content

from commission.tui.keys import help_page
from commission.tui.screens.form import TextScreen
from commission.tui.widgets.step_card import card

if TYPE_CHECKING:
    from commission.tui.screens.walk import WalkScreen


class Looks:
    """The screens over the walk that are read, each loaded when it is first asked for."""

    def __init__(self, walk: WalkScreen) -> None:
        self._walk = walk

    def calculation(self) -> None:
        """How the expected value of this step, or of any other, came about."""
        from commission.tui.screens.calculation import CalculationScreen

        screen = CalculationScreen(self._walk.job, self._walk.step_id)
        self._walk.app.push_screen(screen, self._go_to())

    def whole(self) -> None:
        """The step's card at full height."""
        status = self._walk.status
        place = status.step.target.label or status.step.stage.title
        self._walk.app.push_screen(TextScreen(place, card(self._walk.job, status)))

    def picture(self) -> None:
        """The paths as trees; a box chosen there is gone to."""
        from commission.tui.screens.picture import PictureScreen, step_at

        target = self._walk.status.step.target
        station = self._walk.job.sheet.drawing.stations.get(target.station)
        box = station.box if station else target.box

        go_to = self._go_to()

        def chosen(place: str | None) -> None:
            go_to(step_at(self._walk.job, place) if place else "")

        self._walk.app.push_screen(PictureScreen(self._walk.job, target.path, box), chosen)

    def profile(self) -> None:
        """Voltages along the path, loops and stations, beginning at the step at hand."""
        from commission.tui.screens.profile import ProfileScreen

        target, go_to = self._walk.status.step.target, self._go_to()
        screen = ProfileScreen(self._walk.job, target)
        self._walk.app.push_screen(screen, lambda _left: go_to(""))

    def overview(self) -> None:
        """What is done, failed and open, and what stands against acceptance; go to a step there."""
        from commission.tui.screens.overview import OverviewScreen

        self._walk.app.push_screen(OverviewScreen(self._walk.job), self._go_to())

    def _go_to(self) -> Callable[[str | None], None]:
        """Go to the step that a screen names; back to the entry as it was where it names none."""
        typed = self._walk.typed  # a proposal is made again

        def chosen(step_id: str | None) -> None:
            self._walk.show_step(step_id or self._walk.step_id, text=None if step_id else typed)

        return chosen

    def help(self) -> None:
        """Keys and cautions."""
        self._walk.app.push_screen(TextScreen("Keys and help", Content(help_page())))
