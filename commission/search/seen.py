"""What was seen at the stations: whose valve gave water, whose indicator answered."""

from __future__ import annotations

import re
from collections.abc import Callable
from itertools import groupby

from commission.job import Job, Status
from commission.locate.readings import FieldTest, Reading
from commission.verdict.judge import FAIL, PASS

_DARK = "dark"  # an indicator that does something else has power, and is no plain answer
_CLICKS = "clicks"  # it has power and moves: what is missing is water, not current

Counts = Callable[[Status], bool]


def seen_at_stations(job: Job, output: str, counts: Counts) -> tuple[list[Reading], list[str]]:
    """What people saw at each station of an output that was run; and what is too vague, named."""
    readings: list[Reading] = []
    vague: list[str] = []
    at_stations = [
        status
        for status in job.statuses.values()
        if status.step.target.station
        and status.step.target.output == output
        and status.state == "answered"
        and (status.step.item.sign or status.step.item.id in _OTHERS_TOLD)
        and counts(status)
    ]
    at_stations.sort(key=lambda status: status.step.target.station)
    for _, group in groupby(at_stations, key=lambda status: status.step.target.station):
        station = _Station(job, list(group))
        readings += [one for one in (station.indicator(), station.water()) if one is not None]
        vague += station.vague
    return readings, vague


_OTHERS_TOLD = ("other-valve", "which-other")


class _Station:
    """The answers about one station."""

    def __init__(self, job: Job, answers: list[Status]) -> None:
        self._job = job
        self._sign = {s.step.item.sign: s for s in answers if s.step.item.sign}
        self._item = {s.step.item.id: s for s in answers}
        self._target = answers[0].step.target
        self.vague: list[str] = []

    def indicator(self) -> Reading | None:
        """Whether its indicator answered."""
        status = self._sign.get("indicator")
        if status is None or status.entry is None:
            return None
        test = FieldTest("indicator", self._target.path, self._target.box, self._target.station)
        if status.verdict == PASS:
            return Reading(test, seen=frozenset({self._target.station}))
        if status.entry.text == _DARK:
            return Reading(test)
        self._say(status, "neither as it should be nor dark")
        return None

    def water(self) -> Reading | None:
        """Which valves gave water when it was called; None when that was not told."""
        valves = [s for s in (self._sign.get("valve"), self._item.get("other-valve")) if s]
        if not valves:
            return None
        verdicts = {status.verdict for status in valves}
        if len(verdicts) > 1:
            self._say(valves[-1], "one of its two valves opens, the other not: look at that coil")
            return None
        first = valves[0]
        if first.entry is not None and first.entry.text.startswith(_CLICKS):
            self._say(first, "it clicks, so it has power: look at the valve and its water")
            return None
        others = self._others()
        if others is None:
            return None
        own = {self._target.station} if verdicts == {PASS} else set[str]()
        test = FieldTest("water", self._target.path, station=self._target.station)
        looked = "others" in self._sign
        return Reading(test, seen=frozenset(own | others), elsewhere=looked)

    def _others(self) -> set[str] | None:
        """The other stations that answered; None when some did and it is not told which."""
        status = self._sign.get("others")
        if status is None or status.verdict != FAIL:
            return set()
        told = self._item.get("which-other")
        numbers = re.findall(r"\d+", told.entry.text) if told and told.entry else []
        by_number = {str(station.number): station.id for station in self._job.site.station}
        found = {by_number[number] for number in numbers if number in by_number}
        if found and len(found) == len(set(numbers)):
            return found
        self._say(status, "another station answered, but its number is not told")
        return None

    def _say(self, status: Status, why: str) -> None:
        self.vague.append(f"{status.step.target.label}: {status.step.title}: {why}")
