"""What a search found, in lines for people: places, the next test, cautions, what is missing."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass

from commission.job import Job
from commission.locate.faults import Place
from commission.locate.instructions import QUANTITIES, Instructions
from commission.locate.priors import STATEMENT
from commission.locate.readings import FieldTest
from commission.locate.words import Words, chance
from commission.search.found import Found

_MOST_PLACES = 8  # named one by one
_HEAD, _TEXT, _QUIET = "head", "text", "quiet"


@dataclass(frozen=True, slots=True)
class Line:
    """One line; `part` is "head", "text" or "quiet", so that a screen may set them apart."""

    part: str
    text: str


def told(job: Job, found: Found) -> tuple[Line, ...]:
    """Everything to be said of one output."""
    return tuple(_Telling(job, found).lines())


class _Telling:
    def __init__(self, job: Job, found: Found) -> None:
        self._job, self._found = job, found
        self._words, self._instructions = Words(job.site), Instructions(job.site)

    def lines(self) -> Iterator[Line]:
        found, count = self._found, len(self._found.symptoms.readings)
        yield Line(_HEAD, f"Output {found.symptoms.output}: {self._count(count)}")
        if found.posterior is None:
            yield Line(_TEXT, "Nothing was read yet that tells of a fault.")
        elif not found.is_wrong:
            yield Line(
                _TEXT, "The readings show no fault. What was not read yet may still have one."
            )
        else:
            yield from self._what_is_wrong()
            yield from self._next()
        yield from self._provisos()

    def _count(self, count: int) -> str:
        return f"{count} {'reading and observation' if count == 1 else 'readings and observations'}"

    def _what_is_wrong(self) -> Iterator[Line]:
        believed, found = self._found.posterior, self._found
        assert believed is not None
        yield Line(_HEAD, "What is wrong" if believed.sure else "What may be wrong")
        yield Line(_TEXT, self._words.statement(believed))
        others = found.ranked[1:_MOST_PLACES]
        for places, probability in others:
            yield Line(_TEXT, f"or {self._words.places(places)} ({chance(probability)})")
        more = len(found.ranked) - _MOST_PLACES
        if more > 0:
            yield Line(_TEXT, f"or one of {more} more places")
        for words in self._together(frozenset().union(*(p for p, _ in found.ranked))):
            yield Line(_QUIET, words)

    def _together(self, places: frozenset[Place]) -> Iterator[str]:
        """What one place stands for, because no reading tells it apart."""
        kinds = {place[0] for place in places}
        if "segment" in kinds:
            yield (
                "Between two boxes, a joint, longer cable and thinner cable read alike: they are "
                "one place here, the joints at both of its ends included."
            )
        if "pair" in kinds:
            yield "Addresses swapped or alike name two stations: look at both."

    def _next(self) -> Iterator[Line]:
        found = self._found
        if found.suggestion is not None:
            test = found.suggestion.test
            yield Line(_HEAD, f"Next test ({self._instructions.effort(found.suggestion)})")
            yield Line(_TEXT, f"{self._instructions.test(test)}.")
            yield from self._outcomes(test)
            yield from self._care(self._instructions.cautions(test))
        elif found.undecided and found.posterior is not None:
            yield Line(_HEAD, "Next test: none tells enough")
            yield Line(_TEXT, f"It {self._words.undecidable(found.posterior)}.")
        else:
            yield Line(_HEAD, "Next: put it right, then test again")
            yield Line(_TEXT, "Raise a defect; the retest that passes closes it.")
            places = frozenset().union(*(places for places, _ in found.ranked))
            yield from self._care(self._instructions.cautions_of_repair(places))

    def _care(self, cautions: Iterable[str]) -> Iterator[Line]:
        yield Line(_HEAD, "Take care")
        yield from (Line(_TEXT, caution) for caution in cautions)

    def _outcomes(self, test: FieldTest) -> Iterator[Line]:
        """What each outcome would mean; where the ranges overlap, what each place would read."""
        found = self._found
        if not found.likely_values:
            for outcome in found.outcomes:
                yield Line(_TEXT, f"If {self._instructions.outcome(test, outcome)}")
            return
        yield Line(
            _TEXT,
            "What it may read for one place overlaps with the next; it weighs them, and more tests "
            "in the same box weigh more. Most likely it reads",
        )
        for places, value in found.likely_values[:_MOST_PLACES]:
            read = self._instructions.value(test, value)
            yield Line(_TEXT, f"{read}: {self._words.places(places)}")

    def _provisos(self) -> Iterator[Line]:
        known = self._found.symptoms
        if known.left_out:
            yield Line(_HEAD, "Not taken in")
            yield from (Line(_TEXT, words) for words in known.left_out)
        for unit in known.assumed:
            quantity, _ = QUANTITIES[unit]
            accuracy = known.scene.meter.of(unit)
            yield Line(
                _QUIET,
                f"No accuracy of the meter is recorded for {quantity}: "
                f"±({accuracy.percent_of_reading:g} % of reading + {accuracy.counts:g} counts) "
                "was taken.",
            )
        yield Line(_QUIET, STATEMENT)
