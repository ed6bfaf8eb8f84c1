"""Will it work? The readings of a job put to what is believed of each output."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from functools import lru_cache

from commission.checklist.plan import Step
from commission.electrical.instruments import reading_error
from commission.expected.asfound import Taken, Works
from commission.job import Job
from commission.record.entry import Entry
from commission.repairs import superseded, unexplained_fail
from commission.verdict.judge import FAIL, PASS

_OPEN_OHM = 1e6  # of a broken conductor; any other as large gives the coils as little

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
        "together-current",
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


def as_designed(job: Job) -> dict[str, Works]:
    """The same before any reading: what drawing and data sheets promise."""
    models = {one.id: job.sheet.as_found(one.id, job.conditions) for one in job.site.output}
    return {output: model.works(()) for output, model in models.items() if model is not None}


def taken(job: Job, output: str) -> Iterator[Taken]:
    """The readings of an output that teach something, as they stand now.

    What a repair may have changed is left out until it is read again, and so is what a change of
    the drawing touches; a fail that passed or was left later though nothing was put right stands.
    """
    for status in job.statuses.values():
        step, entry = status.step, status.entry
        if (
            step.target.output == output
            and step.item.compare in TEACHING
            and entry is not None
            and not status.second_look
        ):
            if _tells(entry) and not superseded(job, step, entry):
                yield _taken(job, step, entry)
            failed = unexplained_fail(job, step)
            if failed is not None:
                since = "passed" if status.state == "answered" else "was left"
                yield replace(_taken(job, step, failed), since=since)


def _tells(entry: Entry) -> bool:
    """Whether a reading is a value, or a bound that already fails: no circuit, beyond a range."""
    return entry.verdict == FAIL or (entry.relation == "=" and entry.value is not None)


def _taken(job: Job, step: Step, entry: Entry) -> Taken:
    """A reading of a step with the mains as it was then."""
    target, name = step.target, step.item.compare or ""
    path, box = target.path, target.box
    if name == "together-voltage":  # read at the worst station's box
        worst = job.sheet.drawing.stations[target.stations[-1]]
        path, box = worst.path, worst.box
    mains_v = job.conditions_before(entry.number).mains_v.get(target.output)
    return replace(_read(entry, name, path, box, target.station), mains_v=mains_v)


def _read(entry: Entry, name: str, path: str, box: str, station: str) -> Taken:
    value = entry.value or 0.0
    counts = reading_error(entry.accuracy, value).counts_half_width
    gain, gain_error = "", 0.0
    if entry.instrument_percent is not None:
        gain_error = entry.instrument_percent / 100
        gain = f"{entry.instrument}/{entry.quantity}/{entry.instrument_resolution}"
    as_drawn, excess = entry.verdict == PASS, 0.0
    if entry.relation == "OL":  # only a loop fails by it: it is open
        excess = _OPEN_OHM
    elif not as_drawn and entry.expected is not None:
        too_much = value - entry.expected
        excess = max(0.0, -too_much if entry.quantity == "voltage" else too_much)
    return Taken(name, value, as_drawn, excess, path, box, station, gain, gain_error, counts)
