"""A comparison of two reports as text: faults and changes first, then what did not change."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from math import floor, log10
from textwrap import wrap
from typing import TYPE_CHECKING

from commission.checklist.schema import JOB_KIND_WORDS
from commission.commands.say import table
from commission.report.change import CANNOT, CHANGED, UNCHANGED
from commission.report.compare import Comparison, only_in, remarks
from commission.report.measured import RULES
from commission.units import Quantity, show

if TYPE_CHECKING:
    from commission.commands.compare import Side

NO_BLAME = (
    "What stood in the earlier report is told as a fact; it does not say why a thing changed, nor "
    "whose fault it is."
)


def text(earlier: Side, later: Side, found: Sequence[Comparison]) -> str:
    """The whole comparison as plain text."""
    changed = [one for one in found if one.result == CHANGED]
    wrong = [one for one in found if one.is_wrong and one.result != CHANGED]
    cannot = [one for one in found if one.result == CANNOT and not one.is_wrong]
    same = [one for one in found if one.result == UNCHANGED and not one.is_wrong]
    lines = [
        f"Compared: {later.job.site.site.name}",
        f"  then  {_side(earlier)}",
        f"  now   {_side(later)}",
        *_notes(earlier, later),
        *_block("Changed", changed),
        *_block("Failing or marginal now, without a change that can be told", wrong),
        *_not_compared(cannot),
        *_unchanged(same),
        *_listed("Only in the earlier one", only_in(earlier.job, later.job)),
        *_listed("Only in the later one", only_in(later.job, earlier.job)),
        "",
        "How it was compared",
        *(line for how in dict.fromkeys(one.how for one in found) for line in _told(RULES[how])),
        *_told(NO_BLAME),
    ]
    return "\n".join(lines)


def _side(side: Side) -> str:
    header = side.job.header
    kind = JOB_KIND_WORDS.get(header.job_kind, header.job_kind)
    state = "signed" if side.job.signed else "DRAFT"
    return f"{header.created_at:%Y-%m-%d}  {kind}, {state}: {side.name}"


def _notes(earlier: Side, later: Side) -> Iterator[str]:
    found = [str(problem) for side in (earlier, later) for problem in side.problems]
    found += remarks(earlier.job, later.job)
    yield from (line for words in found for line in _told(f"note: {words}"))


def _told(words: str, indent: str = "  ") -> list[str]:
    return wrap(words, 88, initial_indent=indent, subsequent_indent=f"{indent}  ")


def _block(title: str, found: Sequence[Comparison]) -> Iterator[str]:
    """Each comparison in full, under a title with their number."""
    yield from ("", f"{title}: {len(found) or 'nothing'}")
    for one in found:
        yield f"  {one.place}: {one.title}"
        for words in _in_full(one):
            yield from _told(words, "    ")


def _in_full(one: Comparison) -> Iterator[str]:
    yield f"then {_said(one.then, one.verdict_then)}; now {_said(one.now, one.verdict_now)}"
    if one.result == CANNOT:
        yield f"cannot be compared: {one.change.why}"
    elif one.change.u is not None:
        yield f"{_numbers(one)}; {_seen(one)}"
    elif one.change.why:
        yield f"{one.result}: {one.change.why}"
    yield from one.notes
    if one.handover is not None:
        yield f"at handover: {one.handover.words}"


def _said(words: str, verdict: str) -> str:
    """A reading or an answer with its verdict, each once."""
    if not words:
        return "not asked"
    return words if not verdict or words.startswith(verdict) else f"{words} ({verdict})"


def _numbers(one: Comparison) -> str:
    """The change with its uncertainty; first what was compared, where that is not as read."""
    words = f"{one.result} by {_signed(one)}, ±{_size(one, 2 * (one.change.u or 0.0))}"
    then, now = (_size(one, value or 0.0, 3) for value in (one.then_si, one.now_si))
    if one.how == "loop":
        return f"at 20 °C {then} then, {now} now: {words}"
    if one.how == "expectation":
        return f"{then} from the value expected then, {now} now: {words}"
    return words


def _seen(one: Comparison) -> str:
    """What a change would have had to be to show."""
    if one.change.seen is None:
        return one.change.why
    kind = {"earth": "rise", "insulation": "fall"}.get(one.how, "change")
    return f"a {kind} of {_size(one, one.change.seen)} or more would have shown"


def _size(one: Comparison, value_si: float, digits: int = 2) -> str:
    """A number for people in the unit of its step."""
    quantity: Quantity = one.quantity or "number"
    return show(value_si, one.unit, quantity, digits)


def _not_compared(found: Sequence[Comparison]) -> Iterator[str]:
    """Places by the reason why they cannot be compared."""
    yield from ("", f"Cannot be compared: {len(found) or 'nothing'}")
    for why in dict.fromkeys(one.change.why for one in found):
        yield from _told(why)
        for one in found:
            if one.change.why == why:
                yield f"    {one.place}: {one.title}"


def _unchanged(found: Sequence[Comparison]) -> Iterator[str]:
    """Readings and worst sets one by one, place by place; of what was only seen, the number."""
    yield from ("", f"Unchanged: {len(found) or 'nothing'}")
    read = [one for one in found if one.how not in ("verdict", "worst set")]
    rows: list[tuple[str, ...]] = [("", "then", "now", "change", "would have shown")]
    for place in dict.fromkeys(one.place for one in read):
        rows.append((f"  {place}", "", "", "", ""))
        rows += [_row(one) for one in read if one.place == place]
    if read:
        yield table(rows, right=(1, 2, 3, 4))
    for one in found:
        if one.how == "worst set":
            yield from _told(f"{one.place}, worst set: then {one.then}; now {one.now}")
    seen = sum(one.how == "verdict" for one in found)
    if seen:
        yield f"  {seen} answers with the verdict that they had then"


def _row(one: Comparison) -> tuple[str, ...]:
    """A reading that did not change, on one line."""
    name = f"    {one.title}"
    if one.change.value is None or one.change.seen is None:
        return (
            name,
            one.then,
            one.now,
            "none seen",
            one.change.why.partition(":")[2].strip() or "-",
        )
    sign = {"earth": "+", "insulation": "-"}.get(one.how, "±")
    return (name, one.then, one.now, _signed(one), f"{sign}{_size(one, one.change.seen)}")


def _signed(one: Comparison) -> str:
    """The change with its sign, to the second digit of its own uncertainty."""
    change, u = one.change.value or 0.0, one.change.u or 0.0
    if u:
        digit = 10.0 ** (floor(log10(2 * u)) - 1)
        change = round(change / digit) * digit
    return f"{'+' if change > 0 else ''}{_size(one, change)}"


def _listed(title: str, names: Sequence[str]) -> Iterator[str]:
    if names:
        yield from ("", f"{title}: {len(names)}", *(f"  {name}" for name in names))
