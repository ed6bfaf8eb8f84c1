"""What a search found, as numbers for programs: SI, full precision."""

from __future__ import annotations

import math
from typing import Any

from commission.job import Job
from commission.locate.faults import Fault, Place
from commission.locate.instructions import Instructions
from commission.locate.outcomes import Outcome
from commission.locate.priors import STATEMENT
from commission.locate.readings import FieldTest
from commission.locate.words import Words, short_interval
from commission.search.found import Found

KIND = "commission fault search"
FORMAT = 1


def document(job: Job, answers: tuple[Found, ...]) -> dict[str, Any]:
    """The document without its head: every output with its places, and the next test."""
    return {
        "site": job.site.site.name,
        "job": job.header.job,
        **({"practice": True} if job.header.practice else {}),
        "priors": STATEMENT,
        "outputs": [_output(job, found) for found in answers],
    }


def _output(job: Job, found: Found) -> dict[str, Any]:
    known = found.symptoms
    told: dict[str, Any] = {
        "output": known.output,
        "readings": len(known.readings),
        "wrong": found.is_wrong,
        "left_out": list(known.left_out),
        "assumed_accuracy": list(known.assumed),
    }
    if found.posterior is not None and found.is_wrong:
        told["sure"] = found.posterior.sure
        told["explained"] = found.posterior.explained
        told["undecidable"] = bool(found.undecided)
        told["answers"] = [_answer(job, found, places, p) for places, p in found.ranked]
    if found.suggestion is not None:
        test, words = found.suggestion.test, Instructions(job.site)
        told["next_test"] = {
            **_test(test),
            "do": words.test(test),
            "cautions": list(words.cautions(test)),
            "minutes": found.suggestion.minutes,
            "opens_box": found.suggestion.opens,
            "information_nat": found.suggestion.information,
            "outcomes": [_outcome(one) for one in found.outcomes],
        }
    return told


def _answer(job: Job, found: Found, places: frozenset[Place], probability: float) -> dict[str, Any]:
    assert found.posterior is not None
    words = Words(job.site)
    kinds = found.posterior.kinds(places).items()
    told: dict[str, Any] = {
        "places": [list(place) for place in sorted(places)],
        "words": words.places(places),
        "probability": probability,
        "kinds": [{"kinds": list(names), "probability": p} for names, p in kinds],
        "likeliest": [_fault(one) for one in found.posterior.at(places)[0].faults],
    }
    if len(places) == 1:
        interval = short_interval(found.posterior, next(iter(places)))
        if interval is not None:
            told["short_along_segment"] = list(interval)
    return told


def _fault(fault: Fault) -> dict[str, Any]:
    """A fault without what does not apply to it."""
    told: dict[str, Any] = {"kind": fault.kind}
    for key in ("path", "box", "station", "other", "conductor"):
        if getattr(fault, key):
            told[key] = getattr(fault, key)
    if fault.kind == "low supply":
        told["missing_fraction"] = fault.ohm
    elif fault.ohm and fault.kind != "open":
        told["ohm"] = fault.ohm
    return told


def _test(test: FieldTest) -> dict[str, Any]:
    told = {"test": test.kind, "path": test.path, "box": test.box}
    for key in ("station", "conductor", "beyond"):
        if getattr(test, key):
            told[key] = getattr(test, key)
    return told


def _outcome(outcome: Outcome) -> dict[str, Any]:
    """A range of readings; a bound that is over range is null."""
    low, high = (one if math.isfinite(one) else None for one in (outcome.low, outcome.high))
    return {
        "low": low,
        "high": high,
        "probability": outcome.probability,
        "places": [[list(place) for place in sorted(one)] for one in outcome.places],
    }
