"""How an expected value came about: formula, numbers put in, result, causes of doubt, source."""

from __future__ import annotations

from textual.content import Content

from commission.checklist.plan import Step
from commission.expected.values import Expectation
from commission.units import show
from commission.verdict.judge import interval_words


def calculation(step: Step, expectation: Expectation) -> Content:
    """The calculation behind a step's expectation, for people who want to check it by hand."""
    item = step.item
    quantity = item.quantity or expectation.quantity
    parts: list[tuple[str, str] | str] = [
        (f"{step.target.label}: {step.title}", "bold"), "\n\n",
        "Expected  ", (interval_words(expectation, item.unit, quantity), "bold"), "\n",
        "For       ", expectation.conditions, "\n",
        "Formula   ", expectation.formula, "\n",
    ]  # fmt: skip
    if expectation.inputs:
        parts += ["\n", ("Numbers put in", "bold"), "\n"]
    for row in expectation.inputs:
        parts += [f"  {row.name}: {row.value}\n", (f"      {row.source}\n", "$quiet")]
    if expectation.budget:
        parts += ["\n", ("What makes it uncertain, and how much", "bold"), "\n"]
        total = sum(cause.u**2 for cause in expectation.budget) or 1.0
        for cause in expectation.budget:
            share = cause.u**2 / total
            bar = "#" * round(20 * share)
            effect = show(cause.u, item.unit, quantity, 2)
            parts.append(f"  {bar:<20} {share * 100:3.0f} %  {effect:>12}  {cause.cause}\n")
        parts.append(
            f"  together u = {show(expectation.u, item.unit, quantity, 2)}; range = ± 2u\n"
        )
    parts += ["\n", "Source    ", (expectation.source, "$quiet"), "\n"]
    return Content.assemble(*parts)
