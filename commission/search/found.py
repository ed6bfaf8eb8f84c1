"""What is wrong in a job, how sure that is, and the next test: one answer for each output."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from functools import lru_cache

from commission.job import Job
from commission.locate.faults import Place
from commission.locate.next_test import Advisor, Suggestion
from commission.locate.outcomes import Outcome, outcomes
from commission.locate.posterior import SURE, Posterior, posterior
from commission.search.steps import refused_kinds
from commission.search.symptoms import Symptoms, symptoms

WORTH_SAYING = 0.01
"""Probability from which a place is named (judgement)."""
_MOST_LIKELY = 0.5


@dataclass(frozen=True)
class Found:
    """The answer for one output."""

    symptoms: Symptoms
    posterior: Posterior | None  # None while nothing was read
    suggestion: Suggestion | None
    outcomes: tuple[Outcome, ...]
    likely_values: tuple[tuple[frozenset[Place], float], ...] = ()  # where outcomes overlap, SI

    @property
    def is_wrong(self) -> bool:
        """Whether the readings show a fault: no fault does not explain them, or is less likely.

        While little was read every place may have one; that alone is nothing found.
        """
        if self.posterior is None:
            return False
        places, probability = self.posterior.best
        if not self.posterior.evidence.explains(()):
            return True
        return bool(places) and probability >= _MOST_LIKELY

    @property
    def ranked(self) -> tuple[tuple[frozenset[Place], float], ...]:
        """The places worth naming with their probabilities, the likeliest first."""
        if self.posterior is None:
            return ()
        rows = self.posterior.by_places.items()
        return tuple((places, p) for places, p in rows if p >= WORTH_SAYING)

    @property
    def undecided(self) -> tuple[frozenset[Place], ...]:
        """The places among which no available test decides with this meter; none when sure."""
        if not self.is_wrong or self.posterior is None or self.suggestion or self.posterior.sure:
            return ()
        told, among = 0.0, []
        for places, probability in self.posterior.by_places.items():
            among.append(places)
            told += probability
            if told >= SURE:
                break
        return tuple(among) if len(among) > 1 else ()


@lru_cache(maxsize=4)
def found(job: Job) -> tuple[Found, ...]:
    """The answer for every output of a job that has a path."""
    return tuple(_of_all(job))


def _of_all(job: Job) -> Iterator[Found]:
    with_path = {path.output for path in job.site.path}
    for output in job.site.output:
        if output.id in with_path:
            paths = [path.id for path in job.site.path if path.output == output.id]
            refused = frozenset().union(*(refused_kinds(job.plan, path) for path in paths))
            yield _of(symptoms(job, output.id), refused)


def _of(known: Symptoms, refused: frozenset[str]) -> Found:
    if not known.readings:
        return Found(known, None, None, ())
    believed = posterior(known.scene, known.readings)
    answer = Found(known, believed, None, ())
    if not answer.is_wrong or believed.sure:
        return answer
    advisor = Advisor(believed, known.open_boxes)
    suggestion = advisor.best(without=refused)
    if suggestion is None:
        return answer
    told = tuple(outcomes(advisor, suggestion.test))
    values = _likely_values(advisor, suggestion) if len(told) == 1 else ()
    return Found(known, believed, suggestion, told, values)


def _likely_values(
    advisor: Advisor, suggestion: Suggestion
) -> tuple[tuple[frozenset[Place], float], ...]:
    """What the suggested test would most likely read for each place, likeliest first."""
    found: dict[frozenset[Place], float] = {}
    for places, probability, middle, _ in advisor.expectations(suggestion.test, 0.0):
        if probability >= WORTH_SAYING:
            found.setdefault(places, middle)
    return tuple(found.items())
