"""A profile of an output drawn: voltage against distance, expected, at the worst, and as read."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from typing import Final

from commission.printing.page import Html
from commission.printing.svg import Scale, around, drawing, line, polygon, shape, words_at
from commission.profile import Measured, Profile
from commission.units import in_unit
from commission.verdict.judge import PASS

_WIDTH, _HEIGHT = 560, 250
_LEFT, _RIGHT, _TOP, _BOTTOM = 38, 548, 12, 214
Place = tuple[float, float, float]  # of words: their start, their end, and their foot
_LETTER, _LINE = 4.6, 9.0  # width of a small bold letter, and height of a line, roughly
_BESIDE: Final = (-5, 11, -14, 20, -23, 29, -32, 38)  # up and down from a reading
_ALL_TOLD: Final = 3  # of more readings than these, only those that are no pass are told in words


def profile_drawing(profile: Profile, unit: str) -> Html:
    """The profile drawn; distances in `unit`."""
    low_v, high_v = around(_volts(profile), 1.0)
    farthest = in_unit(max(point.distance_m for point in profile.points), unit, "length")
    across = Scale(0.0, farthest * 1.04 or 1.0, _LEFT, _RIGHT)
    up = Scale(low_v, high_v, _BOTTOM, _TOP)

    def x(metres: float) -> float:
        return across.at(in_unit(metres, unit, "length"))

    shapes = [*_axes(across, up, unit), *_cables(profile, x, up)]
    if profile.min_v is not None:
        shapes += _minimum(profile.min_v, up)
    for one in profile.measured:
        shapes += _reading(x(one.distance_m), up, one)
    shapes += [*_told(profile, x, up), *_key(profile)]
    runs = "worst set" if profile.running else "nothing"
    words = f"voltage against distance, output {profile.output}, {runs} running"
    return drawing(_WIDTH, _HEIGHT, words, *shapes)


def _volts(profile: Profile) -> list[float]:
    """Every voltage that is drawn."""
    found = [v for p in profile.points for v in (p.low_v, p.high_v, p.worst_v) if v is not None]
    found += [v for one in profile.measured for v in (one.volts, *(one.range_then or ()))]
    return found if profile.min_v is None else [*found, profile.min_v]


def _cables(profile: Profile, x: Callable[[float], float], up: Scale) -> Iterator[Html]:
    """The bands of what is expected below all lines."""
    legs = [(near, far, x(near.distance_m), x(far.distance_m)) for near, far in profile.legs()]
    for near, far, a, b in legs:
        corners = [
            (a, up.at(near.low_v)), (b, up.at(far.low_v)),
            (b, up.at(far.high_v)), (a, up.at(near.high_v)),
        ]  # fmt: skip
        yield polygon(corners, "band")
    for near, far, a, b in legs:
        yield line(a, up.at(near.expected_v), b, up.at(far.expected_v))
        if near.worst_v is not None and far.worst_v is not None:
            yield line(a, up.at(near.worst_v), b, up.at(far.worst_v), "dashed")


def _minimum(min_v: float, up: Scale) -> Iterator[Html]:
    level = up.at(min_v)
    yield line(_LEFT, level, _RIGHT, level, "limit")
    yield words_at(_RIGHT, level - 3, _least(min_v), "small", "end")


def _least(min_v: float) -> str:
    return f"minimum of the solenoid {min_v:g} V"


def _axes(across: Scale, up: Scale, unit: str) -> Iterator[Html]:
    for number in up.ticks():
        yield line(_LEFT, up.at(number), _RIGHT, up.at(number), "thin")
        yield words_at(_LEFT - 4, up.at(number) + 3, f"{number:g} V", "small", "end")
    for number in across.ticks(8):
        yield line(across.at(number), _BOTTOM, across.at(number), _BOTTOM + 3)
        words = f"{number:g} {unit}"
        yield words_at(across.at(number), _BOTTOM + 12, words, "small", "middle")
    yield line(_LEFT, _BOTTOM, _RIGHT, _BOTTOM)
    yield line(_LEFT, _TOP, _LEFT, _BOTTOM)


def _reading(x: float, up: Scale, one: Measured) -> Iterator[Html]:
    """A reading with the meter's own error as a bar.

    Behind it what it was compared with, where that is not what the band shows.
    """
    if one.range_then:
        low, high = (up.at(volts) for volts in one.range_then)
        yield shape("rect", kind="paper", x=x - 3, y=high, width=6, height=low - high)
    y = up.at(one.volts)
    top, bottom = up.at(one.volts + one.error_v), up.at(one.volts - one.error_v)
    yield line(x, top, x, bottom)
    yield shape("circle", kind="ink reading", cx=x, cy=y, r=3)


def _told(profile: Profile, x: Callable[[float], float], up: Scale) -> Iterator[Html]:
    """Readings in words, above or below where they lie: in the first place that is free."""
    taken: list[Place] = []
    if profile.min_v is not None:
        width = _LETTER * len(_least(profile.min_v))
        taken.append((_RIGHT - width, _RIGHT, up.at(profile.min_v) - 3))
    for one in profile.measured:
        if one.verdict == PASS and len(profile.measured) > _ALL_TOLD:
            continue
        words, at, y = f"{one.volts:.1f} V {one.verdict}", x(one.distance_m), up.at(one.volts)
        width = _LETTER * len(words)
        start = at + 5 if at < (_LEFT + _RIGHT) / 2 else at - 5 - width
        offered = [(start, start + width, y + beside) for beside in _BESIDE]
        inside = [place for place in offered if _TOP < place[2] < _BOTTOM]
        place = next((one for one in inside if not _over(one, taken)), offered[0])
        taken.append(place)
        anchor, edge = ("start", start) if start > at else ("end", start + width)
        yield words_at(edge, place[2], words, "small bold", anchor)


def _over(place: Place, taken: list[Place]) -> bool:
    """Whether words would stand over others."""
    start, end, y = place
    return any(start < b and a < end and abs(y - other) < _LINE for a, b, other in taken)


def _key(profile: Profile) -> Iterator[Html]:
    """What each line means."""
    y = _BOTTOM + 28
    yield shape("rect", kind="band", x=_LEFT, y=y - 7, width=18, height=8)
    yield line(_LEFT, y - 3, _LEFT + 18, y - 3)
    held = "expected, held, on the test day" if profile.running else "expected on the test day"
    yield words_at(_LEFT + 22, y, held, "small")
    if profile.running:
        yield line(190, y - 3, 212, y - 3, "dashed")
        yield words_at(216, y, "all in inrush, lowest mains, warmest soil", "small")
    if any(one.range_then for one in profile.measured):
        yield shape("rect", kind="paper", x=_LEFT + 6, y=y + 1, width=6, height=6)
        yield words_at(_LEFT + 22, y + 7, "expected at the mains or soil read then", "small")
    yield shape("circle", kind="ink", cx=396, cy=y - 3, r=3)
    yield words_at(403, y, "read, with the meter's own error", "small")
