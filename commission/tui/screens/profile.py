"""The profile: voltages along a route, loops beside what is expected, and all stations."""

from __future__ import annotations

from collections import defaultdict
from typing import ClassVar

from textual import events
from textual.app import ComposeResult
from textual.binding import Binding, BindingType
from textual.containers import Vertical, VerticalScroll
from textual.content import Content
from textual.widgets import Static

from commission.checklist.targets import Target
from commission.job import Job
from commission.picture import OPEN
from commission.profile import (
    Profile,
    idle_route,
    loops,
    station_profile,
    station_states,
    worst_set_profile,
)
from commission.tui.keys import PROFILE_KEYS
from commission.tui.screens.over import OverScreen
from commission.tui.theme import VERDICT_STYLE
from commission.tui.widgets.key_line import KeyLine
from commission.tui.widgets.plot import Part, legend, loop_bar, plot
from commission.tui.widgets.title import Title
from commission.units import length_words, show
from commission.verdict.judge import FAIL, MARGINAL, MARKS, NOT_TESTED, PASS, marked

VIEWS = ("worst set", "station", "nothing running", "loops", "stations")
_STATES = ((FAIL, "fail"), (MARGINAL, "marginal"), (OPEN, "still open"), (NOT_TESTED, "skipped"),
           (PASS, "pass"))  # fmt: skip
_EDGES = 10  # lines around the plot: title, views, heading, legend, keys


class ProfileScreen(OverScreen[None]):
    """Five views by number; Left and Right take another output, station or end."""

    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("escape,enter", "leave", "Back"),
        Binding("left", "turn(-1)", "One before"),
        Binding("right", "turn(1)", "Next one"),
        *(Binding(str(n), f"view({n - 1})", show=False) for n in range(1, len(VIEWS) + 1)),
    ]

    def __init__(self, job: Job, here: Target) -> None:
        """Begins at the place of a step: its output, station or path."""
        super().__init__()
        self._job = job
        self._view = 0
        stations = sorted(job.site.station, key=lambda one: one.number)
        trees = job.sheet.drawing.trees
        self._places: tuple[list[tuple[str, ...]], ...] = (
            [(output.id,) for output in job.site.output],
            [(one.id,) for one in stations],
            [(path.id, end) for path in job.site.path for end in trees[path.id].ends()],
            [()],
            [()],
        )
        own = ((here.output,), (here.station,), (here.path, here.box), (), ())
        self._at = [
            places.index(place) if place in places else 0
            for places, place in zip(self._places, own, strict=True)
        ]
        if here.station:
            self._view = 1

    def compose(self) -> ComposeResult:
        with Vertical(classes="board"):
            yield Title("The profile")
            yield Static(id="views")
            with VerticalScroll(id="profile-scroll"):
                yield Static(id="profile")
        yield KeyLine(PROFILE_KEYS)

    def on_mount(self) -> None:
        """The text takes the scroll keys."""
        self.query_one("#profile-scroll").focus()
        self.action_view(self._view)

    def on_resize(self, _event: events.Resize) -> None:
        """Draw it as large as there is room."""
        self.action_view(self._view)

    def action_turn(self, by: int) -> None:
        """Another output, station or end."""
        self._at[self._view] = (self._at[self._view] + by) % len(self._places[self._view])
        self.action_view(self._view)

    def action_view(self, number: int) -> None:
        """Show one view."""
        self._view = number
        parts = [
            (f"[{n} {name}]", "bold") if n == number + 1 else (f" {n} {name} ", "")
            for n, name in enumerate(VIEWS, start=1)
        ]
        self.query_one("#views", Static).update(Content.assemble(*parts))
        drawn = (self._worst, self._station, self._idle, self._loops, self._stations)[number]
        self.query_one("#profile", Static).update(drawn())
        self.query_one("#profile-scroll", VerticalScroll).scroll_home(animate=False)

    @property
    def _place(self) -> tuple[str, ...]:
        return self._places[self._view][self._at[self._view]]

    def _worst(self) -> Content:
        output = self._place[0]
        profile = worst_set_profile(self._job, output)
        if profile is None:
            return Content(f"Output {output} has no stations.")
        numbers = ", ".join(str(number) for number in profile.running)
        worst = self._job.sheet.drawing.stations[self._job.sheet.worst_sets[output][-1]]
        title = f"Worst set of output {output}: stations {numbers}"
        return self._plotted(title, profile.along(worst.path, worst.box))

    def _station(self) -> Content:
        station = self._job.sheet.drawing.stations[self._place[0]]
        profile = station_profile(self._job, station.id)
        others = [str(number) for number in profile.running if number != station.number]
        beside = f" with {', '.join(others)}, which always run" if others else ""
        title = f"Station {station.number} running{beside}"
        return self._plotted(title, profile.along(station.path, station.box))

    def _idle(self) -> Content:
        path, end = self._place
        return self._plotted("Nothing running", idle_route(self._job, path, end))

    def _plotted(self, title: str, profile: Profile) -> Content:
        worst = ""
        if profile.coil_v is not None and profile.min_v is not None:
            holds = profile.coil_v >= profile.min_v
            worst = (
                f"\nAt the solenoid in inrush, as drawn: {profile.coil_v:.1f} V, needs "
                f"{profile.min_v:.1f} V: {'enough' if holds else 'TOO LITTLE'}"
            )
        end = profile.points[-1]
        words = f"{title}, along path {end.path} to {end.box}{worst}"
        drawn = plot(profile, self._length, self.size.width - 5, self.size.height - _EDGES)
        return Content.assemble((words, "bold"), "\n", drawn, "\n", (legend(profile), "$quiet"))

    def _length(self, length_m: float) -> str:
        return length_words(length_m, self._job.site.site.units)

    def _loops(self) -> Content:
        found = [loop for loop in loops(self._job) if not loop.is_reversed]
        if not found:
            return Content("No loop is asked for in this job.")
        parts: list[Part] = [
            ("Loop of each end: ╞══╪══╡ the range expected, + x ? where the reading lies\n", "bold")
        ]
        for loop in found:
            low, high = (show(ohm, "ohm", "resistance", 3) for ohm in (loop.low_ohm, loop.high_ohm))
            parts += [f"\n{loop.path} {loop.end:<16.16} ", *loop_bar(loop), " "]
            if loop.entry:
                parts.append((marked(loop.verdict), VERDICT_STYLE.get(loop.verdict, "")))
            read = f"read {loop.entry.text}" if loop.entry else "not read yet"
            parts += [f"\n    expected {low.removesuffix(' ohm')} to {high}, {read}\n"]
        return Content.assemble(*parts)

    def _stations(self) -> Content:
        parts: list[Part] = []
        by_state: dict[str, list[str]] = defaultdict(list)
        columns = max(1, (self.size.width - 6) // 6)
        for path, stations in station_states(self._job).items():
            parts.append((f"Path {path}\n", "bold"))
            for place, one in enumerate(stations, start=1):
                by_state[one.verdict].append(one.words)
                mark = MARKS.get(one.verdict, "·")
                parts.append((f"{one.words:>4}{mark} ", VERDICT_STYLE.get(one.verdict, "")))
                if place % columns == 0 or place == len(stations):
                    parts.append("\n")
        for state, words in _STATES:
            if numbers := by_state.get(state):
                mark = MARKS.get(state, "·")
                head = f"\n{mark} {words}, {len(numbers)}: "
                parts += [(head, VERDICT_STYLE.get(state, "bold")), " ".join(numbers)]
        return Content.assemble(*parts)

    def action_leave(self) -> None:
        """Back to where it was opened."""
        self.leave(None)
