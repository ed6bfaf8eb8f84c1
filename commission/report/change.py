"""Did it change? Two comparable values, what may differ without a fault, and what could be seen."""

from __future__ import annotations

from dataclasses import dataclass
from math import inf
from typing import Final, Literal

from commission.electrical.uncertainty import COVERAGE_FACTOR
from commission.report.comparable import Comparable, difference

Result = Literal["unchanged", "changed", "cannot be compared"]
UNCHANGED: Final = "unchanged"
CHANGED: Final = "changed"
CANNOT: Final = "cannot be compared"

SEASON_FACTOR: Final = 2.0
"""How far an earth may change with moisture and temperature alone (judgement).

Temperature alone makes 1.9: sandy loam with 15 % of water has 72 ohm m at 20 °C and 138 ohm m just
above freezing, 300 ohm m as ice (table printed in IEEE Std 142).
"""
WEATHER_FACTOR: Final = 4.0
"""The same for insulation: it halves for each 10 K (common practice), some 20 K (judgement)."""
MIN_SEEN_U: Final = COVERAGE_FACTOR + 1.645
"""Standard uncertainties of a change that shows 19 times of 20."""


@dataclass(frozen=True, slots=True)
class Change:
    """Whether a value changed. `value` is now less then, `u` its standard uncertainty, SI.

    `seen` is the smallest change that would have shown 19 times of 20: either way, or of the kind
    that matters where weather may do much (up for an earth, down for insulation). With readings
    that are only bounds the three are None, and `why` says what can be said.
    """

    result: Result
    why: str = ""
    value: float | None = None
    u: float | None = None
    seen: float | None = None


def changed_by(
    then: Comparable,
    now: Comparable,
    factor: float = 1.0,
    matters: Literal["rise", "fall"] = "rise",
) -> Change:
    """Compare two values of which either may be `factor` times the other without a fault.

    Beyond that |d| is judged against 2·√(u₁² + u₂²), what both share counted once (JCGM 100).
    """
    if then.relation != "=" or now.relation != "=":
        return _by_bounds(then, now, factor)
    change = difference(then, now)
    sign = 1 if change.value > 0 else -1
    beyond = difference(then.times(factor**sign), now)
    changed = sign * beyond.value > COVERAGE_FACTOR * beyond.u
    allowed = then.times(factor if matters == "rise" else 1 / factor)
    seen = abs(allowed.value - then.value) + MIN_SEEN_U * difference(allowed, now).u
    return Change(CHANGED if changed else UNCHANGED, "", change.value, change.u, seen)


_OVER = (">", "OL")


def _by_bounds(then: Comparable, now: Comparable, factor: float) -> Change:
    """Compare readings of which one at least only says that it lies above or below something."""
    if then.relation in _OVER and now.relation in _OVER:
        return Change(UNCHANGED, "above what the meter could show, then and now: only a fall")
    if then.relation == now.relation:
        return Change(UNCHANGED, "below what the meter could show, then and now: only a rise")
    if "OL" in (then.relation, now.relation):
        return Change(CANNOT, "over-range without a number: type what the meter reads up to")
    then_low, then_high = _span(then)
    now_low, now_high = _span(now)
    if now_low > then_high * factor:
        return Change(CHANGED, "it rose beyond what the earlier reading allows")
    if now_high * factor < then_low:
        return Change(CHANGED, "it fell below what the earlier reading allows")
    day = "then" if then.relation != "=" else "now"
    return Change(
        CANNOT, f"only a bound is known {day}, and the other reading does not rule it out"
    )


def _span(one: Comparable) -> tuple[float, float]:
    """Where the value may lie."""
    if one.relation == ">":
        return one.value, inf
    if one.relation == "<":
        return 0.0, one.value
    return one.value - COVERAGE_FACTOR * one.u, one.value + COVERAGE_FACTOR * one.u
