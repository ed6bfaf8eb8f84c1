"""The pairs of a survey as tables at the end of a site file: nothing above them is touched."""

from __future__ import annotations

import json
from collections.abc import Iterator
from dataclasses import dataclass

from commission.electrical.conductors import COPPER_PER_K, Conductor, to_20_c
from commission.expected.inputs import LENGTH_ERROR, conductor
from commission.expected.soil import MEASURED_SOIL_K
from commission.job import Job
from commission.problems import InputRefused
from commission.site.load import parse_site
from commission.survey.sections import Surveyed, kind_of, meter_ohm, surveyed

_MIN_TOLERANCE = 0.005  # of a resistance that was read (judgement)


def with_pairs_written(job: Job) -> str:
    """The text of the job's site file, as found, with every pair that was found.

    Raises InputRefused when none was, or when the file cannot take tables at its end.
    """
    from commission.redrawn import as_found_text  # which needs the survey

    sections = surveyed(job.site, job.state.latest)
    paired = [found for found in sections if found.is_dead and found.decision.pair]
    if not paired:
        raise InputRefused("no pair is known yet; nothing to write")
    soil_c = job.conditions.soil_c
    read = f"soil {job.site.soil.test_day_c if soil_c is None else soil_c:g} °C"
    lines = ["", "", f"# From the survey of the old bundle in job {job.header.job}; {read}."]
    names = {name.lower() for name in job.site.cable_kind}
    for found in paired:
        lines += _tables(job, found, names)
    text = as_found_text(job).rstrip("\n") + "\n".join(lines) + "\n"
    parse_site(text.encode("utf-8"), "the site file with its pairs")
    return text


def _tables(job: Job, found: Surveyed, names: set[str]) -> Iterator[str]:
    """The tables of one pair: its loop as read, or its sizes where they are known better."""
    one, other = found.decision.pair or ("", "")
    sized = [kind_of(found.path, found.conductors[name]) for name in (one, other)]
    by_loop = _by_loop(job, found)
    cable, length_by = json.dumps(sized), found.segment.length_by or found.path.length_by
    if by_loop.tolerance < _by_size(job, sized, length_by):
        name = _free(f"{found.path.id}-{found.segment.to_box}", names)
        loop = found.loop.text if found.loop else ""
        yield from (
            "",
            f"[cable_kind.{json.dumps(name)}]",
            f'conductor = "{job.site.cable_kind[sized[0]].conductor}"',
            f'resistance = "{by_loop.ohm_per_m * 1000:.4f} ohm/km"',
            f'resistance_tolerance = "{by_loop.tolerance * 100:.2f} %"',
            f'description = "Old bundle, loop of {loop} read from {found.near} to {found.far}"',
            f'marking = "{one} and {other}"',
        )
        cable, length_by = json.dumps(name), "loop"
    yield from (
        "",
        "[[pair]]",
        f"path = {json.dumps(found.path.id)}",
        f"box = {json.dumps(found.segment.to_box)}",
        f"conductors = {json.dumps([one, other])}",
        f"cable = {cable}",
        f'length_by = "{length_by}"',
    )


@dataclass(frozen=True, slots=True)
class _Read:
    """What a loop says of one metre of either conductor at 20 °C, and how far that may be off."""

    ohm_per_m: float
    tolerance: float


def _by_loop(job: Job, found: Surveyed) -> _Read:
    entry, soil, measured_c = found.loop, job.site.soil, job.conditions.soil_c
    assert entry is not None
    if not entry.value:
        return _Read(0.0, 1.0)
    soil_c = soil.test_day_c if measured_c is None else measured_c
    off_k = soil.test_day_uncertainty_k if measured_c is None else MEASURED_SOIL_K
    r20_ohm = to_20_c(entry.value, soil_c)
    tolerance = meter_ohm(entry) / entry.value + COPPER_PER_K * off_k
    return _Read(r20_ohm / (2 * found.segment.length_m), max(_MIN_TOLERANCE, min(1.0, tolerance)))


def _by_size(job: Job, kinds: list[str], length_by: str) -> float:
    """How far a resistance by size and length may be off, as a fraction."""
    made = [conductor(job.site.cable_kind[k], job.site.site.frequency_hz) for k in kinds]
    return LENGTH_ERROR[length_by] + max(map(_spread, made))


def _spread(made: Conductor) -> float:
    return (made.high_r20_ohm_per_m - made.low_r20_ohm_per_m) / 2 / made.r20_ohm_per_m


def _free(name: str, taken: set[str]) -> str:
    """A name that no cable kind has yet; it is taken now."""
    number, free = 1, name
    while free.lower() in taken:
        number, free = number + 1, f"{name}-{number + 1}"
    taken.add(free.lower())
    return free
