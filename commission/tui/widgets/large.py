"""The step at hand for arm's length: where, what, one number, and its verdict."""

from __future__ import annotations

import re
from textwrap import wrap

from textual.content import Content
from textual.geometry import Size

from commission.expected.values import Expectation
from commission.job import Job, Status
from commission.tui.theme import VERDICT_STYLE
from commission.tui.widgets.big import big
from commission.units import in_unit, plain
from commission.verdict.judge import Judgement

Part = tuple[str, str] | str
_NUMBER = re.compile(r"[<>]?[+-]?[0-9.,]+|OL")
_GLYPH = 5  # lines of the smallest large letters


def large(job: Job, status: Status, typed: str, judged: Judgement | None, size: Size) -> Content:
    """What is typed with its verdict; before that what is expected, or where to go."""
    step = status.step
    title = f"{step.target.label}: {step.title}" if step.target.label else step.title
    head = [(line, "bold") for line in wrap(title, size.width)]
    for _name, words in step.caution:
        lines = wrap(f"CAUTION  {words}", size.width - 2)
        head += [(f" {line} ", "$caution-text on $caution") for line in lines]
    label, number = _told_apart(typed, step.item.unit) if typed else _to_show(job, status)
    free = size.height - len(head) - 1
    both = judged is not None and free > 2 * _GLYPH
    rows = (free - 1) // 2 if both else free - 2
    parts: list[Part] = [part for line in head for part in (line, "\n")]
    parts += [f"{label}\n", (big(number, size.width, rows), "bold")]
    if judged is not None:
        verdict = f"{judged.mark} {judged.verdict.upper()}"
        shown = big(verdict, size.width, rows) if both else verdict
        parts += ["\n\n" if both else "\n", (shown, VERDICT_STYLE[judged.verdict])]
    return Content.assemble(*parts)


def _told_apart(typed: str, unit: str) -> tuple[str, str]:
    """The unit, and the number typed; an answer in words stands alone."""
    found = _NUMBER.match(typed)
    if found is None or not found[0]:
        return "", typed
    return typed[found.end() :].strip() or unit, found[0]


def _to_show(job: Job, status: Status) -> tuple[str, str]:
    """What is expected, or else which station or box it is; with the words above it."""
    step = status.step
    expectation = job.expectation(step)
    if expectation is not None and step.item.quantity is not None:
        return _expected(expectation, step.item.unit)
    station = job.sheet.drawing.stations.get(step.target.station)
    if station is not None:
        return "Station", str(station.number)
    return ("Box", step.target.box) if step.target.box else ("", "")


def _expected(expectation: Expectation, unit: str) -> tuple[str, str]:
    ends = [
        plain(in_unit(value, unit, expectation.quantity))
        for value in (expectation.low, expectation.high)
        if value is not None
    ]
    words = {"interval": "from - to", "maximum": "at most", "minimum": "at least"}
    head = f"Expected, {words[expectation.sides]}, {unit}".rstrip(", ")
    return head, "-".join(dict.fromkeys(ends))
