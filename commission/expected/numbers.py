"""The expected values of a site as one flat list, and what differs between two such lists."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass, replace
from functools import partial

from commission.electrical.conformance import verdict
from commission.expected.alone import each_alone
from commission.expected.asfound import in_words
from commission.expected.loops import loop_expectation
from commission.expected.model import on_test_day, working_case
from commission.expected.sheet import Sheet, Spot
from commission.expected.together import own_coils_v, run_of
from commission.expected.values import Expectation
from commission.expected.voltages import chart_voltages_v, min_solenoid_v
from commission.site.schema import Station
from commission.units import Quantity, show

_SAME = 1e-9  # relative: computed in another order, and nothing else
_RANGES_AT_ONCE = 10_000  # stations times boxes: some 50 ms


@dataclass(frozen=True, slots=True)
class Number:
    """One expected value: `where` and `what` name it, `words` show it, `value` is in SI."""

    where: str
    what: str
    words: str
    range_words: str = ""  # its range, or where it is and what is asked
    value: float = 0.0
    verdict: str = ""
    find_range: Callable[[], str] | None = None  # one not known yet, as it takes its time

    @property
    def in_full(self) -> str:
        """The value with what is known to stand in brackets behind it."""
        return f"{self.words} ({self.range_words})" if self.range_words else self.words

    @property
    def with_range(self) -> str:
        """The same; a range that is not known yet is found now, in a few milliseconds."""
        return self.ranged().in_full

    def ranged(self) -> Number:
        """The value with its range found."""
        if self.find_range is None:
            return self
        return replace(self, range_words=self.find_range(), find_range=None)


@dataclass(frozen=True, slots=True)
class Difference:
    """A value before and after; one side is missing where it is not asked there."""

    before: Number | None
    after: Number | None

    @property
    def number(self) -> Number:
        """The value as it is now, or as it was."""
        found = self.after or self.before
        assert found is not None
        return found

    @property
    def words(self) -> str:
        """Both on one line, what is another first: the ranges where the value is the same."""
        if self.before is None or self.after is None:
            return f"{self.number.in_full} {'is new' if self.after else 'is not asked any more'}"
        if self.before.words == self.after.words:
            ranges = (self.before.range_words, self.after.range_words)
            return f"{' -> '.join(one or 'no range' for one in ranges)}, at {self.after.words}"
        return f"{self.before.words} -> {self.after.in_full}"


@dataclass(frozen=True, slots=True)
class Differences:
    """What reads otherwise; `unseen` counts what moved by less than is shown."""

    shown: tuple[Difference, ...] = ()
    unseen: int = 0


def differences(
    before: Iterable[Number], after: Iterable[Number], *, whole: bool = True
) -> Differences:
    """What differs, in the order of `after`; what is only in `before` comes last.

    Not `whole`: `after` is not at its end yet, so that nothing is said to be gone.
    """
    old = {(one.where, one.what): one for one in before}
    shown, unseen = [], 0
    for one in after:
        was = old.pop((one.where, one.what), None)
        if was is None or was.in_full != one.in_full:
            shown.append(Difference(was, one))
        elif abs(was.value - one.value) > _SAME * abs(was.value):
            unseen += 1
    if whole:
        shown += [Difference(one, None) for one in old.values()]
    return Differences(tuple(shown), unseen)


def numbers(
    sheet: Sheet, cancelled: Callable[[], bool] = lambda: False
) -> Iterator[tuple[Number, ...]]:
    """Every expected value that follows from the drawing, in portions; what takes longest last.

    Raises SearchCancelled from within the search for the worst set when `cancelled` says so.
    """
    yield tuple(_loops(sheet))
    yield tuple(_idle(sheet))
    for output in sheet.drawing.outputs:
        yield tuple(_stations(sheet, output))
    for output in sheet.drawing.outputs:
        yield tuple(_together(sheet, output, cancelled))


def _ranged(where: str, what: str, found: Expectation | None, unit: str) -> Iterator[Number]:
    """A value with its range; none where nothing is expected."""
    if found is None:
        return
    words = show(found.value, unit, found.quantity)
    yield Number(where, what, words, found.between(unit), found.value)


def _loops(sheet: Sheet) -> Iterator[Number]:
    for path, tree in sheet.drawing.trees.items():
        for end in tree.ends():
            found = loop_expectation(sheet.drawing, path, end)
            yield from _ranged(f"path {path}, end {end}", "loop resistance", found, "ohm")


def _idle(sheet: Sheet) -> Iterator[Number]:
    """With nothing running, at nominal mains on the test day."""
    for output in sheet.drawing.outputs:
        found = sheet.expectation("output-voltage", Spot(output))
        yield from _ranged(f"output {output}", "volts, nothing running", found, "V")
    for path in sheet.site.path:
        spot = Spot(path.output, path.id)
        where = f"path {path.id}"
        standby = sheet.expectation("standby-current", spot)
        yield from _ranged(where, "standby current", standby, "mA")
        for conductor in ("first", "second"):
            found = sheet.expectation(f"{conductor}-volts-to-earth", spot)
            yield from _ranged(where, f"{conductor} conductor to earth", found, "V")
        for end in sheet.drawing.trees[path.id].ends():
            at_end = sheet.expectation("end-voltage", Spot(path.output, path.id, end))
            yield from _ranged(f"{where}, end {end}", "volts, nothing running", at_end, "V")


def _stations(sheet: Sheet, output: str) -> Iterator[Number]:
    """Each station running alone: settled on the test day, then at the worst.

    A range takes a solution of the whole output for each station: at once on a small one, else
    when it is looked at.
    """
    day, worst = on_test_day(sheet.drawing, output, None), working_case(sheet.drawing, output)
    settled = each_alone(day, "holding")
    pulling, held = each_alone(worst, "inrush"), each_alone(worst, "holding")
    by_chart_v = chart_voltages_v(worst)
    at_once = len(day.stations) * len(day.nodes) <= _RANGES_AT_ONCE
    for station in day.stations:
        where, own = f"station {station.number}", settled[station.id]
        least = f"minimum {min_solenoid_v(sheet.drawing, station):.1f} V"
        for name, what, value, unit in (
            ("station-voltage", "box volts, running", own.box_v, "V"),
            ("station-current", "path current, running", own.path_current_a, "mA"),
        ):
            quantity: Quantity = "voltage" if unit == "V" else "current"
            find = partial(_range_of, sheet, name, station, unit)
            one = Number(where, what, show(value, unit, quantity), "", value, "", find)
            yield one.ranged() if at_once else one
        for what, value in (
            ("coil volts, inrush, worst", pulling[station.id].lowest_v),
            ("coil volts, held, worst", held[station.id].lowest_v),
            ("box volts by the chart", by_chart_v[station.id]),
        ):
            yield Number(where, what, show(value, "V", "voltage"), least, value)


def _range_of(sheet: Sheet, name: str, station: Station, unit: str) -> str:
    path = sheet.drawing.path_of[station.path]
    found = sheet.expectation(name, Spot(path.output, path.id, station.box, station.id))
    return found.between(unit) if found else ""


def _together(sheet: Sheet, output: str, cancelled: Callable[[], bool]) -> Iterator[Number]:
    """The worst set: who, how low, how likely all stay above their minimum, and what it draws."""
    model, where = working_case(sheet.drawing, output), f"output {output}"
    found = model.worst_set(cancelled=cancelled)
    if found is None:
        yield Number(where, "worst set", "no station may run")
        return
    run, coil_v = run_of(model, found), abs(found.coil_v)
    stations = ", ".join(str(number) for number in found.stations)
    yield Number(where, "worst set that may run", f"stations {stations}")
    at = f"station {run.worst.number}, minimum {run.min_v:.1f} V"
    held_v = own_coils_v(model, run.worst, run.stations, "holding")[run.solenoid.id]
    for what, volts in (
        ("lowest coil volts, worst set", coil_v),
        ("the same, pulling in last", model.staggered_v(run.stations, run.worst)),
        ("the same, all held", held_v),
    ):
        yield Number(where, what, f"{volts:.1f} V", at, volts)
    believed = sheet.as_found(output, running=run.ids)
    if believed is not None:
        chance = believed.works([]).probability
        words = f"{verdict(chance)}, {in_words(chance)}"
        yield Number(where, "will it work", words, "", chance, verdict(chance))
    for name, what, unit in (
        ("together-voltage", "box volts, worst set", "V"),
        ("together-output-voltage", "output volts, worst set", "V"),
        ("together-current", "output current, worst set", "A"),
    ):
        yield from _ranged(where, what, sheet.expectation(name, Spot(output)), unit)
    for carried in sheet.carried(output):
        what = f"output current, all {carried.state}"
        yield Number(where, what, carried.words, "", carried.current_a, carried.verdict)
