"""The parts of a report in the order in which a person reads them, each made from a `Job`."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable
from typing import Any

from commission.expected.values import Expectation
from commission.job import Job, Status
from commission.record.entry import Entry
from commission.report.constants import NEAR_A_LIMIT
from commission.report.shown import SI_ENDING, compact, in_full, verdict_of
from commission.site.schema import Path
from commission.verdict.progress import exceptions
from commission.works import as_designed, will_it_work

Tables = list[dict[str, Any]]
EARTH = ("earth-resistance", "earthing-conductor")


def said_only(table: dict[str, Any]) -> dict[str, Any]:
    """A table without what says nothing."""
    return {key: value for key, value in table.items() if value not in ("", None, [], {})}


def exception_tables(job: Job) -> Tables:
    """Everything that stands against acceptance, named."""
    return [
        {"kind": found.kind, "what": found.words, "step": found.step} for found in exceptions(job)
    ]


def site_table(job: Job) -> dict[str, Any]:
    """Whose site it is, and which equipment."""
    site = job.site
    table = {
        "name": site.site.name,
        "address": site.site.address,
        "client": site.site.client,
        "note": site.site.note,
        "invented": site.site.invented or None,
        "controller": site.controller.description,
        "controller_serial": site.controller.serial,
        "controller_location": site.controller.location,
        "supply": site.supply.description,
        "units_shown": site.site.units,
        "paths": len(site.path),
        "stations": len(site.station),
    }
    return said_only(table)


def person_tables(job: Job) -> Tables:
    """Everyone who watched or wrote, with how many entries."""
    watched: dict[str, int] = defaultdict(int)
    wrote: dict[str, int] = defaultdict(int)
    for entry in job.state.entries:
        watched[entry.observed_by] += 1
        wrote[entry.entered_by] += 1
    names = [name for name in dict.fromkeys([*watched, *wrote]) if name]
    return [{"name": name, "observed": watched[name], "entered": wrote[name]} for name in names]


def instrument_tables(job: Job) -> Tables:
    """Every instrument used, its calibration, and on how many readings."""
    used: dict[tuple[str, str], list[Entry]] = defaultdict(list)
    for entry in job.state.entries:
        if entry.instrument:
            used[entry.instrument, entry.instrument_serial].append(entry)
    return [
        said_only(
            {
                "id": entries[0].instrument,
                "make": entries[0].instrument_make,
                "serial": entries[0].instrument_serial,
                "calibration_due": entries[-1].instrument_calibration_due,
                "true_rms": entries[0].instrument_true_rms,
                "readings": len(entries),
                "warning": next((e.warning for e in entries if e.warning), ""),
            }
        )
        for entries in used.values()
    ]


def checks(job: Job, statuses: Iterable[Status]) -> dict[str, Any]:
    """Readings in full as `measured`, everything else one line each as `checks`."""
    statuses = list(statuses)
    full = [in_full(job, s) for s in statuses if s.step.item.answer == "measure"]
    rest = [compact(job, s) for s in statuses if s.step.item.answer != "measure"]
    return said_only({"checks": rest, "reading": full})


def is_earth(status: Status) -> bool:
    """Whether a step is about the earth: by what it is compared with, or by its stage."""
    return status.step.item.compare in EARTH or "earth" in status.step.stage.id.split("-")


def earth_table(job: Job, statuses: Iterable[Status]) -> dict[str, Any]:
    """The earth terminal, the electrode and what was measured."""
    found = list(statuses)
    earth = job.site.earth
    table: dict[str, Any] = {"verdict": verdict_of(found), "limit_ohm": earth.limit_ohm}
    if earth.conductor is not None:
        table["conductor"] = earth.conductor
    if earth.electrode:
        table["electrodes"] = [f"{e.count} x {e.kind}" for e in earth.electrode]
    return table | checks(job, found)


def stage_tables(job: Job, statuses: Iterable[Status]) -> Tables:
    """Steps of the job as a whole and of its outputs, stage by stage."""
    by_stage: dict[str, list[Status]] = defaultdict(list)
    for status in statuses:
        by_stage[status.step.stage.title].append(status)
    tables = []
    for title, found in by_stage.items():
        by_place: dict[str, list[Status]] = defaultdict(list)
        for status in found:
            by_place[status.step.target.label].append(status)
        for place, there in by_place.items():
            head = said_only({"title": title, "place": place, "verdict": verdict_of(there)})
            tables.append(head | checks(job, there))
    return tables


def path_table(job: Job, path: Path, statuses: Iterable[Status]) -> dict[str, Any]:
    """One path: its ends, its own checks, its boxes and its stations."""
    by_scope: dict[str, dict[str, list[Status]]] = defaultdict(lambda: defaultdict(list))
    found = list(statuses)
    for status in found:
        target = status.step.target
        place = target.station if target.scope == "station" else target.box
        by_scope[target.scope][place].append(status)
    boxes = {box.id: box for box in path.box}
    whole = [s for scope, places in by_scope.items() if scope not in _PLACED
             for there in places.values() for s in there]  # fmt: skip
    table = said_only({"id": path.id, "label": path.label, "output": path.output})
    table["verdict"] = verdict_of(found)
    table |= checks(job, whole)
    for scope in ("end", "box"):
        members = []
        for box, there in by_scope[scope].items():
            known = boxes.get(box)
            about = {"label": known.label, "location": known.location} if known else {}
            head = said_only({"box": box, **about, "verdict": verdict_of(there)})
            members.append(head | checks(job, there))
        table[scope] = members
    table["station"] = [
        station_table(job, station, there) for station, there in by_scope["station"].items()
    ]
    return said_only(table)


_PLACED = ("end", "box", "station")


def station_table(job: Job, station_id: str, statuses: list[Status]) -> dict[str, Any]:
    """One station, its checks one line each, and what its answers say together."""
    station = job.sheet.drawing.stations[station_id]
    return said_only(
        {
            "number": station.number,
            "id": station.id,
            "label": station.label,
            "address": station.address,
            "box": station.box,
            "decoder_serial": station.decoder_serial,
            "waters": station.waters,
            "verdict": verdict_of(statuses),
            "likely_cause": job.likely_cause(station.id),
            "checks": [compact(job, status) for status in statuses],
        }
    )


def worst_set_tables(job: Job, statuses: Iterable[Status]) -> Tables:
    """The stations run together on each output, and what was read meanwhile."""
    by_output: dict[str, list[Status]] = {output: [] for output in job.sheet.worst_sets}
    for status in statuses:
        by_output[status.step.target.output].append(status)
    stations = job.sheet.drawing.stations
    return [
        {
            "output": output,
            "stations": [stations[s].number for s in job.sheet.worst_sets[output]],
            "worst": stations[job.sheet.worst_sets[output][-1]].number,
            "verdict": verdict_of(found),
        }
        | checks(job, found)
        for output, found in by_output.items()
        if job.sheet.worst_sets[output]
    ]


def defect_tables(job: Job) -> Tables:
    """Every defect with all that happened to it, and the entries of its step since."""
    tables = []
    for defect in job.state.defects.values():
        raised = defect.history[0].number
        story = [
            e
            for e in job.state.history[defect.step]
            if e.number >= raised and e.defect in ("", defect.id)
        ]
        head = {
            "id": defect.id,
            "state": defect.state,
            "severity": defect.severity,
            "where": defect.where,
            "what": defect.text,
            "action": next((e.action for e in story if e.action), ""),
            "step": defect.step,
        }
        tables.append(said_only(head) | {"story": [_happened(job, e) for e in story]})
    return tables


def _happened(job: Job, entry: Entry) -> dict[str, Any]:
    what = f"defect {entry.state}" if entry.type == "defect" else entry.type
    return said_only(
        {
            "entry": entry.number,
            "at": entry.entered_at,
            "by": entry.entered_by,
            "what": what,
            "text": entry.text,
            "verdict": entry.verdict,
            "withdrawn": True if entry.number in job.state.withdrawn else None,
        }
    )


def change_tables(job: Job) -> Tables:
    """Changes to the drawing found on site."""
    return [
        said_only(
            {
                "entry": entry.number,
                "subject": entry.subject,
                "before": entry.before,
                "after": entry.after,
                "redraws": entry.redraws,
                "why": entry.text,
                "by": entry.entered_by,
                "at": entry.entered_at if entry.redraws else None,
            }
        )
        for entry in job.state.entries
        if entry.type == "change" and entry.number not in job.state.withdrawn
    ]


def evidence_tables(job: Job) -> Tables:
    """Photos and documents kept in the job's folder, with their digests."""
    return [
        {
            "file": entry.file,
            "sha256": entry.file_sha256,
            "original": entry.text,
            "step": entry.step,
            "entry": entry.number,
        }
        for entries in job.state.attachments.values()
        for entry in entries
    ]


def condition_table(job: Job) -> dict[str, Any]:
    """Readings that later expectations depend on: mains by output, soil where it was measured."""
    conditions = job.conditions
    return said_only({"soil_c": conditions.soil_c}) | {"mains_v": dict(conditions.mains_v)}


def expectation_tables(job: Job) -> Tables:
    """Every expectation used, once, with its formula, its budget and the steps it was used at."""
    used: dict[Expectation, list[str]] = {}
    for status in job.statuses.values():
        expectation = job.expectation_of(status)
        if expectation is not None:
            used.setdefault(expectation, []).append(status.step.id)
    return [_expectation(expectation) | {"steps": steps} for expectation, steps in used.items()]


def _expectation(expectation: Expectation) -> dict[str, Any]:
    ending = SI_ENDING[expectation.quantity]
    numbers = {
        f"value{ending}": expectation.value,
        f"low{ending}": expectation.low,
        f"high{ending}": expectation.high,
        f"u{ending}": expectation.u,
    }
    return said_only(
        {
            "name": expectation.name,
            "quantity": expectation.quantity,
            "sides": expectation.sides,
            "conditions": expectation.conditions,
            "formula": expectation.formula,
            "source": expectation.source,
            "near_it": "" if expectation.sides == "interval" else NEAR_A_LIMIT,
            **numbers,
            **({f"max_fault{ending}": expectation.max_fault} if expectation.max_fault else {}),
            "inputs": [
                {"name": i.name, "value": i.value, "source": i.source} for i in expectation.inputs
            ],
            "budget": [
                {
                    "cause": part.cause,
                    f"effect{ending}": part.effect,
                    "distribution": part.distribution,
                    f"u{ending}": part.u,
                }
                for part in expectation.budget
            ],
            "estimate": _expectation(expectation.estimate) if expectation.estimate else {},
        }
    )


def works_tables(job: Job) -> list[dict[str, Any]]:
    """Whether the worst set of each output will work, with its probability.

    The readings decide; what the drawing alone lets one expect stands beside it.
    """
    designed = as_designed(job)
    return [
        {
            "output": output,
            "verdict": works.verdict,
            "words": works.words,
            "probability": works.probability,
            "lowest_v": works.lowest_v,
            "minimum_v": works.minimum_v,
            "readings": works.readings,
            "not_explained": list(works.unexplained),
            "designed_verdict": designed[output].verdict,
            "designed_words": designed[output].words,
            "designed_probability": designed[output].probability,
            "designed_lowest_v": designed[output].lowest_v,
        }
        for output, works in will_it_work(job).items()
    ]


def carries_tables(job: Job) -> list[dict[str, Any]]:
    """The most that each output may have to carry, held and in inrush, against its limits."""
    return [
        {
            "output": output.id,
            "verdict": carried.verdict,
            "words": carried.words,
            "state": carried.state,
            "stations": [job.sheet.drawing.stations[one].number for one in carried.stations],
            "current_a": carried.current_a,
            "u_a": carried.u_a,
            "limit_a": carried.limit_a,
            "limited_by": carried.limited_by,
            "probability": carried.probability,
        }
        for output in job.site.output
        for carried in job.sheet.carried(output.id)
    ]
