"""What a checklist must keep so that its safety order holds: clearing, reopening, switching."""

from __future__ import annotations

from collections.abc import Iterator

from commission.checklist.finding import ALL, Finding, Index, One
from commission.checklist.schema import ENCLOSING
from commission.problems import nearest


def check_clearing(one: One) -> Iterator[Finding]:
    item, items = one.item, one.index.items
    if item.clears:
        if one.needs != "off":
            yield one.finding(
                "clears", "what clears the supply is done while it is isolated", 'needs = "off"'
            )
        if not item.required:
            yield one.finding("required", "what clears the supply is always required")
    elif item.reopened_by:
        yield one.finding(
            "reopened_by", "only an item that clears can be reopened", "clears = true"
        )
    for place, name in enumerate(item.reopened_by):
        other = items.get(name)
        if other is None or name == item.id:
            why = "is this item itself" if other else "is no item of this checklist"
            near = "" if other else nearest(name, items)
            yield one.finding("reopened_by", f"'{name}' {why}", near, place, rests_on=name)
            continue
        scopes = {one.scope, other.scope}
        if not any(scopes <= {scope, *wider} for scope, wider in ENCLOSING.items()):
            yield one.finding(
                "reopened_by",
                f"'{name}' is asked for each '{other.scope}', this item for each '{one.scope}': "
                "they never meet",
                "",
                place,
            )
        if other.needs != "off":
            yield one.finding(
                "reopened_by",
                f"'{name}' could be answered with the supply on and undo this item then",
                f"give '{name}' needs = \"off\"",
                place,
            )


def check_supply(index: Index) -> Iterator[Finding]:
    """The steps that switch the supply: one each way, isolating first, and there when needed."""
    switches: dict[str, list[One]] = {"on": [], "off": []}
    for one in index.items.values():
        if one.item.supply is not None:
            switches[one.item.supply].append(one)
            yield from _check_switch(one)
    for state, found in switches.items():
        for one in found[1:]:
            yield one.finding("supply", f"'{found[0].item.id}' switches the supply {state} already")
    on, off = switches["on"], switches["off"]
    if on and not off:
        yield on[0].finding(
            "supply", "no item isolates the supply", 'add one with supply = "off"', rests_on=ALL
        )
    if on and off and on[0].where < off[0].where:
        yield on[0].finding("supply", f"isolating ('{off[0].item.id}') comes first in the list")
    for one in index.items.values():
        if one.needs in ("on", "off") and not switches[one.needs] and not one.item.supply:
            yield one.finding(
                "needs",
                f"it needs the supply {one.needs}, and no item says that it is",
                f'add one with supply = "{one.needs}"',
                rests_on=ALL,
            )
            return


def _check_switch(one: One) -> Iterator[Finding]:
    if one.scope not in ("job", "controller"):
        yield one.finding("each", "the supply is switched once, for the whole controller")
    if one.item.answer != "confirm":
        yield one.finding("answer", "switching the supply is confirmed", 'answer = "confirm"')
    if one.item.needs is not None or one.item.clears:
        yield one.finding("supply", "a step that switches the supply has no needs and no clears")
