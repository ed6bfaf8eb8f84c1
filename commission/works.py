"""Will it work? The readings of a job put to what is believed of each output."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from functools import lru_cache

from commission.expected.asfound import Taken, Works
from commission.job import Job
from commission.record.entry import Entry
from commission.verdict.judge import PASS

# Settled readings that say something of the cable, the source or the coils.
TEACHING = frozenset(
    {
        "loop-resistance",
        "loop-reversed",
        "output-voltage",
        "end-voltage",
        "standby-current",
        "station-current",
        "station-voltage",
        "together-voltage",
        "together-output-voltage",
    }
)


@lru_cache(maxsize=4)
def will_it_work(job: Job) -> dict[str, Works]:
    """For every output with stations, whether its worst set will work, given what was read."""
    found = {}
    for output in job.site.output:
        model = job.sheet.as_found(output.id, job.conditions)
        if model is not None:
            found[output.id] = model.works(taken(job, output.id))
    return found


def taken(job: Job, output: str) -> Iterator[Taken]:
    """The latest live readings of an output that teach something."""
    for status in job.statuses.values():
        step, entry = status.step, status.entry
        if (
            step.target.output == output
            and step.item.compare in TEACHING
            and entry is not None
            and status.state == "answered"
            and entry.relation == "="
            and entry.value is not None
        ):
            box = step.target.box
            if step.item.compare == "together-voltage":  # read at the worst station's box
                worst = job.sheet.drawing.stations[step.target.stations[-1]]
                read = _taken(entry, step.item.compare, worst.path, worst.box, "")
            else:
                read = _taken(entry, step.item.compare, step.target.path, box, step.target.station)
            mains_v = job.conditions_before(entry.number).mains_v.get(output)
            yield replace(read, mains_v=mains_v)


def _taken(entry: Entry, name: str, path: str, box: str, station: str) -> Taken:
    value = entry.value or 0.0
    counts = entry.digit or 0.0
    gain, gain_error = "", 0.0
    if entry.instrument_percent is not None:
        gain_error = entry.instrument_percent / 100
        gain = f"{entry.instrument}/{entry.quantity}/{entry.instrument_resolution}"
        counts = (entry.instrument_counts or 0.0) * (entry.instrument_resolution or 0.0)
        counts += entry.instrument_offset or 0.0
    as_drawn = entry.verdict == PASS
    excess = 0.0
    if not as_drawn and entry.quantity == "voltage":
        excess = max(0.0, (entry.low or 0.0) - value)
    elif not as_drawn and entry.high is not None:
        excess = max(0.0, value - entry.high)
    return Taken(name, value, as_drawn, excess, path, box, station, gain, gain_error, counts)
