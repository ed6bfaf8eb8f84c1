"""How an expected value came about: formula, numbers put in, result, causes of doubt, source."""

from __future__ import annotations

from textual.content import Content

from commission.checklist.plan import Step
from commission.expected.values import Expectation
from commission.units import show
from commission.verdict.judge import interval_words

Part = tuple[str, str] | str


def calculation(step: Step, expectation: Expectation) -> Content:
    """The calculation behind a step's expectation, for people who want to check it by hand."""
    unit = step.item.unit
    parts: list[Part] = [(f"{step.target.label}: {step.title}", "bold"), "\n\n"]
    parts += _worked_out("Expected  ", expectation, unit)
    if expectation.estimate is not None:
        parts += ["\n", ("What the drawing lets one expect", "bold"), "\n\n"]
        parts += _worked_out("About     ", expectation.estimate, unit)
    return Content.assemble(*parts)


def _worked_out(head: str, expectation: Expectation, unit: str) -> list[Part]:
    """Value, formula, numbers put in, causes of doubt and source."""
    quantity = expectation.quantity
    parts: list[Part] = [
        head, (interval_words(expectation, unit, quantity), "bold"), "\n",
        "For       ", expectation.conditions, "\n",
        "Formula   ", expectation.formula, "\n",
    ]  # fmt: skip
    if expectation.inputs:
        parts += ["\n", ("Numbers put in", "bold"), "\n"]
    for row in expectation.inputs:
        parts += [f"  {row.name}: {row.value}\n", (f"      {row.source}\n", "$quiet")]
    if expectation.budget:
        parts += ["\n", ("What makes it uncertain, and how much", "bold"), "\n"]
        parts += _causes(expectation, unit)
    return [*parts, "\n", "Source    ", (expectation.source, "$quiet"), "\n"]


def _causes(expectation: Expectation, unit: str) -> list[Part]:
    parts: list[Part] = []
    total = sum(cause.u**2 for cause in expectation.budget) or 1.0
    for cause in expectation.budget:
        share = cause.u**2 / total
        bar = "#" * round(20 * share)
        effect = show(cause.u, unit, expectation.quantity, 2)
        parts.append(f"  {bar:<20} {share * 100:3.0f} %  {effect:>12}  {cause.cause}\n")
    together = show(expectation.u, unit, expectation.quantity, 2)
    return [*parts, f"  together u = {together}; {_range_words(expectation)}\n"]


def _range_words(expectation: Expectation) -> str:
    """How the range follows from u: an earth that is best as stated has another upper bound."""
    above = (expectation.high or 0.0) - expectation.value
    if above <= 2 * expectation.u * (1 + 1e-9):
        return "range = ± 2u"
    return "range from 2u below to what the best of them gives alone, 2u added"
