"""Which segments to enlarge where an output's worst set fails, with the least added copper.

"Fails" is question 2 as drawn: lowest mains, warmest soil, sizing resistances, all in inrush. A
step replaces both conductors of a segment by the next larger size of their own family; its price is
the copper that it adds, length × area of both conductors (judgement: prices change, copper less).

First a choice is found step by step: always the step with the most voltage per copper for the worst
solenoid, as far as that voltage is still missing; then what has become needless is taken back. Then
every choice with less copper is tried, where they are few: the result is exact, or said to be
found step by step. Whatever is tried counts only once the worst set, which may be another one by
then, has been searched for anew on the site as it would be.
"""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Sequence
from dataclasses import asdict, dataclass, replace
from typing import TYPE_CHECKING, Any, Literal

from commission.electrical.network import CollapseError
from commission.electrical.worst_set import WorstSet
from commission.expected.inputs import Drawing
from commission.expected.model import OutputModel, working_case
from commission.expected.segment_choices import Choice, Rungs, choices_of, enlarged
from commission.expected.sets_seen import SetsSeen
from commission.expected.together import run_of
from commission.site.schema import Output, Site
from commission.site.tree import build_trees

if TYPE_CHECKING:
    from commission.expected.sheet import Sheet

MAX_SETS = 20_000
"""Choices of segments tried, at most, to prove that none with less copper passes."""

COPPER_KG_PER_M3 = 8_890.0
"""Density of copper (IEC 60028: 8.89 g/cm³ at 20 °C; from memory)."""

Search = Literal["exact", "step by step", ""]


@dataclass(frozen=True, slots=True)
class Step:
    """One segment to enlarge: the one that feeds `box`."""

    path: str
    box: str
    from_size: str
    to_size: str
    length_m: float
    added_copper_kg: float


@dataclass(frozen=True, slots=True)
class Sizing:
    """One output: whether its worst set works as drawn, and what to enlarge when it does not.

    Ratios are voltage over minimum of the worst solenoid, None where no station may run. Without
    steps that help, `ratio_after` is None and `reason` says why cable alone cannot do it.
    `stations_at_once_as_drawn` is the most that may run together with nothing enlarged.
    """

    output: str
    passes: bool
    ratio_before: float | None
    stations: tuple[str, ...]
    station: str
    solenoid: str
    voltage_v: float | None
    minimum_v: float | None
    stations_at_once: int
    stations_at_once_as_drawn: int
    search: Search
    steps: tuple[Step, ...]
    added_copper_kg: float
    ratio_after: float | None
    reason: str


def sizing_document(sheet: Sheet) -> list[dict[str, Any]]:
    """The sizing of every output of a site as plain values; sizes in words, the rest in SI."""
    return as_plain_values(sizings(sheet.drawing))


def as_plain_values(found: Sequence[Sizing]) -> list[dict[str, Any]]:
    """Sizings as JSON has them."""
    tables = [asdict(one) for one in found]
    return [
        {**one, "stations": list(one["stations"]), "steps": list(one["steps"])} for one in tables
    ]


def sizings(drawing: Drawing) -> tuple[Sizing, ...]:
    """The sizing of every output of a site."""
    return tuple(_sizing(drawing, output) for output in drawing.site.output)


def as_drawn(model: OutputModel) -> Sizing:
    """Whether the worst set of an output works as drawn; nothing to enlarge is looked for."""
    return _as_drawn(model, _worst_set(model))


def _sizing(drawing: Drawing, output: Output) -> Sizing:
    model = working_case(drawing, output.id)
    worst = _worst_set(model)
    before = _as_drawn(model, worst)
    if before.passes:
        return before
    search = _Search(model)
    chosen, how = search.cheapest()
    at_once = _at_once_as_drawn(drawing.site, output)
    if chosen is None:
        reason = _reason(drawing.site, output, search.choices, how)
        return replace(before, stations_at_once_as_drawn=at_once, search=how, reason=reason)
    steps = _steps(search.choices, chosen)
    after = _worst_set(_rewritten(enlarged(drawing.site, search.choices, chosen), output.id))
    return replace(
        before, stations_at_once_as_drawn=at_once, search=how, steps=steps,
        added_copper_kg=sum(step.added_copper_kg for step in steps),
        ratio_after=after.ratio if after else None,
    )  # fmt: skip


def _as_drawn(model: OutputModel, worst: WorstSet | None) -> Sizing:
    """What the drawing gives, before anything is enlarged."""
    at_once = model.output.stations_at_once
    found = Sizing(
        model.output.id, True, None, (), "", "", None, None, at_once, at_once, "", (), 0.0, None, ""
    )
    if worst is None:
        return replace(found, reason="no station may run")
    run = run_of(model, worst)
    return replace(
        found,
        passes=worst.ratio >= 1,
        ratio_before=worst.ratio,
        stations=run.ids,
        station=run.worst.id,
        solenoid=run.solenoid.id,
        voltage_v=abs(worst.coil_v),
        minimum_v=run.min_v,
    )


def _steps(choices: Sequence[Choice], chosen: Rungs) -> tuple[Step, ...]:
    """What is enlarged, the least copper first."""
    steps = [
        Step(
            choice.path, choice.box, choice.rungs[0].size, choice.rungs[rung].size,
            choice.length_m, choice.rungs[rung].copper_m3 * COPPER_KG_PER_M3,
        )
        for choice, rung in zip(choices, chosen, strict=True)
        if rung
    ]  # fmt: skip
    return tuple(sorted(steps, key=lambda step: (step.added_copper_kg, step.path, step.box)))


class _Search:
    """The search for the cheapest choice of sizes on one failing output."""

    def __init__(self, model: OutputModel) -> None:
        self.choices = choices_of(model)
        self._model = model
        self._largest = tuple(len(choice.rungs) - 1 for choice in self.choices)
        self._seen = SetsSeen(model, self.choices)

    def cheapest(self) -> tuple[Rungs | None, Search]:
        """The choice with the least added copper that passes, or None, and how it was found."""
        found = self._step_by_step()
        if found is None and self._seen.lowest_ratio(self._largest) == 0:
            return None, "step by step"  # no voltage at all: thinner cable carries no more power
        most_m3 = self._copper_m3(found) * (1 - 1e-9) if found else float("inf")
        cheaper = self._cheaper(most_m3)
        if cheaper is None:
            return found, "step by step"
        return next((rungs for _, rungs in cheaper if self._passes(rungs)), found), "exact"

    def _passes(self, rungs: Rungs) -> bool:
        """Whether the worst set has enough; one that has not is remembered."""
        if self._seen.lowest_ratio(rungs) < 1:
            return False
        site = enlarged(self._model.drawing.site, self.choices, rungs)
        worst = _worst_set(_rewritten(site, self._model.output.id))
        if worst is None or worst.ratio >= 1:
            return True
        self._seen.add(worst.stations)
        return False

    def _copper_m3(self, rungs: Rungs) -> float:
        pairs = zip(self.choices, rungs, strict=True)
        return sum(choice.rungs[rung].copper_m3 for choice, rung in pairs)

    def _step_by_step(self) -> Rungs | None:
        """Enlarge where it helps most for its copper until all passes.

        None when not even the largest size everywhere is enough.
        """
        if not self._passes(self._largest):
            return None
        rungs = (0,) * len(self.choices)
        while not self._passes(rungs):
            gains = self._seen.gains(rungs)
            best, place = 0.0, -1
            for i, (choice, rung) in enumerate(zip(self.choices, rungs, strict=True)):
                if rung + 1 < len(choice.rungs):
                    copper = choice.rungs[rung + 1].copper_m3 - choice.rungs[rung].copper_m3
                    if gains[i] / copper > best:
                        best, place = gains[i] / copper, i
            rungs = _moved(rungs, place, 1) if place >= 0 else self._largest
        return self._without_needless(rungs)

    def _without_needless(self, rungs: Rungs) -> Rungs:
        """Take back every step that is not needed, the one with the most copper first."""
        while True:
            smaller = [_moved(rungs, i, -1) for i, rung in enumerate(rungs) if rung]
            smaller.sort(key=self._copper_m3)
            needless = next((one for one in smaller if self._passes(one)), None)
            if needless is None:
                return rungs
            rungs = needless

    def _cheaper(self, most_m3: float) -> list[tuple[float, Rungs]] | None:
        """Every choice that adds less copper, the least first; None when they are too many."""
        found: list[tuple[float, Rungs]] = [(0.0, ())]
        for choice in self.choices:
            found = [
                (copper + rung.copper_m3, (*rungs, i))
                for copper, rungs in found
                for i, rung in enumerate(choice.rungs)
                if copper + rung.copper_m3 < most_m3
            ]
            if len(found) > MAX_SETS:
                return None
        return sorted(found)


def _moved(rungs: Rungs, place: int, by: int) -> Rungs:
    return (*rungs[:place], rungs[place] + by, *rungs[place + 1 :])


def _rewritten(site: Site, output_id: str) -> OutputModel:
    """The output of a changed site, as "will it work" asks."""
    return working_case(Drawing(site, build_trees(site)), output_id)


def _worst_set(model: OutputModel) -> WorstSet | None:
    """The worst set; where constant-power standby finds no voltage at all, its ratio is 0."""
    try:
        return model.worst_set()
    except CollapseError:
        first = model.stations[0].number
        return WorstSet((first,), first, 0, 0j, 0.0, 0)


def _passes_as(site: Site, output: Output) -> bool:
    """Whether a site passes with one of its outputs changed."""
    outputs = tuple(output if one.id == output.id else one for one in site.output)
    worst = _worst_set(_rewritten(replace(site, output=outputs), output.id))
    return worst is None or worst.ratio >= 1


def _at_once_as_drawn(site: Site, output: Output) -> int:
    """The most stations at once with which the output passes as drawn; 0 when not even one."""
    return bisect_left(
        range(1, output.stations_at_once),
        True,
        key=lambda at_once: not _passes_as(site, replace(output, stations_at_once=at_once)),
    )


def _reason(site: Site, output: Output, choices: Sequence[Choice], how: Search) -> str:
    """Why no cable helps: the source, the number at once, or distances beyond every size."""
    at_terminals = replace(
        site,
        path=tuple(
            replace(path, segment=tuple(replace(s, length_m=0.0) for s in path.segment))
            for path in site.path
        ),
    )
    if _passes_as(at_terminals, output):
        largest = sorted({choice.rungs[-1].size for choice in choices})
        sizes = " or ".join(largest)
        found = (
            f"no choice of sizes up to {sizes} is enough"
            if how == "exact"
            else f"even with every segment at {sizes} the worst set has too little"
        )
        return f"{found}; run fewer stations at once, or bring a source nearer"
    if _passes_as(at_terminals, replace(output, stations_at_once=1)):
        return (
            "too many stations at once for the source: even beside its terminals the worst set "
            "has too little; run fewer at once, or fit a stronger source"
        )
    return (
        "the source is too weak: even beside its terminals one station alone has too little; "
        "look at its data, the solenoids' and the mains"
    )
