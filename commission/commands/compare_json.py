"""A comparison of two reports as one JSON document for programs, SI."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

from commission.commands.for_programs import head, json_text
from commission.report.compare import Comparison, only_in, remarks
from commission.report.measured import RULES

if TYPE_CHECKING:
    from commission.commands.compare import Side

KIND = "commission comparison"
FORMAT = 1


def text(earlier: Side, later: Side, found: Sequence[Comparison]) -> str:
    """The document as text."""
    return json_text(document(earlier, later, found))


def document(earlier: Side, later: Side, found: Sequence[Comparison]) -> dict[str, Any]:
    """Both reports, what to know of them, and every comparison; None where nothing is known."""
    return {
        **head(KIND, FORMAT),
        "earlier": _side(earlier),
        "later": _side(later),
        "remarks": list(remarks(earlier.job, later.job)),
        "only_in_earlier": list(only_in(earlier.job, later.job)),
        "only_in_later": list(only_in(later.job, earlier.job)),
        "rules": {how: RULES[how] for how in dict.fromkeys(one.how for one in found)},
        "comparisons": [_comparison(one) for one in found],
    }


def _side(side: Side) -> dict[str, Any]:
    header = side.job.header
    return {
        "read_from": side.name,
        "job": header.job,
        "job_kind": header.job_kind,
        "created_at": header.created_at.isoformat(),
        "site": side.job.site.site.name,
        "signed": side.job.signed,
        "practice": header.practice,
        "problems": [str(problem) for problem in side.problems],
    }


def _comparison(one: Comparison) -> dict[str, Any]:
    return {
        "step": one.step,
        "place": one.place,
        "title": one.title,
        "how": one.how,
        "result": one.result,
        "why": one.change.why,
        "then": one.then,
        "now": one.now,
        "verdict_then": one.verdict_then,
        "verdict_now": one.verdict_now,
        "quantity": one.quantity,
        "compared_then_si": one.then_si,
        "compared_now_si": one.now_si,
        "change_si": one.change.value,
        "u_si": one.change.u,
        "would_have_shown_si": one.change.seen,
        "notes": list(one.notes),
        "at_handover": one.handover and {"kind": one.handover.kind, "words": one.handover.words},
    }
