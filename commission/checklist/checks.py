"""What a checklist must keep beyond its form: references, places, units, words."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import get_args

from commission.checklist.checks_supply import check_clearing, check_supply
from commission.checklist.finding import Finding, Index, One, Where
from commission.checklist.schema import (
    ENCLOSING,
    Checklist,
    Comparison,
    Condition,
    JobKind,
    Scope,
    Stage,
)
from commission.checklist.words import PLACEHOLDERS, from_scope, placeholders
from commission.problems import nearest
from commission.units import Quantity, si_per_unit

WITH_CHOICES = ("choose", "observe")


@dataclass(frozen=True, slots=True)
class Compared:
    """What a comparison is with: its quantity, and the things for which it is known."""

    quantity: Quantity
    scopes: frozenset[Scope]


_ANY, _PATH, _BOX = from_scope("job"), from_scope("path"), from_scope("box")
_ENDS: frozenset[Scope] = frozenset({"end", "box"})
_STATION: frozenset[Scope] = frozenset({"station"})
_TOGETHER: frozenset[Scope] = frozenset({"worst-set"})
COMPARED: dict[Comparison, Compared] = {
    "earth-resistance": Compared("resistance", _ANY),
    "fall-of-potential": Compared("resistance", _ANY),
    "probe-distance": Compared("length", _ANY),
    "slope-20": Compared("resistance", _ANY),
    "slope-40": Compared("resistance", _ANY),
    "slope-60": Compared("resistance", _ANY),
    "earth-clamp": Compared("resistance", _ANY),
    "soil-temperature": Compared("temperature", _ANY),
    "air-temperature": Compared("temperature", _ANY),
    "earthing-conductor": Compared("resistance", _ANY),
    "insulation": Compared("resistance", _ANY),
    "dead-voltage": Compared("voltage", _ANY),
    "unbridged-resistance": Compared("resistance", _ANY),
    "leak-resistance": Compared("resistance", _ANY),
    "loop-resistance": Compared("resistance", _ENDS),
    "loop-reversed": Compared("resistance", _ENDS),
    "mains-voltage": Compared("voltage", _ANY),
    "output-voltage": Compared("voltage", from_scope("output")),
    "standby-current": Compared("current", _PATH),
    "first-volts-to-earth": Compared("voltage", _PATH),
    "second-volts-to-earth": Compared("voltage", _PATH),
    "end-voltage": Compared("voltage", _BOX),
    "station-current": Compared("current", _STATION),
    "station-voltage": Compared("voltage", _STATION),
    "together-voltage": Compared("voltage", _TOGETHER),
    "together-current": Compared("current", _TOGETHER),
    "together-output-voltage": Compared("voltage", _TOGETHER),
    "closing-time": Compared("time", _ANY),
}


def _check_stage(where: Where, stage: Stage) -> Iterator[Finding]:
    for key, text in (("title", stage.title), ("about", stage.about)):
        if any(True for _ in placeholders(text)):
            yield Finding((*where, key), "braces are filled in only in an item's own words")
    if stage.hold_point and not any(item.required for item in stage.item):
        yield Finding((*where, "hold_point"), "a hold point without a required item holds nothing")


def _check_scope(one: One) -> Iterator[Finding]:
    inside = from_scope(one.stage.each)
    if one.scope not in inside:
        yield one.finding(
            "each",
            f"a '{one.scope}' is no part of a '{one.stage.each}', for which the stage is repeated",
            f"valid here: {', '.join(sorted(inside))}",
        )
    if one.item.sign is not None and one.scope != "station":
        yield one.finding("sign", "only an item repeated for each 'station' is a sign of one")
    if one.item.bundle and one.scope != "path":
        yield one.finding("bundle", "only an item repeated for each 'path' is followed by a survey")


def _check_answer(one: One) -> Iterator[Finding]:
    item = one.item
    if item.answer in WITH_CHOICES:
        says = [choice.say for choice in item.choice]
        if len(says) < 2:
            yield one.finding("choice", f"'{item.answer}' needs at least two choices")
        for place, say in enumerate(says):
            if say in says[:place]:
                yield one.finding("choice", f"'{say}' is offered twice", "", place, "say")
            if any(True for _ in placeholders(say)):
                yield one.finding("choice", "braces are not filled in here", "", place, "say")
    elif item.choice:
        yield one.finding("choice", f"'{item.answer}' has no choices", 'use answer = "choose"')
    if item.offers == "sample" and not _is_of_a_sample(one):
        words = "a sample is proposed for a text of the job, or a choice at a box, end or station"
        yield one.finding("offers", words)
    if item.offers == "additions" and not (
        item.answer == "choose" and one.scope in ("path", "box", "station")
    ):
        yield one.finding("offers", "additions are proposed for a choice at a path, box or station")


def _is_of_a_sample(one: One) -> bool:
    if one.item.answer == "text":
        return one.scope == "job"
    return one.item.answer == "choose" and one.scope in ("box", "end", "station")


def _check_measure(one: One) -> Iterator[Finding]:
    item = one.item
    if item.answer != "measure":
        for key in ("quantity", "unit", "unit_us", "compare"):
            if getattr(item, key):
                yield one.finding(key, f"'{item.answer}' reads no meter", 'use answer = "measure"')
        return
    if item.quantity is None:
        yield one.finding("quantity", "a reading needs its quantity")
        return
    for key, unit in (("unit", item.unit), ("unit_us", item.unit_us)):
        if key == "unit_us" and not unit:
            continue
        try:
            si_per_unit(unit, item.quantity)
        except ValueError as error:
            yield one.finding(key, str(error))
    yield from _check_compare(one, item.quantity)


def _check_compare(one: One, quantity: Quantity) -> Iterator[Finding]:
    name = one.item.compare
    if name is None:
        return
    compared = COMPARED[name]
    if quantity != compared.quantity:
        yield one.finding(
            "compare", f"'{name}' is a {compared.quantity}; this item reads a {quantity}"
        )
    if one.scope not in compared.scopes:
        yield one.finding(
            "compare",
            f"'{name}' is not known for each '{one.scope}'",
            f"known for each: {', '.join(sorted(compared.scopes))}",
        )


def _check_words(one: One) -> Iterator[Finding]:
    item = one.item
    for key in ("title", "ask", "why"):
        for message, remedy in _wrong_names(getattr(item, key), one.scope):
            yield one.finding(key, message, remedy)
    for place, name in enumerate(item.caution):
        words = one.index.cautions.get(name)
        if words is None:
            yield one.finding(
                "caution", f"no caution '{name}'", nearest(name, one.index.cautions), place
            )
            continue
        for message, remedy in _wrong_names(words, one.scope):
            yield one.finding("caution", f"caution '{name}': {message}", remedy, place)


def _wrong_names(text: str, scope: Scope) -> Iterator[tuple[str, str]]:
    for name in placeholders(text):
        known = PLACEHOLDERS.get(name)
        if name in "{}" and name:
            yield f"a '{name}' stands alone", "write a placeholder as {name}"
        elif known is None:
            here = [other for other, one in PLACEHOLDERS.items() if scope in one.scopes]
            yield f"'{{{name}}}' is not known", nearest(name, here)
        elif scope not in known.scopes:
            yield (
                f"'{{{name}}}' ({known.meaning}) has no value for each '{scope}'",
                f"it has one for each: {', '.join(sorted(known.scopes))}",
            )


def _check_when(one: One) -> Iterator[Finding]:
    for place, condition in enumerate(one.item.when):
        if (condition.fact is None) == (condition.answer is None):
            yield one.finding("when", "a condition names either a fact or an answer", "", place)
        elif condition.answer is not None:
            yield from _check_earlier(one, place, condition, condition.answer)
        elif condition.fact == "job.kind":
            for kind in condition.wanted:
                if kind not in get_args(JobKind):
                    yield one.finding(
                        "when", f"'{kind}' is no kind of job", nearest(kind, get_args(JobKind)),
                        place, "is",
                    )  # fmt: skip
        elif not isinstance(condition.equals, bool):
            yield one.finding("when", "a fact is true or false", "is = true", place, "is")


def _check_earlier(one: One, place: int, condition: Condition, name: str) -> Iterator[Finding]:
    items = one.index.items
    earlier = {key: other for key, other in items.items() if other.where < one.where}
    other = earlier.get(name)
    if other is None:
        why = "comes later in the list" if name in items else "is no item of this checklist"
        yield one.finding(
            "when", f"'{name}' {why}", nearest(name, earlier), place, "answer", rests_on=name
        )
        return
    if other.scope != one.scope and other.scope not in ENCLOSING[one.scope]:
        yield one.finding(
            "when",
            f"'{name}' is asked for each '{other.scope}', this item for each '{one.scope}': "
            "which answer is meant cannot be told",
            f"valid: an item for each {', '.join((one.scope, *ENCLOSING[one.scope]))}",
            place,
            "answer",
        )
    says = [choice.say for choice in other.item.choice]
    if other.item.answer == "confirm":
        if not isinstance(condition.equals, bool):
            yield one.finding("when", f"'{name}' is answered yes or no", "is = true", place, "is")
    elif not says:
        yield one.finding(
            "when", f"'{name}' has no choices to tell apart", "name an item with choices",
            place, "answer",
        )  # fmt: skip
    elif isinstance(condition.equals, bool):
        yield one.finding(
            "when", f"'{name}' is answered with a choice", nearest("", says), place, "is"
        )
    else:
        for wanted in condition.wanted:
            if wanted not in says:
                yield one.finding(
                    "when", f"'{wanted}' is no choice of '{name}'", nearest(wanted, says),
                    place, "is",
                )  # fmt: skip


_RULES = (
    _check_scope,
    _check_answer,
    _check_measure,
    _check_words,
    _check_when,
    check_clearing,
)


def check(checklist: Checklist) -> Iterator[Finding]:
    """Everything wrong in a checklist whose form is right, in the order of the file."""
    index = Index(checklist)
    yield from index.repeated
    for number, stage in enumerate(checklist.stage):
        yield from _check_stage(("stage", number), stage)
        for place, item in enumerate(stage.item):
            one = One(("stage", number, "item", place), stage, item, index)
            for rule in _RULES:
                yield from rule(one)
    yield from check_supply(index)
