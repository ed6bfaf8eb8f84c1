"""What an inspector repeats: a sample that chance draws and anybody can draw again.

The order of the stations follows from the report's digest and the inspection's own id, which has
random digits and is known once the inspection was begun: whoever signed the report could not
foresee it. Both stand in the inspection.

Ends: the longest of each path. Stations: as many as find bad ones among them with the probability
asked for, in an order made of digests. Of both also everything that was marginal, failed or tested
again in the report, or has a defect. Boxes: those of these ends, with defects, and where a joint
was opened to find a fault. What a search read tells of a fault since put right: it does not count.
"""

from __future__ import annotations

import hashlib
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from math import comb

from commission.checklist.plan import Step
from commission.job import Job, Status
from commission.search import JOINT_OPENED, STAGE
from commission.verdict.judge import FAIL, MARGINAL

BAD_PERCENT = 10
PROBABILITY_PERCENT = 90


def sample_size(
    number: int, bad_percent: int = BAD_PERCENT, probability_percent: int = PROBABILITY_PERCENT
) -> int:
    """How many of a number of stations are tested so that a bad one is among them.

    Bad are so many of a hundred, rounded down, but one at least; drawn without putting back, all
    that are drawn are good with probability C(number - bad, n) / C(number, n) (hypergeometric).
    """
    bad = max(1, number * bad_percent // 100)
    for size in range(number):
        all_good = comb(number - bad, size) * 100
        if all_good <= (100 - probability_percent) * comb(number, size):
            return size
    return number


def drawn(ids: Iterable[str], seed: str) -> tuple[str, ...]:
    """Ids in an order that nobody chose: by the SHA-256 of a seed and the id, as text."""
    return tuple(sorted(ids, key=lambda one: hashlib.sha256(f"{seed} {one}".encode()).hexdigest()))


def seed(job: Job) -> str:
    """What an inspection draws by: digest of the report, of the site without one, and its id."""
    return f"{job.header.follows_report or job.header.site_sha256} {job.header.job}"


@dataclass(frozen=True, slots=True)
class Sample:
    """What is proposed to be repeated: a place as steps have it, `station/S1`, and why."""

    why: Mapping[str, str]
    words: str  # all of it, on one line

    def holds(self, step: Step) -> bool:
        """Whether the place of a step is in it."""
        return step.target.place() in self.why

    def proposed(self, step: Step) -> str:
        """The choice of a step that asks: the first for what is in the sample, else the second."""
        choices = step.item.choice
        return choices[0 if self.holds(step) else 1].say if len(choices) > 1 else ""

    def reason(self, step: Step) -> str:
        """Why the place of a step is in it, in words."""
        return self.why.get(step.target.place(), "not in the sample")


def sample(job: Job) -> Sample:
    """The sample of an inspection; without an earlier report by the site alone."""
    why: dict[str, list[str]] = {}
    for place, reason in (*_longest(job), *_at_random(job), *_told(job.earlier)):
        reasons = why.setdefault(place, [])
        if reason not in reasons:
            reasons.append(reason)
    for place in list(why):
        if "/end/" in place:
            why.setdefault(place.replace("/end/", "/box/"), []).append("end in the sample")
    return Sample({place: "; ".join(reasons) for place, reasons in why.items()}, _words(job, why))


def _words(job: Job, why: Iterable[str]) -> str:
    """A sample as it is entered in the record: ends by path, stations by number, how drawn."""
    places = set(why)
    ends = [
        f"{box} of path {path}"
        for path, tree in job.sheet.drawing.trees.items()
        for box in tree.ends()
        if f"path/{path}/end/{box}" in places
    ]
    stations = sorted(s.number for s in job.site.station if f"station/{s.id}" in places)
    size, known = sample_size(len(job.site.station)), "report" if job.earlier else "site file"
    return (
        f"ends {', '.join(ends)}; stations {', '.join(map(str, stations))}; of the stations {size} "
        f"by the order of SHA-256 of the {known}'s digest, this job's id and the station's id"
    )


def _longest(job: Job) -> Iterable[tuple[str, str]]:
    """The end of each path that lies farthest from the controller."""
    for path, tree in job.sheet.drawing.trees.items():
        yield f"path/{path}/end/{max(tree.ends(), key=tree.distance_m)}", "longest end"


def _at_random(job: Job) -> Iterable[tuple[str, str]]:
    """Stations in the order of this inspection."""
    stations = [station.id for station in job.site.station]
    size = sample_size(len(stations))
    for station in drawn(stations, seed(job))[:size]:
        yield f"station/{station}", f"random sample, {size} of {len(stations)}"


def _told(earlier: Job | None) -> Iterable[tuple[str, str]]:
    """Stations, ends and boxes of which the report says more than that they passed."""
    if earlier is None:
        return
    for status in earlier.statuses.values():
        target = status.step.target
        if status.step.stage.id == STAGE:
            if status.step.id.endswith(f"/{JOINT_OPENED}") and status.state == "answered":
                yield target.place(), "joint opened to find a fault"
        elif target.scope in ("station", "end", "box"):
            for reason in _reasons(earlier, status):
                yield target.place(), reason
    for defect in earlier.state.defects.values():
        step = earlier.plan.by_id.get(defect.step)
        if step is not None and step.target.box:
            yield f"path/{step.target.path}/box/{step.target.box}", f"defect {defect.id}"


def _reasons(earlier: Job, status: Status) -> Iterable[str]:
    title = status.step.title
    if status.verdict in (MARGINAL, FAIL):
        yield f"{status.verdict} in the report: {title}"
    answers = [
        entry
        for entry in earlier.state.history.get(status.step.id, ())
        if entry.type == "answer" and earlier.state.is_live(entry)
    ]
    if len(answers) > 1:
        yield f"tested again in the report: {title}"
    for defect in earlier.state.defects.values():
        if defect.step == status.step.id and defect.state != "withdrawn":
            yield f"defect {defect.id} in the report"
